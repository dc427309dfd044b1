"""Law: a number is one number. "Five hundred feet" is never 5 × 100, unless a pause or "each" says so."""

from __future__ import annotations

import os
from collections import Counter

import pytest

from grammar.commands import Context, PumpPressure
from grammar.reader import read
from tests.grammar.corpus.loader import contexts
from tests.laws.spoken_numbers import as_said, sentences

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
MOST_ASKED = 0.01


def test_a_number_is_one_number() -> None:
    counts, wrong = Counter[str](), []
    for said in list(sentences())[:: 1 if FULL else 7]:
        reading = read(said.text, contexts()["fire"])
        verdict = "asked" if not reading.commands else "right" if as_said(said, reading.commands) else "wrong"
        counts[verdict] += 1
        if verdict == "wrong":
            wrong.append(f"{said.text}: {reading.commands}")
    assert not wrong, "\n".join(wrong)
    assert counts["asked"] <= MOST_ASKED * sum(counts.values()), counts


@pytest.mark.parametrize(
    ("said", "count", "feet"),
    [
        ("two lines, hundred foot, inch and three quarter", 2, 100),
        ("two 150 foot lines of 1.75", 2, 150),
        ("two lines of 1.75, two hundred feet each", 2, 200),
    ],
)
def test_a_pause_or_each_counts(said: str, count: int, feet: int) -> None:
    reading = read(said, Context())
    command = reading.commands[0]
    assert isinstance(command, PumpPressure)
    line = command.lays[0].lines[0]
    assert (line.count, line.hose[0].length_ft) == (count, feet)


@pytest.mark.parametrize(
    ("said", "count", "feet", "whole"),
    [
        ("two hundred-foot bundles of 2.5", 2, 100, 200),
        ("two fifty-foot lines of 1.75", 2, 50, 250),
        ("two fifty foot lines of 1.75", 2, 50, 250),
        ("three hundred foot lines of 1.75 each", 3, 100, 300),
    ],
)
def test_what_may_part_a_number_is_asked(said: str, count: int, feet: int, whole: int) -> None:
    question = read(said, Context()).question
    assert question is not None
    ways = []
    for choice in question.choices:
        (command,) = choice.commands
        assert isinstance(command, PumpPressure)
        (line,) = command.lays[0].lines
        ways.append((line.count, line.hose[0].length_ft))
    assert ways == [(count, feet), (1, whole)]


@pytest.mark.parametrize(
    ("said", "feet"), [("two hundred foot lines of 1.75", 200), ("three hundred foot 2.5 lines", 300)]
)
def test_lines_that_were_not_counted_are_one_of_that_length_and_told_so(said: str, feet: int) -> None:
    reading = read(said, Context())
    (command,) = reading.commands
    assert isinstance(command, PumpPressure)
    (line,) = command.lays[0].lines
    assert (line.count, line.hose[0].length_ft) == (1, feet)
    assert f"one line of {feet} ft" in reading.assumed
