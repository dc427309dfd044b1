"""What is said afterwards is laid over what was asked: that field and no other, or a question; never another number."""

from __future__ import annotations

import itertools
import os
import random

import pytest
from msgspec.structs import replace

from grammar.commands import Command, Context, Correction, LineOn, PumpPressure, Shuttle, SupplyPressure
from grammar.reader import read

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
PARTS = ("2500 gallon tenders", "two miles one way", "4 minutes to fill", "3 minutes to dump", "how many for 400 gpm")
WHOLE = Shuttle(tank_gal=2500, distance_mi=2, fill_min=4, dump_min=3, flow_gpm=400)


def test_parts_of_a_shuttle_in_any_order_are_one_question() -> None:
    orders = list(itertools.permutations(PARTS))
    if not FULL:
        orders = random.Random(7).sample(orders, 40)
    asked = []
    for order in orders:
        said = "tender shuttle, " + ", ".join(order)
        reading = read(said, Context())
        if not reading.commands:
            asked.append(said)
            continue
        assert len(reading.commands) == 1, (said, reading.commands)
        assert _no_other_number(reading.commands[0], WHOLE), (said, reading.commands)
    assert len(asked) <= 0.1 * len(orders), asked


def _no_other_number(one: Command, whole: Command) -> bool:
    """Every field that was told is the field it was said for."""
    told = [field for field in one.__struct_fields__ if getattr(one, field) not in (None, False, ())]
    return all(getattr(one, field) == getattr(whole, field) for field in told)


SUPPLY = read("supplying engine 9, 500 feet of 5 inch, 1000 gpm", Context()).commands[0]
SHUTTLE = read("how many tenders for 500 gpm, 2000 gallons, two miles", Context()).commands[0]
LAY = read("two lines, 200 feet, 1.75", Context()).commands[0]
AFTER: list[tuple[Command, str, dict[str, object]]] = [
    (SUPPLY, "it's uphill about 60 feet", {"rise_ft": 60.0}),
    (SUPPLY, "it's 30 feet down", {"rise_ft": -30.0}),
    (SUPPLY, "they're only flowing 500 right now", {"flow_gpm": 500.0}),
    (SUPPLY, "what if they go to 1200", {"flow_gpm": 1200.0}),
    (SUPPLY, "and at 1500?", {"flow_gpm": 1500.0}),
    (SHUTTLE, "what if they're 3 miles out", {"distance_mi": 3.0}),
    (SHUTTLE, "and for 300 gpm", {"flow_gpm": 300.0}),
    (SHUTTLE, "fill takes 4 minutes, dump takes 3 minutes", {"fill_min": 4.0, "dump_min": 3.0}),
]


@pytest.mark.parametrize(("last", "said", "fields"), AFTER, ids=[said for _, said, _ in AFTER])
def test_a_follow_up_changes_its_field_alone(last: Command, said: str, fields: dict[str, object]) -> None:
    reading = read(said, Context(last=(last,), role="driver", incident_open=True))
    assert reading.commands == (replace(last, **fields),)


@pytest.mark.parametrize("length", [100, 150, 250, 300, 350])
@pytest.mark.parametrize("said", ["it's {} feet, not 200", "{} feet, not 200", "that's {} feet not 200"])
@pytest.mark.parametrize("charged", [False, True])
def test_what_is_put_right_with_not(length: int, said: str, charged: bool) -> None:
    assert isinstance(LAY, PumpPressure)
    last = LineOn(lay=LAY.lays[0]) if charged else LAY
    reading = read(said.format(length), Context(last=(last,), role="driver", incident_open=True))
    if reading.commands:
        (put_right,) = reading.commands
        assert isinstance(put_right, Correction)
        (amended,) = put_right.amended
        lay = amended.lay if isinstance(amended, LineOn) else amended.lays[0]  # type: ignore[union-attr]
        assert lay is not None
        assert [hose.length_ft for hose in lay.lines[0].hose] == [length]


def test_a_number_beside_a_name_never_goes_to_another_field() -> None:
    """ "Dump takes 3" after a shuttle of two miles: three minutes, or a question, never three miles."""
    for said in ("dump takes 3", "fill takes 4, dump takes 3", "dump 3", "fill 4"):
        for command in read(said, Context(last=(SHUTTLE,), role="driver", incident_open=True)).commands:
            assert isinstance(command, Shuttle)
            assert command.distance_mi in (None, 2.0), said
            assert command.flow_gpm in (None, 500.0), said
            assert command.tank_gal in (None, 2000.0), said


def test_supply_is_the_one_that_was_asked() -> None:
    assert isinstance(SUPPLY, SupplyPressure)
    assert (SUPPLY.to_unit, SUPPLY.flow_gpm) == ("engine 9", 1000.0)
