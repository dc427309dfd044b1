"""Needed fire flow by each method, by hand-worked numbers."""

from __future__ import annotations

from typing import Any

import pytest

from grammar.commands import NeededFlow
from handlers.events import IncidentOpened, NeededFlowSet
from tests.handlers.fireground import Fireground
from tests.handlers.pumping.asking import answer, ask


@pytest.mark.parametrize(
    ("said", "gpm", "method"),
    [
        ({"involved_percent": 25}, 125, "area_third"),  # 50 × 30 / 3 × 25 %
        ({}, 500, "area_third"),
        ({"floors": 2, "involved_percent": 50, "exposures": 2}, 750, "area_third"),  # 500 × 2 × 0.5 × 1.5
        ({"floors": 3, "floors_involved": 1}, 500, "area_third"),
        ({"height_ft": 12, "method": "volume_hundredth"}, 180, "volume_hundredth"),
        ({"floors": 2, "method": "volume_hundredth"}, 300, "volume_hundredth"),  # 10 ft a floor
        ({"method": "iso", "construction_class": 2}, 697.14, "iso"),  # 18 × √1500
        ({"method": "iso", "construction_class": 1, "exposures": 1}, 1202.56, "iso"),  # × 1.5 × 1.15
        ({"method": "iso", "construction_type": 3}, 697.14, "iso"),  # ordinary: the same as ISO class 2
        ({"method": "iso", "construction_type": 5}, 1045.71, "iso"),  # wood frame: ISO class 1, × 1.5
        ({"method": "iso", "construction_type": 1}, 418.28, "iso"),  # fire-resistive: ISO class 6, × 0.6
        ({"rural_supply": True, "hazard_class": 7, "construction_class": 1, "height_ft": 16}, 500, "rural_minimum"),
    ],
)
def test_needed_flow_of_fifty_by_thirty(said: dict[str, Any], gpm: float, method: str) -> None:
    ours = answer(NeededFlow(length_ft=50, width_ft=30, **said))
    assert (ours["needed_gpm"], ours["method"]) == (pytest.approx(gpm, abs=0.01), method)


@pytest.mark.parametrize(
    ("said", "gpm"),
    [
        ({"involved_percent": 25}, 125),  # 1,500 / 3 × 25 %
        ({"floors": 2, "involved_percent": 50, "exposures": 2}, 750),
        ({"method": "volume_hundredth", "height_ft": 12}, 180),  # 1,500 × 12 / 100
        ({"method": "iso", "construction_class": 2}, 697.14),  # 18 × √1500
    ],
)
def test_an_area_is_as_good_as_its_sides(said: dict[str, Any], gpm: float) -> None:
    by_area = answer(NeededFlow(area_ft2=1500, **said))
    assert by_area == answer(NeededFlow(length_ft=50, width_ft=30, **said))
    assert by_area["needed_gpm"] == pytest.approx(gpm, abs=0.01)


def test_the_method_is_named_and_doubted() -> None:
    outcome = ask(NeededFlow(length_ft=50, width_ft=30, involved_percent=25))
    assert outcome.lead == "125 gpm by L × W / 3"
    assert any("methods differ several-fold" in told for told in outcome.cautions)
    assert ask(NeededFlow(length_ft=50, width_ft=30)).assumed == ("fully involved",)


def test_rural_minimum_supply_in_gallons() -> None:
    ours = answer(
        NeededFlow(length_ft=50, width_ft=24, height_ft=16, rural_supply=True, hazard_class=7, construction_class=1)
    )
    assert ours["minimum_gal"] == pytest.approx(19200 / 7 * 1.5)


@pytest.mark.parametrize(
    ("command", "slot"),
    [
        (NeededFlow(width_ft=30), "length_ft"),
        (NeededFlow(length_ft=30), "width_ft"),
        (NeededFlow(length_ft=50, width_ft=30, method="iso"), "construction_class"),
        (NeededFlow(length_ft=50, width_ft=30, rural_supply=True), "hazard_class"),
    ],
)
def test_what_is_missing_is_asked(command: NeededFlow, slot: str) -> None:
    question = ask(command).question
    assert question is not None
    assert question.slot == slot


@pytest.mark.parametrize(
    "said",
    [
        {"length_ft": -50},
        {"involved_percent": 140},
        {"exposures": -1},
        {"floors": 0},
        {"construction_class": 9},
        {"construction_type": 6},
    ],
)
def test_what_can_not_be_is_refused(said: dict[str, Any]) -> None:
    method = "iso" if {"construction_class", "construction_type"} & {*said} else None
    assert ask(NeededFlow(**{"length_ft": 50, "width_ft": 30, "method": method, **said})).refused


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ({"construction_class": 1}, "construction: ISO class 1 (frame)"),
        ({"construction_type": 5}, "construction: type V (wood frame), taken as ISO class 1 (frame)"),
        ({"construction_type": 1}, "construction: type I (fire-resistive), taken as ISO class 6 (fire-resistive)"),
    ],
)
def test_the_reply_names_the_scale_of_the_construction(said: dict[str, Any], named: str) -> None:
    assert named in ask(NeededFlow(length_ft=50, width_ft=30, method="iso", **said)).assumed


def test_it_is_set_beside_what_flows_and_logged() -> None:
    ground = Fireground()
    ground.happens("14:00", IncidentOpened())
    outcome = ground.at("14:01", NeededFlow(length_ft=50, width_ft=30, involved_percent=25))
    assert "Flowing 0 gpm: 125 gpm short." in outcome.how
    assert NeededFlowSet(125, "area_third") in [event.body for event in ground.log.events]


@pytest.mark.parametrize(
    ("scale", "number", "kind"),
    [("construction_type", 5, "type V (wood frame)"), ("construction_class", 2, "ISO class 2 (joisted masonry)")],
)
def test_a_construction_that_the_method_leaves_out_is_told(scale: str, number: int, kind: str) -> None:
    left_out = ask(NeededFlow(length_ft=50, width_ft=30, **{scale: number}))  # type: ignore[arg-type]
    assert f"{kind} isn't used by this method: say “ISO” for it" in left_out.assumed
    used = ask(NeededFlow(length_ft=50, width_ft=30, method="iso", **{scale: number}))  # type: ignore[arg-type]
    assert not any("isn't used" in told for told in used.assumed)
