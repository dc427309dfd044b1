"""A tender's distance has a way: each way, there and back, out. Every wording against the test's own arithmetic."""

from __future__ import annotations

import itertools

import pytest

from grammar.commands import Context, Question, Shuttle, SupplyExpected
from grammar.reader import read

MILES = {"two miles": 2.0, "4 miles": 4.0, "1.5 miles": 1.5, "three miles": 3.0, "half a mile": 0.5, "6 miles": 6.0}
ONE_WAY = ("{} each way", "{} one way", "{} out", "{} away", "{}", "{} to the fill site")
BOTH_WAYS = ("{} round trip", "round trip {}", "{} there and back", "{} both ways", "{} roundtrip", "{} up and back")
ROUNDS = (
    "how many tenders for 500 gpm, 2000 gallons, {}, fill 4 minutes, dump 3 minutes",
    "tender shuttle, 2000 gallons, {}, fill 4, dump 3",
    "tanker shuttle 2000 gallon tanker, {}, fill time 4 minutes, dump time 3 minutes",
)
TABLE = [
    (round_.format(way.format(said)), miles, way in BOTH_WAYS)
    for round_, way, (said, miles) in itertools.product(ROUNDS, (*ONE_WAY, *BOTH_WAYS), MILES.items())
]


def test_every_wording_gives_the_miles_of_one_way() -> None:
    wrong, asked = [], []
    for said, miles, both in TABLE:
        commands = read(said, Context()).commands
        if not commands:
            asked.append(said)
            continue
        one = commands[0]
        way = (one.distance_mi or 0) / (2 if one.round_trip else 1) if isinstance(one, Shuttle) else None
        if len(commands) != 1 or way != (miles / 2 if both else miles) or one.cycle_min is not None:  # type: ignore[union-attr]
            wrong.append((said, commands))
    assert wrong == []
    assert len(asked) <= 0.03 * len(TABLE), asked


def test_minutes_of_a_round_trip_are_no_distance() -> None:
    shuttle = read("tender shuttle 2000 gallons 12 minute round trip", Context()).commands[0]
    assert isinstance(shuttle, Shuttle)
    assert (shuttle.cycle_min, shuttle.distance_mi, shuttle.round_trip) == (12, None, False)


def test_out_and_back_is_asked() -> None:
    question = read("tender shuttle 2000 gallons, 2 miles out and back, fill 4 dump 3", Context()).question
    assert isinstance(question, Question)
    assert [choice.label for choice in question.choices] == ["each way", "there and back"]
    assert [c.commands[0].round_trip for c in question.choices] == [False, True]  # type: ignore[union-attr]


@pytest.mark.parametrize("said", ["tender 6 is two miles out", "tanker 6 two miles out", "tender 6 is 4 miles away"])
def test_where_a_tender_is_says_no_minutes(said: str) -> None:
    assert read(said, Context(incident_open=True)).commands[0] == SupplyExpected(
        unit=" ".join(said.split()[:2]), kind="tender"
    )
