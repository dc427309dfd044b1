"""Lines on, off and changed: what each does to pressure, flow and tank, and what is asked when it isn't clear which."""

from __future__ import annotations

import math

import pytest

from grammar.commands import (
    FlowAtPressure,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    PumpPressure,
    PumpStatus,
    SaidHose,
    SaidLay,
    SaidLine,
    SaidNozzle,
    WhatIf,
)
from tests.handlers.playing import Incident, charge

WYE = SaidLay(
    feed=(SaidHose(2.5, 300),),
    split="wye",
    lines=(SaidLine(count=2, hose=(SaidHose(1.75, 100),)),),
)


def two_crosslays() -> Incident:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05:10", charge("crosslay_2"), "driver")
    return fire


def test_the_highest_line_governs_and_the_others_are_gated() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    told = fire.at("14:06", charge("rear_line"), "driver")
    assert told.lead == "170 psi, 416 gpm: Rear line on."
    assert "Crosslay 1 governs; gate Rear line to 85 psi." in told.how
    assert told.spoken.startswith(
        "1 7 0, Rear line on. 416 gallons. Crosslay 1 governs; gate Rear line to 85 psi. Tank "
    )


def test_two_equal_lines_can_be_shut_one_by_one() -> None:
    fire = Incident()
    lay = SaidLay(lines=(SaidLine(count=2, hose=(SaidHose(1.75, 200),)),))
    told = fire.at("14:05", LineOn(lay=lay), "driver")
    assert told.lead == "170 psi, 300 gpm: 2 × 1.75 in line, 200 ft on."
    asked = fire.at("14:06", LineOff(LineRef()), "driver")
    assert asked.question is not None
    fire.at("14:06", asked.question.choices[1].commands[0], "driver")
    assert [line.number for line in fire.pump.lines] == [1]


@pytest.mark.parametrize(
    ("ref", "left"),
    [
        (LineRef(name="crosslay_1"), ["crosslay_2"]),
        (LineRef(order=2), ["crosslay_1"]),
        (LineRef(seq=1), ["crosslay_2"]),
        (LineRef(all=True), []),
        (LineRef(other=True), ["crosslay_2"]),
    ],
    ids=["name", "order", "number", "all", "the other one"],
)
def test_which_line_is_meant(ref: LineRef, left: list[str]) -> None:
    fire = two_crosslays()
    fire.at("14:06", LineOff(ref), "driver")
    assert [line.name for line in fire.pump.lines] == left


def test_what_can_be_either_is_asked_and_what_is_neither_refused() -> None:
    fire = two_crosslays()
    asked = fire.at("14:06", LineOff(LineRef(hose_in=1.75)), "driver")
    assert asked.question is not None
    assert [choice.label for choice in asked.question.choices] == ["Crosslay 1", "Crosslay 2"]
    refused = fire.at("14:06", LineOff(LineRef(name="rear_line")), "driver")
    assert refused.refused == "That line isn't logged as on. On now: Crosslay 1 and Crosslay 2."
    assert len(fire.pump.lines) == 2


def test_charging_what_is_on_changes_nothing() -> None:
    fire = two_crosslays()
    before = len(fire.log.events)
    told = fire.at("14:06", charge("crosslay_1"), "driver")
    assert told.lead == "Crosslay 1 is on already: 170 psi, 150 gpm."
    assert len(fire.log.events) == before


def test_charging_what_is_on_with_a_floor_changes_it() -> None:
    fire = two_crosslays()
    told = fire.at("14:06", LineOn(lay=SaidLay(lines=(SaidLine(name="crosslay_1", floor=3),))), "driver")
    assert told.lead.startswith("180 psi, 300 gpm: Crosslay 1 changed: 180 psi, 150 gpm")
    assert len(fire.pump.lines) == 2


def test_hose_added_takes_its_water_and_its_friction() -> None:
    fire = two_crosslays()
    before = fire.pump.gallons_at(fire.now)
    told = fire.at("14:05:10", LineChange(LineRef(name="crosslay_1"), add_ft=100), "driver")
    assert fire.pump.lines[0].pressure_psi == pytest.approx(100 + 15.5 * 1.5**2 * 3)
    assert before - fire.pump.gallons_at(fire.now) == pytest.approx(0.0408 * 1.75**2 * 100, abs=0.05)
    assert told.how[1] == "100 nozzle + 105 friction"


def test_another_nozzle_another_floor() -> None:
    fire = two_crosslays()
    tip = SaidNozzle(kind="smooth_bore", tip_in=0.9375)
    fire.at("14:06", LineChange(LineRef(name="crosslay_1"), nozzle=tip), "driver")
    flow = 29.7 * 0.9375**2 * math.sqrt(50)
    assert fire.pump.lines[0].flow_gpm == pytest.approx(flow)
    fire.at("14:07", LineChange(LineRef(name="crosslay_2"), floor=2), "driver")
    assert fire.pump.lines[1].pressure_psi == pytest.approx(100 + 15.5 * 1.5**2 * 2 + 5)


def test_gated_to_a_flow_friction_and_nozzle_fall_with_the_square() -> None:
    fire = two_crosslays()
    fire.at("14:06", LineChange(LineRef(name="crosslay_1"), gate_to_gpm=100), "driver")
    line = fire.pump.lines[0]
    assert line.flow_gpm == pytest.approx(100)
    assert line.pressure_psi == pytest.approx((100 + 15.5 * 1.5**2 * 2) * (100 / 150) ** 2)
    over = fire.at("14:06", LineChange(LineRef(name="crosslay_2"), gate_to_gpm=400), "driver")
    assert over.refused is not None


def test_gated_to_a_pressure_is_the_same_the_other_way_round() -> None:
    fire = two_crosslays()
    fire.at("14:06", LineChange(LineRef(name="crosslay_1"), gate_to_psi=75.4444), "driver")
    assert fire.pump.lines[0].flow_gpm == pytest.approx(100, abs=0.01)


def test_more_pressure_is_one_step_at_the_nozzle() -> None:
    fire = two_crosslays()
    told = fire.at("14:06", LineChange(LineRef(name="crosslay_1"), nozzle_psi_change="more"), "driver")
    assert fire.pump.lines[0].flow_gpm == pytest.approx(150 * math.sqrt(110 / 100))
    assert "110 psi at the nozzle in place of 100 psi." in told.how


def test_a_burst_on_a_gated_line_starts_from_the_gated_flow() -> None:
    fire = two_crosslays()
    fire.at("14:06", LineChange(LineRef(name="crosslay_1"), gate_to_gpm=100), "driver")
    told = fire.at("14:07", LineChange(LineRef(name="crosslay_1"), burst=True), "driver")
    # at 100 gpm: 44.4 nozzle + 31 friction in 200 ft, 38.75 in 250 ft (15.5 · 1² · 2.5)
    assert "With one 50 ft length in its place: 75 psi; with two: 83 psi" in told.how[0]


def test_a_lower_leg_is_told_the_pressure_at_the_wye() -> None:
    fire = Incident()
    legs = (SaidLine(hose=(SaidHose(1.75, 100),)), SaidLine(hose=(SaidHose(1.75, 200),)))
    told = fire.at("14:05", LineOn(lay=SaidLay(feed=(SaidHose(3, 300),), split="wye", lines=legs)), "driver")
    # 21.6 psi in the feed at 300 gpm; the short leg wants 100 + 34.875 at the wye
    text = " ".join(told.how)
    assert "100 ft at the wye to 135 psi there" in text or "135 psi at the wye" in text
    assert "gate 1.75 in line, 100 ft to 156" not in text


def test_a_burst_length_is_told_what_to_do_and_flows_until_it_is_shut() -> None:
    fire = two_crosslays()
    told = fire.at("14:06", LineChange(LineRef(name="crosslay_1"), burst=True), "driver")
    assert told.lead == "Burst length on Crosslay 1: shut it, replace the length, charge it again."
    assert "with two: 187 psi" in told.how[0]
    assert len(fire.pump.lines) == 2
    assert told.follow_up is not None
    fire.at("14:06:20", told.follow_up.choices[0].commands[0], "driver")
    assert [line.name for line in fire.pump.lines] == ["crosslay_2"]


def test_one_leg_of_a_wye_shut_the_other_gets_its_own_pressure() -> None:
    fire = Incident()
    fire.at("14:05", LineOn(lay=WYE), "driver")
    both = 100 + 15.5 * 1.5**2 * 1 + 2 * 3**2 * 3
    assert [line.pressure_psi for line in fire.pump.lines] == [pytest.approx(both, abs=11)] * 2
    feed_gal = 0.0408 * 2.5**2 * 300
    assert sum(line.fill_gal for line in fire.pump.lines) == pytest.approx(
        feed_gal + 2 * 0.0408 * 1.75**2 * 100, abs=0.2
    )
    fire.at("14:06", LineOff(LineRef(seq=1)), "driver")
    assert fire.pump.lines[0].pressure_psi == pytest.approx(100 + 15.5 * 1.5**2 * 1 + 2 * 1.5**2 * 3)


def test_everything_that_is_pumped_at_a_glance() -> None:
    fire = two_crosslays()
    told = fire.at("14:06", PumpStatus(), "driver")
    assert told.lead == "170 psi, 300 gpm total."
    assert told.answer_json["flow_gpm"] == 300
    assert [line["name"] for line in told.answer_json["lines"]] == ["crosslay 1", "crosslay 2"]


def test_which_to_charge_is_asked_from_what_is_carried() -> None:
    asked = Incident().at("14:05", LineOn(), "driver")
    assert asked.question is not None
    assert asked.question.choices[0].commands == (LineOn(ref=LineRef(name="crosslay_1")),)


def test_two_companies_pump_by_themselves() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", charge("crosslay_1"), "driver", unit="engine 9")
    assert fire.scene.pump("engine 9").flow_gpm == 150
    assert fire.pump.flow_gpm == 150
    assert {reminder.to for reminder in fire.due("14:06", "tank_empty")} == {("driver", "crew"), ("engine 9", "crew")}


def test_the_supply_hose_is_no_hand_line() -> None:
    refused = Incident().at("14:05", charge("supply"), "driver")
    assert refused.refused == "The supply line feeds the pump: say “on the hydrant” when its water is in."


def crosslay(number: int, **said: object) -> SaidLay:
    return SaidLay(lines=(SaidLine(name=f"crosslay_{number}", **said),))  # type: ignore[arg-type]


def test_named_bare_after_its_pressure_was_asked_a_line_lies_as_it_was_asked() -> None:
    fire = Incident()
    fire.at("14:00", PumpPressure((crosslay(1, floor=3),)), "driver")
    told = fire.at("14:01", charge("crosslay_1"), "driver")
    assert told.lead == "180 psi, 150 gpm: Crosslay 1 on."
    assert told.assumed[0] == "Crosslay 1 as you just asked for it, 200 ft, floor 3"
    fire.at("14:02", PumpPressure((crosslay(2, hose=(SaidHose(1.75, 250),)),)), "driver")
    told = fire.at("14:03", LineOn(lay=crosslay(2)), "driver")
    assert told.lead.startswith("187 psi, 300 gpm")
    assert told.assumed[0] == "Crosslay 2 as you just asked for it, 250 ft"


def test_what_another_asked_or_said_whole_is_not_taken_over() -> None:
    fire = Incident()
    fire.at("14:00", PumpPressure((crosslay(1, floor=3),)), "officer")
    assert fire.at("14:01", charge("crosslay_1"), "driver").lead == "170 psi, 150 gpm: Crosslay 1 on."
    fire.at("14:02", PumpPressure((crosslay(2, floor=3),)), "driver")
    assert fire.at("14:03", LineOn(lay=crosslay(2, floor=2)), "driver").lead.startswith("175 psi")


def test_a_pressure_asked_for_a_line_of_the_incident_is_for_how_it_lies() -> None:
    fire = Incident()
    fire.at("14:00", LineOn(lay=crosslay(2, hose=(SaidHose(1.75, 250),))), "driver")
    asked = fire.at("14:01", PumpPressure((crosslay(2, floor=3),)), "driver")
    assert asked.lead.startswith("197 psi")  # 100 + 15.5 × 1.5² × 2.5 + 10
    assert "Crosslay 2 as it lies now, 250 ft" in asked.assumed
    fire.at("14:02", LineOff(LineRef(name="crosslay_2")), "driver")
    assert fire.at("14:03", PumpPressure((crosslay(2),)), "driver").lead.startswith("187 psi")
    whole = crosslay(2, hose=(SaidHose(1.75, 150),))
    assert fire.at("14:04", PumpPressure((whole,)), "driver").lead.startswith("152 psi")


def test_a_gated_line_that_moves_keeps_its_flow_and_its_height_counts() -> None:
    """Gated to 100 of 150 gpm: 169.75 × (100/150)² = 75.4; two floors up 10 more."""
    fire = Incident()
    fire.at("14:00", charge("crosslay_1"), "driver")
    fire.at("14:01", LineChange(LineRef(name="crosslay_1"), gate_to_gpm=100), "driver")
    assert fire.pump.lines[0].pressure_psi == pytest.approx(169.75 * (100 / 150) ** 2)
    told = fire.at("14:02", LineChange(LineRef(name="crosslay_1"), floor=3), "driver")
    (line,) = fire.pump.lines
    assert (line.flow_gpm, line.gated) == (pytest.approx(100), True)
    assert line.pressure_psi == pytest.approx(169.75 * (100 / 150) ** 2 + 10)
    assert told.how[1] == "Still gated to 100 gpm; wide open it would be:"


def test_what_if_a_line_that_is_on_is_not_counted_twice() -> None:
    fire = two_crosslays()
    told = fire.at("14:06", WhatIf(add=(crosslay(1),)), "driver")
    assert told.refused == "Crosslay 1 is on already, 170 psi and 150 gpm: name a line that isn't."
    alone = Incident()
    alone.at("14:05", charge("crosslay_1"), "driver")
    assert alone.at("14:06", WhatIf(shut=LineRef(name="crosslay_1")), "driver").lead == "Nothing would flow."


def test_every_question_about_a_line_of_the_incident_is_for_how_it_lies() -> None:
    fire = Incident()
    fire.at("14:00", LineOn(lay=crosslay(1, hose=(SaidHose(1.75, 300),))), "driver")
    told = fire.at("14:01", FlowAtPressure((crosslay(1),), 150), "driver")
    assert told.assumed[0] == "Crosslay 1 as it lies now, 300 ft"
    assert told.answer_json["flow_gpm"] == pytest.approx(150 * math.sqrt(150 / 204.625), abs=0.1)
    carried = Incident()
    carried.at("14:00", charge("crosslay_1"), "driver")
    assert not any("lies now" in said for said in carried.at("14:01", PumpPressure((crosslay(1),)), "driver").assumed)
