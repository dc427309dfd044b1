"""Country houses on people and reports: PARs in a list, bare minutes, who else is wanted, questions passed on."""

from __future__ import annotations

from itertools import pairwise, product

import pytest

from grammar.commands import Benchmark, Par, Report, Status, Timer
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

OFFICER = contexts()["officer"]
UNITS = ("engine 12", "tanker 3", "squad 6", "ladder 2")
COUNTS = (("three", 3), ("2", 2), ("four", 4))
WANTED = ("another tanker", "two more engines", "an ambulance", "the power company", "the sheriff", "a tow truck")


@pytest.mark.parametrize("way", ["par, {a} {n} and {b} {m}", "par {a} {n}, {b} {m}", "par for {a} is {n} and {b} {m}"])
def test_pars_listed_one_after_the_other_are_each_companys(way: str) -> None:
    for (a, b), (n, m) in product(pairwise(UNITS), product(COUNTS, COUNTS)):
        said = way.format(a=a, b=b, n=n[0], m=m[0])
        told = {c.unit: c.count for c in read(said, OFFICER).commands if isinstance(c, Par)}
        assert told == {a: n[1], b: m[1]}, said


@pytest.mark.parametrize("opening", ["remind me in", "ping us in", "holler at us in", "set a timer for"])
def test_minutes_without_a_unit_are_minutes_only_right_behind_in_or_for(opening: str) -> None:
    for said, minutes in (("ten", 10), ("5", 5), ("fifteen", 15)):
        (timer,) = read(f"{opening} {said} to check the roof", OFFICER).commands
        assert timer == Timer(minutes, "check the roof")


@pytest.mark.parametrize("order", ["start me", "send me", "get me", "need", "we need", "request", "call for"])
def test_who_else_is_wanted_is_kept_as_said_and_starts_no_clock(order: str) -> None:
    for wanted in WANTED:
        reading = read(f"{order} {wanted}", OFFICER)
        offered = reading.question.choices if reading.question is not None else ()
        commands = (*reading.commands, *(c for choice in offered for c in choice.commands))
        assert all(isinstance(c, Report) and c.kind == "note" for c in commands), (order, wanted, commands)


@pytest.mark.parametrize("whose", ["chief wants to know", "county wants to know", "battalion 1 is asking"])
def test_a_question_that_is_passed_on_stamps_nothing(whose: str) -> None:
    for asked in ("is the primary complete", "is the fire under control", "do we have water on the fire"):
        commands = read(f"{whose} {asked}", OFFICER).commands
        assert not any(isinstance(c, Benchmark) for c in commands), (whose, asked)
        assert not commands or isinstance(commands[0], Status), (whose, asked)
