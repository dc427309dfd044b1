"""The parts of the README and of DEVELOPERS.md that the program itself makes; a test holds them to it."""

from __future__ import annotations

import io
from pathlib import Path

from bot.commands.drill import play_file
from bot.commands.schema import schema
from bot.settings import load
from grammar.helping import examples
from grammar.vocabulary import vocabulary
from tests.readme import lays

README = Path(__file__).parents[2] / "README.md"
DEVELOPERS = README.with_name("DEVELOPERS.md")
SCRIPT = Path(__file__).with_name("session.drill")
ENVELOPE = ("CommandAnswered", "MessageAnswered", "QuestionAsked")
FIRST = ("pressure", "lines", "tank", "hydrant", "benchmark", "air", "mayday", "correct")
"""Topics that the README shows; the help names them all."""
LEFT_OUT = ("Demonstration rig:", "An aid only:")


def session() -> str:
    """A short real session, as `crosslay drill` plays it (lines that stand under every reply of this rig left out)."""
    out = io.StringIO()
    play_file(load(), str(SCRIPT), start="2026-03-07T14:00:00Z", until="17:00", as_json=False, out=out)
    lines = [line for line in out.getvalue().splitlines() if not line.strip().startswith(LEFT_OUT)]
    return "\n".join(["```", *lines, "```"])


def said() -> str:
    """What can be said of the first things, from the declared language."""
    rows = ["| topic (`help` + its name) | for example |", "| --- | --- |"]
    for topic in (topic for topic in vocabulary().topics if topic.name in FIRST):
        said = " · ".join(examples(topic.name)).format(line="crosslay 1", unit="engine 12")
        rows.append(f"| **{topic.name}**: {topic.about} | {said} |")
    return "\n".join(rows)


def answers() -> str:
    """The keys of every typed answer, from the JSON Schema (`crosslay ask --schema`)."""
    rows = ["| answer | keys |", "| --- | --- |"]
    kinds = [kind for name, kind in schema()["$defs"].items() if name not in ENVELOPE]
    for kind in sorted(kinds, key=lambda kind: str(kind["description"])):
        keys = ", ".join(f"`{key}`" for key in kind["properties"])
        about = " ".join(kind["description"].split("\n\n")[0].split()).removeprefix("Answer of ")
        if keys:
            rows.append(f"| {about} | {keys} |")
    return "\n".join(rows)


BLOCKS = {
    "session": (README, session),
    "said": (README, said),
    "lays": (DEVELOPERS, lays.rows),
    "answers": (DEVELOPERS, answers),
}


def marks(name: str) -> tuple[str, str]:
    return f"<!-- {name}: python -m tests.readme -->", f"<!-- end of {name} -->"


def put(text: str, name: str, content: str) -> str:
    """The README's text with one block replaced."""
    begin, end = marks(name)
    before, rest = text.split(begin)
    after = rest.split(end)[1]
    return f"{before}{begin}\n{content}\n{end}{after}"


def renew() -> None:
    """Put every block into its page as the program makes it now."""
    for name, (page, make) in BLOCKS.items():
        page.write_text(put(page.read_text(encoding="utf-8"), name, make()), encoding="utf-8")
