"""An entry keeps its gauge, its count and its cylinder's rating, in whatever order they are said."""

from __future__ import annotations

from itertools import product

import pytest

from grammar.commands import AirReading, ComingOut, Entry, Exit
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

OFFICER, INSIDE = contexts()["officer"], contexts()["inside"]
WAYS = (
    "{unit} going in with {n}, {rating}, {gauge}",
    "{unit} going in with {n}, lowest gauge {gauge}, {rating}",
    "{unit} making entry with {n}, {rating}, lowest {gauge}",
    "{unit} entering, {n} people, {rating}, lowest air {gauge}",
)
RATINGS = {"{m} minute bottles": True, "{m} minute cylinders": True, "on {m} minute packs": True}


@pytest.mark.parametrize("way", WAYS)
def test_the_cylinders_rating_takes_nothing_from_the_gauge(way: str) -> None:
    lost = []
    for unit, gauge, minutes, rating in product(("engine 9", "truck 4"), (4500, 4200, 3900), (30, 45, 60), RATINGS):
        said = way.format(unit=unit, n=3, gauge=gauge, rating=rating.format(m=minutes))
        wanted = Entry(unit, 3, float(gauge), rated_min=float(minutes))
        if read(said, OFFICER).commands != (wanted,):
            lost.append(said)
    assert lost == []


@pytest.mark.parametrize(
    "said", ["engine 9 making entry, two of them, 4400 and 4200", "engine 9 going in with 2, 4200 and 4400"]
)
def test_the_lowest_of_the_gauges_rules(said: str) -> None:
    assert read(said, OFFICER).commands == (Entry("engine 9", 2, 4200.0),)


@pytest.mark.parametrize("low", ["with low air", "low on air", "with the bell ringing", "low air alarm"])
@pytest.mark.parametrize("way", ["coming out", "is coming out", "'s coming out", "backing out", "is out"])
def test_low_air_belongs_to_the_company_that_is_named(way: str, low: str) -> None:
    for unit in ("engine 9", "truck 4"):
        said = f"{unit}{way if way[0] == chr(39) else ' ' + way} {low}"
        commands = read(said, INSIDE).commands
        assert commands == (
            (Exit if way == "is out" else ComingOut)(unit),
            AirReading(None, unit, low_air_alarm=True),
        ), said
