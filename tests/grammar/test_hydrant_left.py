"""Going off the hydrant ends the supply; only what went away or what others shut is a loss (hydrant_left.toml)."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from grammar.commands import WaterSource
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

SAID: dict[str, list[str]] = tomllib.loads(Path(__file__).with_name("hydrant_left.toml").read_text("utf-8"))
CASES = [(words, how) for how in ("meant", "unsaid", "lost") for words in SAID[how]]


@pytest.mark.parametrize("before", ["", "engine 12, ", "okay "])
@pytest.mark.parametrize(("words", "how"), CASES)
def test_how_the_hydrant_was_left(words: str, how: str, before: str) -> None:
    reading = read(before + words, contexts()["on_hydrant"])
    due = WaterSource("tank", lost=how == "lost", meant=how == "meant")
    assert reading.commands == (due,) or (not reading.commands and reading.question), reading


@pytest.mark.parametrize("words", SAID["stays"])
def test_what_is_asked_denied_or_to_come_changes_nothing(words: str) -> None:
    reading = read(words, contexts()["on_hydrant"])
    assert not any(isinstance(command, WaterSource) for command in reading.commands)


def test_most_is_taken_unasked() -> None:
    asked = [words for words, _ in CASES if not read(words, contexts()["on_hydrant"]).commands]
    assert len(asked) <= 1, asked
