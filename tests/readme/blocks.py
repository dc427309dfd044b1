"""The parts of the README that the program itself makes; each stands between two marks and is checked by a test."""

from __future__ import annotations

import io
from pathlib import Path

from bot.drill import play_file
from bot.settings import load
from grammar.vocabulary import vocabulary
from tests.readme import lays

README = Path(__file__).parents[2] / "README.md"
SCRIPT = Path(__file__).with_name("session.drill")
LEFT_OUT = ("Demonstration rig:", "An aid only:")


def session() -> str:
    """A short real session, as `crosslay drill` plays it (lines that stand under every reply of this rig left out)."""
    out = io.StringIO()
    play_file(load(), str(SCRIPT), start="2026-03-07T14:00:00Z", until="17:00", as_json=False, out=out)
    lines = [line for line in out.getvalue().splitlines() if not line.strip().startswith(LEFT_OUT)]
    return "\n".join(["```", *lines, "```"])


def said() -> str:
    """What can be said, by topic, from the vocabulary."""
    rows = ["| topic (`help` + its name) | for example |", "| --- | --- |"]
    for topic in vocabulary().topics:
        examples = " · ".join(topic.examples).format(line="crosslay 1", unit="engine 12")
        rows.append(f"| **{topic.name}**: {topic.about} | {examples} |")
    return "\n".join(rows)


BLOCKS = {"session": session, "said": said, "lays": lays.rows}


def marks(name: str) -> tuple[str, str]:
    return f"<!-- {name}: python -m tests.readme -->", f"<!-- end of {name} -->"


def put(text: str, name: str, content: str) -> str:
    """The README's text with one block replaced."""
    begin, end = marks(name)
    before, rest = text.split(begin)
    after = rest.split(end)[1]
    return f"{before}{begin}\n{content}\n{end}{after}"


def renewed(text: str) -> str:
    """The README's text with every block as the program makes it now."""
    for name, make in BLOCKS.items():
        text = put(text, name, make())
    return text
