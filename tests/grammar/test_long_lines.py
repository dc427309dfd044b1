"""The language's files read in a terminal: no line over 140 characters; the tool that wraps them changes nothing."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from grammar.lexicon import FOLDER
from grammar.patterns import wordings
from tests.grammar.long_lines import too_long, wrapped

FILES = sorted(
    (
        *FOLDER.glob("*.toml"),
        FOLDER.parent / "tales.toml",
        FOLDER.parent / "phrases.toml",
        *Path(__file__).parent.glob("language_es/**/*.toml"),
    )
)
LONG = 'a = ["x"]\nway = ["' + '", "'.join(f"(in | at | on) [the] street {n}" for n in range(9)) + '"]\n'


@pytest.mark.parametrize("path", FILES, ids=[path.name for path in FILES])
def test_no_line_is_too_long(path: Path) -> None:
    assert too_long(path) == [], "python -m tests.grammar.long_lines wraps them"


def test_wrapping_says_the_same() -> None:
    after = wrapped(LONG)
    assert max(map(len, after.splitlines())) <= 140
    assert tomllib.loads(after) == tomllib.loads(LONG)
    assert wrapped(after) == after


def test_a_wording_too_long_by_itself_is_said_in_two() -> None:
    said = "(" + " | ".join(f"way number {n}" for n in range(14)) + ") [of] it"
    after = tomllib.loads(wrapped(f'way = ["{said}"]'))["way"]
    assert len(after) == 2
    assert {w for one in after for w in wordings(one)} == {*wordings(said)}
