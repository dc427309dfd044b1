"""A supply on its way against the tank's end; the intake gauge; trouble at the pump."""

from __future__ import annotations

import re

import pytest

from grammar.commands import (
    Command,
    Intake,
    LineRef,
    PumpPressure,
    PumpStatus,
    SaidLay,
    SaidLine,
    Status,
    SupplyExpected,
    TankTime,
    WaterSource,
    WhatIf,
)
from handlers.incident.board import board
from tests.handlers.playing import Incident, charge


def flowing() -> Incident:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    return fire


def test_the_supply_comes_after_the_tanks_end() -> None:
    told = flowing().at("14:05", SupplyExpected(unit="engine 9", minutes=4), "driver")
    assert told.lead == "Engine 9's supply about 14:09 (4 min)."
    assert told.how == (
        "The tank is calculated empty 14:08:10, 0:49 BEFORE it.",
        "Holding to 110 gpm (now 150 gpm) would make it last until then.",
    )
    assert told.answer_json["lasting_flow_gpm"] == pytest.approx(475 / 4, abs=0.1)


def test_the_supply_comes_first() -> None:
    told = flowing().at("14:05", SupplyExpected(unit="engine 9", minutes=2), "driver")
    assert told.how == ("The tank is calculated empty 14:08:10, 1:10 after it.",)
    assert told.answer_json["short_s"] < 0


def test_how_many_minutes_is_asked() -> None:
    told = flowing().at("14:05", SupplyExpected(unit="engine 9"), "driver")
    assert told.question is not None
    assert (told.question.text, told.question.slot) == ("How many minutes out is Engine 9?", "minutes")


def test_an_announced_supply_is_named_when_none_is_reported() -> None:
    fire = flowing()
    fire.at("14:05", SupplyExpected(unit="engine 9", minutes=4), "driver")
    assert fire.pump.supply_unit == "engine 9"
    fire.at("14:09", WaterSource(source="hydrant"), "driver")
    assert fire.pump.supply_expected_at is None


def test_a_low_intake_warns_at_once() -> None:
    fire = flowing()
    fire.at("14:06", WaterSource(source="hydrant"), "driver")
    fine = fire.at("14:06:10", Intake(intake_psi=55), "driver")
    assert fine.cautions == ()
    low = fire.at("14:08", Intake(intake_psi=18), "driver")
    assert low.lead == "Intake 18 psi, was 55 and LOW."
    assert low.cautions
    assert low.notices[0].to == ("officer",)


def test_lost_prime_is_a_loss_of_water_with_a_check_list() -> None:
    fire = flowing()
    fire.at("14:06", WaterSource(source="draft"), "driver")
    told = fire.at("14:08", WaterSource(trouble="lost_prime"), "driver")
    assert (told.notices[0].kind, told.notices[0].to) == ("alert", ("all",))
    assert told.how
    assert fire.pump.trouble == "lost_prime"


def test_topping_off_counts_when_it_is_full() -> None:
    fire = flowing()
    fire.at("14:06", WaterSource(source="hydrant"), "driver")
    before = fire.pump.tank_gal
    fire.at("14:07", WaterSource(topping_off=True), "driver")
    assert fire.pump.tank_gal == before
    fire.at("14:09", WaterSource(refilled=True), "driver")
    assert fire.pump.tank_gal == 500


def test_a_bare_source_is_asked() -> None:
    told = flowing().at("14:06", WaterSource(), "driver")
    assert told.question is not None
    assert told.question.choices[1].commands == (WaterSource(source="hydrant"),)


def test_lost_prime_tells_what_the_tank_holds_and_asks_the_source() -> None:
    fire = Incident()
    fire.at("14:00", charge("crosslay_1"), "driver")
    fire.at("14:01", WaterSource(source="draft"), "driver")
    told = fire.at("14:04", WaterSource(trouble="lost_prime"), "driver")
    assert told.how[0] == (
        "By calculation 325 gal in the tank: 2:10 at 150 gpm from it. Its clock stands until “on the tank” is said."
    )
    assert told.how[0] in told.notices[0].text
    assert told.follow_up is not None
    assert [choice.label for choice in told.follow_up.choices] == ["On the tank", "At draft again", "No water yet"]
    fire.at("14:04:10", told.follow_up.choices[0].commands[0], "driver")
    assert fire.pump.on_tank


def test_whether_to_log_the_supply_is_asked_once() -> None:
    fire = Incident()
    fire.at("14:00", charge("crosslay_1"), "driver")
    asked = [
        fire.at(when, WaterSource(source=source), "driver").follow_up
        for when, source in (("14:01", "hydrant"), ("14:02", "tank"), ("14:03", "hydrant"), ("14:04", "draft"))
    ]
    assert [question is not None for question in asked] == [True, False, False, False]


def test_a_tank_that_is_read_empty_while_lines_flow_from_it_is_told_to_all() -> None:
    told = flowing().at("14:06", WaterSource(tank_gal=0), "driver")
    assert [(n.to, n.kind, n.text) for n in told.notices] == [
        (("all",), "alert", "Engine 12: tank EMPTY by its gauge, 14:06.")
    ]
    fire = flowing()
    fire.at("14:05:30", WaterSource(source="hydrant"), "driver")
    assert fire.at("14:06", WaterSource(tank_gal=0), "driver").notices == ()


@pytest.mark.parametrize(
    "asked",
    [
        SupplyExpected("engine 9", 4),
        TankTime(),
        PumpStatus(),
        WhatIf(add=(SaidLay(lines=(SaidLine(name="rear_line"),)),)),
        WhatIf(shut=LineRef(name="crosslay_1")),
        PumpPressure((SaidLay(lines=(SaidLine(name="rear_line"),)),)),
        Status(about="water"),
        Status(),
    ],
)
def test_after_the_tank_is_empty_nothing_says_how_to_make_it_last(asked: Command) -> None:
    """475 gal at 300 gpm are gone long before 14:10: whatever is asked then, no time and no flow is told for it."""
    fire = Incident()
    fire.at("14:00", charge("crosslay_1"), "driver")
    fire.at("14:00", charge("crosslay_2"), "driver")
    told = fire.at("14:10", asked, "driver")
    assert told.refused is None
    assert not re.search(r"make it last|Holding to|\b0:00\b|hold out until| left\b", told.reply), told.reply
    shown = board(fire.scene, fire.rig, fire.now, None).text
    assert "Tank calculated empty: check the gauge" in shown
    assert " left" not in shown
