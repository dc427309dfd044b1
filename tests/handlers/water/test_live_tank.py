"""The live tank: hose that fills, the flow of the lines, the source, the gauge; its marks and who hears them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import (
    Benchmark,
    Correction,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    PumpPressure,
    SaidHose,
    SaidLay,
    SaidLine,
    TankTime,
    Undo,
    WaterSource,
    WhatIf,
)
from handlers.events import IncidentOpened, LineOpened, LineShut, PumpReady, SourceChanged, TankRead, WorkingLine
from handlers.history import History
from handlers.outcome import Said
from handlers.reminders import due
from tests.handlers.fireground import DAY, demo_rig
from tests.handlers.playing import Incident, charge
from tests.handlers.pumping.asking import answer as asked_alone
from tests.handlers.test_history import event, line

FILL = 0.0408 * 1.75**2 * 200
"""Gallons in 200 ft of 1¾ in (NWCG Firefighter Math, table 3.1: 0.0408·d²·L)."""


def test_charging_fills_the_hose_and_then_it_flows() -> None:
    fire = Incident()
    told = fire.at("14:05", charge("crosslay_1"), "driver")
    assert fire.pump.gallons_at(fire.now) == pytest.approx(500 - FILL, abs=0.1)
    assert fire.pump.gallons_at(fire.now + timedelta(minutes=1)) == pytest.approx(500 - FILL - 150, abs=0.1)
    assert told.lead == "170 psi, 150 gpm: Crosslay 1 on."
    assert told.how[0] == "Tank 475 gal, 3:10 left. Supply needed by 14:08."
    assert "Counts as flowing from now until you say it is shut." in told.how


def test_a_hose_that_is_still_full_takes_no_water_again() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", LineOff(LineRef(name="crosslay_1")), "driver")
    before = fire.pump.tank_gal
    told = fire.at("14:07", charge("crosslay_1"), "driver")
    assert fire.pump.tank_gal == before
    assert "Crosslay 1: its hose is still full from before" in told.assumed


def test_half_and_quarter_to_the_second() -> None:
    fire = Incident()
    fire.at("14:05", charge("bumper_line"), "driver")
    fill = 0.0408 * 1.75**2 * 100
    half_s, quarter_s = (500 - fill - 250) / 150 * 60, (500 - fill - 125) / 150 * 60
    half, minute, empty = fire.due("14:05", "tank_half", "tank_quarter", "tank_minute", "tank_empty")
    assert (half.name, half.to, half.kind) == ("tank_half", ("driver",), "reminder")
    assert half.at - fire.now == pytest.approx(timedelta(seconds=half_s), abs=timedelta(seconds=0.5))
    assert half.text == "Tank at half: 250 gal, 1:40 left at 150 gpm."
    assert quarter_s > 0, "the quarter comes with 50 s left: under 90 it is left out"
    assert (minute.name, minute.to, minute.kind) == ("tank_minute", ("driver", "crew"), "alert")
    assert empty.at - minute.at == timedelta(seconds=60)
    assert empty.text == "Tank calculated empty: check the gauge."


def test_the_quarter_is_told_to_the_crew_too_when_the_flow_is_small() -> None:
    fire = Incident()
    gate = LineChange(LineRef(name="bumper_line"), gate_to_gpm=75)
    fire.at("14:05", charge("bumper_line"), "driver")
    fire.at("14:05", gate, "driver")
    quarter = fire.due("14:05", "tank_quarter")[0]
    assert quarter.to == ("driver", "crew")
    assert quarter.text == "Tank at a quarter: 125 gal, 1:40 left at 75 gpm."


def test_under_a_minute_it_says_so_at_opening_and_alerts_at_once() -> None:
    fire = Incident()
    fire.at("14:04", Benchmark("on_scene"))
    fire.at("14:04", WaterSource(tank_gal=400), "driver")
    told = fire.at("14:05", charge("deck_gun"), "driver")
    assert told.cautions[0] == "UNDER 1:00 OF TANK: 0:48 left.", "400 gal at the piping's 500 gpm (convention 21)"
    minute = fire.due("14:05", "tank_minute")[0]
    assert minute.at == fire.now


def test_the_minute_is_armed_again_when_the_time_left_rises() -> None:
    fire = Incident()
    fire.at("14:05", charge("deck_gun"), "driver")
    first = fire.due("14:05", "tank_minute")[0]
    fire.at("14:05:10", LineOff(LineRef(name="deck_gun")), "driver")
    fire.at("14:05:20", charge("crosslay_1"), "driver")
    again = fire.due("14:05:20", "tank_minute")[0]
    assert again.at > first.at
    assert again.key != first.key


def test_only_the_drivers_source_stops_the_tank_clock() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    by_officer = fire.at("14:06", WaterSource(source="hydrant"), "officer")
    assert fire.pump.on_tank
    assert by_officer.notices[0].to == ("driver",)
    told = fire.at("14:06:30", WaterSource(source="hydrant"), "driver")
    assert not fire.pump.on_tank
    assert told.how[0] == "On the hydrant: tank clock stopped at 250 gal."
    assert fire.due("14:06:30", "tank_half", "tank_quarter", "tank_minute", "tank_empty") == []


def test_lost_water_puts_the_clock_back_on_and_alerts_all() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06:30", WaterSource(source="hydrant"), "driver")
    told = fire.at("14:10", WaterSource(source="tank", lost=True), "crew")
    assert fire.pump.on_tank
    assert fire.pump.source_lost
    assert (told.notices[0].to, told.notices[0].kind) == (("all",), "alert")
    assert fire.times("14:10", "tank_minute") == ["14:10:40"]


def test_a_planned_change_alarms_nobody() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", WaterSource(source="hydrant"), "driver")
    told = fire.at("14:10", WaterSource(source="tank", lost=True, meant=True), "driver")
    assert fire.pump.on_tank
    assert [notice.kind for notice in told.notices] == ["notice"]


def test_the_gauge_overrides_the_calculation_and_never_more_than_full() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", WaterSource(tank_fraction=0.5), "driver")
    assert fire.pump.tank_gal == 250
    fire.at("14:06:10", WaterSource(refilled=True), "driver")
    assert fire.pump.tank_gal == 500
    refused = fire.at("14:06:20", WaterSource(tank_gal=900), "driver")
    assert refused.refused == "The tank holds 500 gal: read its gauge again."


def test_what_cannot_be_drawn_is_not_counted() -> None:
    log = History([event(1, 0, IncidentOpened()), event(2, 0, PumpReady("engine 12", 500, 450))])
    assert log.scene.pump("engine 12").tank_gal == 450
    log.add(event(3, 60, TankRead(250)))
    assert log.scene.pump("engine 12").tank_gal == 200, "50 gal of the 250 on the gauge stay in the tank"


def test_what_one_line_less_or_one_more_would_do() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", charge("crosslay_2"), "driver")
    told = fire.at("14:05:30", TankTime(), "driver")
    left = 500 - 2 * FILL - 150
    assert told.answer_json["tank_gal"] == pytest.approx(left, abs=0.2)
    assert told.answer_json["tank_s"] == pytest.approx(left / 300 * 60, abs=0.1)
    assert "With Crosslay 1 shut: 2:00." in told.how
    assert told.how[-1] == "With one more like Crosslay 2, its hose filled (25 gal): 0:36."


def test_what_if_changes_nothing() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    before = fire.pump
    told = fire.at("14:05:30", WhatIf(add=(SaidLay(lines=(SaidLine(name="rear_line"),)),)), "driver")
    assert fire.pump == before
    assert told.lead == "It would be 170 psi, 416 gpm, 0:48 of tank.", "(475 − 75 − 64 to fill the hose) ÷ 416"


flows = st.lists(st.tuples(st.integers(0, 120), st.booleans(), st.floats(10, 300), st.floats(0, 40)), max_size=12)


@given(flows, st.integers(1, 600))
def test_water_used_is_the_integral_of_the_flow_and_the_hose_filled(
    steps: list[tuple[int, bool, float, float]], rest_s: int
) -> None:
    """On a supply that doesn't run dry: Σ flow × time + Σ fill, by another reckoning than the fold's."""
    log = History([event(1, 0, IncidentOpened()), event(2, 0, PumpReady("engine 12", 500, 500))])
    log.add(event(3, 0, SourceChanged("hydrant")))
    clock, on, expected, number = 0, dict[int, float](), 0.0, 0
    for wait, opening, flow, fill in steps:
        expected += sum(on.values()) * wait / 60
        clock += wait
        if opening or not on:
            number += 1
            on[number] = flow
            expected += fill
            log.add(event(log.last_seq + 1, clock, LineOpened(line(number, flow, fill))))
        else:
            gone = min(on)
            del on[gone]
            log.add(event(log.last_seq + 1, clock, LineShut(gone)))
    expected += sum(on.values()) * rest_s / 60
    used = log.scene.pump("engine 12").used_at(DAY + timedelta(seconds=clock + rest_s))
    assert used == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(flows)
def test_from_the_tank_used_and_left_add_up_to_what_it_held(steps: list[tuple[int, bool, float, float]]) -> None:
    log = History([event(1, 0, IncidentOpened()), event(2, 0, PumpReady("engine 12", 500, 450))])
    clock = 0
    for number, (wait, _, flow, fill) in enumerate(steps, 1):
        clock += wait
        log.add(event(log.last_seq + 1, clock, LineOpened(line(number, flow, fill))))
    for later in (clock, clock + 60, clock + 6000):
        at = DAY + timedelta(seconds=later)
        pump = log.scene.pump("engine 12")
        assert pump.used_at(at) + pump.gallons_at(at) == pytest.approx(450)


@given(flows)
def test_marks_come_in_their_order_and_on_the_true_history(steps: list[tuple[int, bool, float, float]]) -> None:
    rig = demo_rig()
    log = History([event(1, 0, IncidentOpened()), event(2, 0, PumpReady("engine 12", 500, 500))])
    clock = 0
    for number, (wait, _, flow, fill) in enumerate(steps, 1):
        clock += wait
        log.add(event(log.last_seq + 1, clock, LineOpened(line(number, flow, fill))))
    found = due(log.scene, rig, DAY)
    order = [r.name for r in found if r.name.startswith("tank_")]
    assert order == sorted(order, key=["tank_half", "tank_quarter", "tank_minute", "tank_empty"].index)
    levels = {"tank_half": 250.0, "tank_quarter": 125.0, "tank_empty": 0.0}
    for reminder in found:
        if reminder.name in levels:
            then = log.without((), until=reminder.at).pump("engine 12")
            assert then.gallons_at(reminder.at) == pytest.approx(levels[reminder.name], abs=40)
            assert then.gallons_at(reminder.at) <= levels[reminder.name] + 1e-3


def test_the_way_out_of_an_incident_is_a_full_tank() -> None:
    fire = Incident()
    told = fire.at("14:05", TankTime(flow_gpm=300), "driver")
    assert told.answer_json == {"tank_s": 100.0, "flow_gpm": 300, "tank_gal": 500.0}
    asked = fire.at("14:05", TankTime(), "driver")
    assert asked.question is not None
    assert asked.question.slot == "flow_gpm"


@pytest.mark.parametrize("command", [TankTime(flow_gpm=0), TankTime(flow_gpm=-5), TankTime(flow_gpm=100, tank_gal=0)])
def test_nothing_flows_from_nothing(command: TankTime) -> None:
    assert Incident().at("14:05", command, "driver").refused is not None


def test_said_outside_an_incident_nothing_is_logged() -> None:
    from handlers.desk import answer

    said = Said(at=DAY, live=False)
    outcome = answer([charge("crosslay_1")], History(), demo_rig(), said).outcomes[0]
    assert (outcome.events, outcome.notices) == ((), ())
    assert outcome.answer_json["tank_gal"] == pytest.approx(500 - FILL, abs=0.1)


def test_working_line_is_what_the_board_shows() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    shown = fire.pump.lines[0]
    assert isinstance(shown, WorkingLine)
    assert (shown.number, shown.name, shown.label, shown.hose_in, shown.length_ft) == (
        1,
        "crosslay_1",
        "Crosslay 1",
        1.75,
        200,
    )


def test_a_correction_tells_the_last_minute_as_it_is_now_and_never_late() -> None:
    """100 gal after filling 200 ft at 14:08; 250 ft fill 6 gal more, and 20 s at 150 gpm are gone: 0:17."""
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    fire.at("14:07", WaterSource(tank_gal=125), "driver")
    fire.at("14:08", charge("crosslay_1"), "driver")
    assert [r.text for r in fire.due("14:08", "tank_minute")] == ["Tank: 0:40 left at 150 gpm."]
    longer = LineOn(lay=SaidLay(lines=(SaidLine(name="crosslay_1", hose=(SaidHose(1.75, 250),)),)))
    fire.at("14:08:20", Correction((longer,)), "driver")
    assert [(f"{r.at:%H:%M:%S}", r.text) for r in fire.due("14:07", "tank_minute")] == [
        ("14:08:20", "Tank: 0:17 left at 150 gpm.")
    ]


def test_an_undo_of_something_else_leaves_told_marks_told() -> None:
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    fire.at("14:07", WaterSource(tank_gal=125), "driver")
    fire.at("14:08", charge("crosslay_1"), "driver")
    before = [r.key for r in fire.due("14:08", "tank_minute")]
    fire.at("14:08:05", Benchmark("water_on_fire"), "officer")
    fire.at("14:08:10", Undo(), "officer")
    assert [r.key for r in fire.due("14:08", "tank_minute")] == before


@pytest.mark.parametrize(
    ("command", "tank_gal"),
    [
        (WaterSource(tank_fraction=0.75), 375),
        (WaterSource(refilled=True), 500),
        (WaterSource(tank_gal=300), 300),
        (WaterSource(source="hydrant"), None),
    ],
)
def test_out_of_an_incident_the_answer_holds_what_was_read_and_no_made_up_zero(
    command: WaterSource, tank_gal: float | None
) -> None:
    ours = asked_alone(command)
    assert ours["tank_gal"] == tank_gal
    assert (ours["flow_gpm"], ours["used_gal"], ours["tank_s"]) == (None, None, None)


def test_a_line_has_one_name_in_every_answer() -> None:
    asked = asked_alone(PumpPressure((SaidLay(lines=(SaidLine(name="crosslay_1"),)),)))["lines"][0]["name"]
    on = Incident().at("14:00", charge("crosslay_1"), "driver").answer_json["lines"][0]["name"]
    assert asked == on == "crosslay 1"


@pytest.mark.parametrize("stop", [WaterSource(source="hydrant"), LineOff(LineRef(name="crosslay_1"))])
@pytest.mark.parametrize(("when", "name"), [("14:01:30", "tank_half"), ("14:03:10", "tank_empty")])
def test_a_mark_in_the_same_second_as_what_stops_it_is_not_told(
    stop: WaterSource | LineOff, when: str, name: str
) -> None:
    """475.01 gal at 150 gpm from 14:00: half at 14:01:30.0, empty at 14:03:10.0 (convention 12)."""
    fire = Incident()
    fire.at("14:00", charge("crosslay_1"), "driver")
    assert fire.times("14:00", name) == [when]
    fire.at(when, stop, "driver")
    assert fire.due(when, name) == []
