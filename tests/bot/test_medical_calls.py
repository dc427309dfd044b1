"""Medical calls from dispatch to hand-over, played through the shell; what a reply must hold stands in the script.

`#= ans A ; B|C ; !D` under a line: it is answered, the reply holds A, and B or C, and never D; `any`: the same without
an answer; `ask`: a question. Words in any case, a number stands alone.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from bot import cli

CALLS = sorted((Path(__file__).parent / "medical_calls").glob("*.drill"))


def expectations(path: Path) -> list[tuple[int, str, str, list[str]]]:
    """(second, words, kind, conditions) of every line of a script that has some."""
    found, at, words = [], 0, ""
    for line in path.read_text(encoding="utf-8").splitlines():
        said = re.match(r"(\d+):(\d\d) [^:]+: (.*)", line)
        if said:
            at, words = int(said[1]) * 60 + int(said[2]), said[3]
        elif line.startswith("#="):
            kind, _, rest = line[2:].strip().partition(" ")
            found.append((at, words, kind, [part.strip() for part in rest.split(" ; ") if part.strip()]))
    return found


def holds(condition: str, text: str) -> bool:
    def one(word: str) -> bool:
        before = r"(?<![\d.:])" if word[0].isdigit() else ""
        after = r"(?!\d)(?!\.\d)" if word[-1].isdigit() else ""
        return re.search(before + re.escape(word) + after, text) is not None

    return any(one(word.strip().casefold()) for word in condition.split("|") if word.strip())


@pytest.mark.parametrize("path", CALLS, ids=[path.stem for path in CALLS])
def test_a_call_is_taken_as_it_is_spoken(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "UTC")
    assert cli.run(["drill", str(path), "--json"]) == 0
    told: list[dict[str, Any]] = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    for at, words, kind, conditions in expectations(path):
        replies = [one for one in told if one["t_s"] == at and one["kind"] == "reply"]
        text = "\n".join(one["text"] + "\n" + (one.get("details") or "") for one in replies).casefold()
        if kind == "ans":
            assert any(one["answer"] for one in replies), (words, text)
        for condition in conditions:
            if condition == "!declined":
                assert replies, words
                assert "not understood" not in text, words
            elif condition.startswith("!"):
                assert not holds(condition[1:], text), (words, condition, text)
            else:
                assert holds(condition, text), (words, condition, text)


def test_there_are_calls() -> None:
    assert len(CALLS) >= 6
