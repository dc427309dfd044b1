"""A dispatch with or without a street word keeps nature, address and units apart."""

from __future__ import annotations

import tomllib
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import Benchmark, Dispatch, SaidTime
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

PLAIN = contexts()["plain"]
CASES = tomllib.loads(Path(__file__).with_name("dispatches.toml").read_text("utf-8"))["dispatch"]

NATURES = ("house fire", "commercial fire", "brush fire", "odor of gas", "crash with injuries", "difficulty breathing")
ADDRESSES = (
    "1200 Beacon Tower",
    "7 Gull Road",
    "Bayview Plaza",
    "400 Bayview Plaza",
    "Pier 4",
    "18 The Terrace",
    "route 9 exit 12",
)
UNITS = (("engine 12",), ("engine 12", "engine 9"), ("engine 12", "ladder 3", "battalion 2", "medic 5"))


def dispatched(said: str) -> Dispatch:
    command = read(f"dispatch: {said}", PLAIN).commands[0]
    assert isinstance(command, Dispatch)
    return command


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["say"]))
def test_the_parts_of_a_dispatch(case: dict[str, Any]) -> None:
    got = dispatched(case["say"])
    assert (got.nature, got.address, list(got.units)) == (case["nature"], case.get("address"), case["units"])


def test_nature_address_and_units_in_their_usual_order_are_kept_apart() -> None:
    for nature, address, units in product(NATURES, ADDRESSES, UNITS):
        got = dispatched(", ".join((nature, address, *units)))
        assert (got.nature, got.address, got.units) == (nature, address, units)


def test_a_report_of_ones_own_behind_the_dispatch_is_one() -> None:
    first, second = read("dispatch: house fire, 7 Gull Road, engine 12, engine 9. en route at 14:00", PLAIN).commands
    assert isinstance(first, Dispatch)
    assert first.time is None
    assert second == Benchmark("en_route", time=SaidTime(14, 0))


ADDRESSES = ("1200 Beacon Tower", "214 Harbor Street", "7 Gull Road", "Beacon Tower", "Cedar Hill Apartments")


@pytest.mark.parametrize("beside", ["", ", engine 12, ladder 3", ", structure fire, engine 12", ", medical, medic 5"])
def test_an_address_alone_is_asked_about_where_no_incident_is_open(beside: str) -> None:
    plain = contexts()["plain"]
    for address in ADDRESSES:
        question = read(f"{address}{beside}", plain).question
        assert question is not None, address
        (told,) = question.choices[0].commands
        assert isinstance(told, Dispatch)
        assert told.address == address
        assert read(f"{address}{beside}", contexts()["inside"]).commands == ()


def test_figures_of_the_pump_are_no_address() -> None:
    for said in ("200 feet of something", "150 Gpm", "the tower", "Water Tower is empty", "100 psi Drive"):
        assert read(said, contexts()["plain"]).intent != "dispatch", said
