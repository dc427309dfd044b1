"""Nothing that counts is passed over: odd numbers, a negation, a hope, a question, what else was said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar import commands as c
from grammar.commands import Reading
from grammar.reader import Guess, read
from tests.grammar.corpus.loader import contexts

PLAIN, FIRE, OFFICER = (contexts()[name] for name in ("plain", "fire", "officer"))
LAYS = (
    "two lines 200 feet 1.75 second floor",
    "crosslay one third floor",
    "250 feet of 2.5 with inch and a quarter tip",
)
REPORTS = (
    "water on the fire",
    "primary complete",
    "under control",
    "knocked down",
    "utilities secured",
    "engine 9 on scene",
    "secondary all clear",
    "rit in place",
    "water supply established",
    "loss stopped",
)
NOT_YET = (
    "not {}",
    "almost {}",
    "waiting on {}",
    "stand by for {}",
    "is {}?",
    "should have {} soon",
    "{} in two minutes",
)
LOGGED = (
    c.Benchmark,
    c.LineOn,
    c.LineOff,
    c.WaterSource,
    c.Evacuate,
    c.Strategy,
    c.Emergency,
    c.Exit,
    c.Entry,
    c.Mayday,
)


def logged(reading: Reading) -> list[c.Command]:
    return [command for command in reading.commands if isinstance(command, LOGGED)]


@given(st.sampled_from(LAYS), st.integers(61, 9999).filter(lambda n: n % 5))
def test_a_number_that_fits_nowhere_is_asked_about_or_declined(lay: str, number: int) -> None:
    assert read(f"{lay} {number}", PLAIN).commands != read(lay, PLAIN).commands


@pytest.mark.parametrize("report", REPORTS)
@pytest.mark.parametrize("way", NOT_YET)
def test_what_is_denied_hoped_or_asked_is_not_logged(report: str, way: str) -> None:
    assert logged(read(report, OFFICER)) or read(report, OFFICER).question
    assert logged(read(way.format(report), OFFICER)) == []


@pytest.mark.parametrize(
    ("said", "intent"),
    [
        ("don't charge crosslay two", c.LineOn),
        ("crosslay two is ready to charge", c.LineOn),
        ("charging crosslay two in a minute", c.LineOn),
        ("is crosslay one charged", c.LineOn),
        ("engine 9 is coming out in 5", c.Exit),
        ("is engine 9 out", c.Exit),
        ("should we evacuate", c.Evacuate),
        ("everyone is out", c.Evacuate),
        ("are we going defensive", c.Strategy),
        ("possible collapse", c.Emergency),
        ("on the hydrant in two minutes", c.WaterSource),
    ],
)
def test_nothing_happens_by_the_words_alone(said: str, intent: type[c.Command]) -> None:
    assert not any(isinstance(command, intent) for command in read(said, FIRE).commands)


def test_a_bare_lay_starts_nothing_and_a_verb_does() -> None:
    assert [type(x) for x in read("crosslay one", PLAIN).commands] == [c.PumpPressure]
    assert [type(x) for x in read("charge crosslay one", PLAIN).commands] == [c.LineOn]


def test_a_message_may_hold_a_benchmark_and_the_source() -> None:
    commands = read("water supply established, on the hydrant", FIRE).commands
    assert [type(x) for x in commands] == [c.Benchmark, c.WaterSource]


def test_one_part_that_must_be_asked_does_not_hold_back_the_rest() -> None:
    reading = read("primary complete, static 70", OFFICER)
    assert c.Benchmark("primary_search_complete") in reading.commands


@pytest.mark.parametrize("way", ["minus {} feet of 1.75", "{} feet of 1.75 minus"])
def test_minus_is_refused(way: str) -> None:
    assert not read(way.format(200), PLAIN).commands


def test_a_size_nobody_has_is_asked_about_and_a_long_line_is_handed_on() -> None:
    assert read("200 feet of 2.25", PLAIN).question
    reading = read("4,000 ft of 1¾", PLAIN)
    assert reading.question or (isinstance(reading.commands[0], c.PumpPressure) and _feet(reading) == 4000)


def _feet(reading: Reading) -> float | None:
    (command,) = reading.commands
    assert isinstance(command, c.PumpPressure)
    return command.lays[0].lines[0].hose[0].length_ft


def test_a_recognisers_second_guess_counts_against_the_first() -> None:
    sure = read([Guess("two hundred feet of inch and three quarter second floor", 0.9)], PLAIN)
    unsure = read(
        [
            Guess("two hundred feet of inch and three quarter second floor", 0.5),
            Guess("two hundred feet of inch and three quarter seventh floor", 0.5),
        ],
        PLAIN,
    )
    assert sure.commands
    assert unsure.question is not None
    assert len(unsure.question.choices) > 2
