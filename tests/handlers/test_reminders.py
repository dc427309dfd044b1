"""Reminders are a function of the scene: when each is due, to whom, what stops, moves and holds it."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import (
    AirReading,
    Arrest,
    Benchmark,
    BenchmarkName,
    Dispatch,
    Entry,
    Exit,
    IncidentKind,
    Mayday,
    Par,
    Rehab,
    ReminderChange,
    SaidTime,
    Timer,
    Undo,
    WaterSource,
)
from handlers.events import Event
from handlers.history import History
from handlers.quiet import quiet
from handlers.reminders import due
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge
from tests.handlers.test_history import logs


def on_scene() -> Incident:
    """Dispatched 14:00, on scene 14:06:30."""
    fire = Incident()
    fire.at("14:00", Dispatch(text="structure fire, 12 Harbor Road"))
    fire.at("14:06:30", Benchmark("on_scene"))
    return fire


def test_elapsed_every_ten_minutes_and_both_clocks_named() -> None:
    fire = on_scene()
    first, second, *_ = fire.due("14:06:30", "elapsed")
    assert (f"{first.at:%H:%M:%S}", f"{second.at:%H:%M:%S}") == ("14:16:30", "14:26:30")
    assert first.to == ("crew", "officer")
    assert first.text == "Elapsed: 10 min on scene, 16 min since the dispatch."


def test_the_first_arrival_starts_the_clock_and_a_second_one_does_not() -> None:
    fire = on_scene()
    fire.at("14:09", Benchmark("on_scene", unit="engine 9"))
    assert fire.times("14:09", "elapsed")[0] == "14:16:30"


def test_without_a_reported_arrival_the_first_thing_done_there_counts_and_is_named_so() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    assert fire.due("14:05", "elapsed")[0].text == (
        "Elapsed: 10 min on scene (no arrival reported: from the first thing done there), no dispatch time logged."
    )


def test_under_control_ends_it_and_one_check_follows() -> None:
    fire = on_scene()
    fire.at("14:20", Benchmark("under_control"))
    assert fire.times("14:20", "elapsed") == []
    check = fire.due("14:20", "control_check")
    assert [(f"{one.at:%H:%M}", one.to) for one in check] == [("14:30", ("officer",))]


def test_under_control_of_a_part_ends_nothing() -> None:
    fire = on_scene()
    fire.at("14:20", Benchmark("under_control", place="second floor"))
    assert fire.times("14:20", "elapsed")[0] == "14:26:30"


def test_a_tie_is_suppressed() -> None:
    fire = on_scene()
    fire.at("14:16:30", Benchmark("under_control"))
    assert fire.times("14:06:30", "elapsed") == []


def test_an_utterance_in_the_same_second_keeps_the_reminder() -> None:
    fire = on_scene()
    fire.at("14:16:30", Benchmark("knocked_down"))
    assert fire.times("14:16:30", "elapsed")[0] == "14:16:30"


def test_what_is_stated_late_is_not_told_for_the_past() -> None:
    fire = Incident()
    fire.at("14:25", Benchmark("on_scene", time=SaidTime(hour=14, minute=2)))
    assert fire.times("14:02", "elapsed")[0] == "14:32:00"


def test_par_only_with_more_than_one_unit_or_a_crew_inside() -> None:
    fire = on_scene()
    assert fire.times("14:07", "par_due") == []
    fire.at("14:09", Benchmark("on_scene", unit="engine 9", staffing=4))
    par = fire.due("14:09", "par_due")[0]
    assert (f"{par.at:%H:%M:%S}", par.to) == ("14:26:30", ("officer", "engine 9"))
    assert par.text == "PAR due (20 min on scene): ask Engine 12 and Engine 9."
    assert par.question is not None
    assert par.question.choices[0].commands == (Par(request=True),)
    alone = on_scene()
    alone.at("14:10", Entry(count=2, gauge_psi=4400))
    assert alone.times("14:10", "par_due")[0] == "14:26:30"


def test_no_supply_five_minutes_after_water_on_the_fire() -> None:
    fire = on_scene()
    fire.at("14:08", Benchmark("water_on_fire"))
    assert [(f"{r.at:%H:%M}", r.to) for r in fire.due("14:08", "supply_missing")] == [("14:13", ("officer",))]
    supplied = on_scene()
    supplied.at("14:08", Benchmark("water_on_fire"))
    supplied.at("14:10", WaterSource(source="hydrant"), "driver")
    assert supplied.times("14:08", "supply_missing") == []


def test_snoozed_it_comes_again_and_elapsed_is_left_out_not_moved() -> None:
    fire = on_scene()
    fire.at("14:08", Benchmark("water_on_fire"))
    fire.at("14:13:10", ReminderChange(action="snooze", name="supply_missing", minutes=5))
    again = fire.due("14:13:10", "supply_missing")
    assert [f"{one.at:%H:%M:%S}" for one in again] == ["14:18:10"]
    fire.at("14:15", ReminderChange(action="snooze", name="all", minutes=10))
    assert fire.times("14:15", "elapsed")[0] == "14:26:30"
    assert fire.times("14:15", "supply_missing") == ["14:25:00"]


def test_stop_resume_and_another_interval() -> None:
    fire = on_scene()
    fire.at("14:07", ReminderChange(action="interval", name="elapsed", minutes=15))
    assert fire.times("14:07", "elapsed")[:2] == ["14:21:30", "14:36:30"]
    fire.at("14:22", ReminderChange(action="stop", name="elapsed"))
    assert fire.times("14:22", "elapsed") == []
    fire.at("14:30", ReminderChange(action="resume", name="elapsed"))
    assert fire.times("14:30", "elapsed")[0] == "14:36:30"


def test_alerts_cannot_be_turned_off() -> None:
    fire = on_scene()
    fire.at("14:07", charge("crosslay_1"), "driver")
    assert fire.at("14:07", ReminderChange(action="stop", name="tank_minute")).refused is not None
    fire.at("14:07", ReminderChange(action="stop"))
    assert [r.name for r in fire.due("14:07") if r.kind == "alert"] == ["tank_minute", "tank_empty"]
    assert fire.times("14:07", "elapsed", "supply_missing") == []


def test_a_mayday_holds_what_is_routine_until_it_is_cleared() -> None:
    fire = on_scene()
    fire.at("14:08", Benchmark("water_on_fire"))
    fire.at("14:12", Mayday(text="mayday mayday mayday"))
    held = {r.name for r in fire.due("14:12")}
    assert "mayday_clock" in held
    assert not held & {"elapsed", "supply_missing", "par_due"}
    fire.at("14:20", Mayday(cleared=True))
    assert fire.times("14:20", "supply_missing") == ["14:20:00"]
    assert fire.times("14:20", "elapsed")[0] == "14:26:30", "never moved: the one at 14:16:30 is left out"
    assert fire.times("14:20", "mayday_clock") == []


def test_on_a_medical_run_the_fire_reminders_are_off() -> None:
    run = on_scene()
    run.at("14:07", IncidentKind(kind="medical"))
    run.at("14:10", Arrest(action="cpr_started"))
    assert {r.name for r in run.due("14:10")} == {"rhythm_check"}
    assert run.times("14:10", "rhythm_check")[:3] == ["14:12:00", "14:14:00", "14:16:00"]


def test_ones_own_timer_comes_where_it_was_set() -> None:
    fire = on_scene()
    fire.at("14:07", Timer(minutes=5, text="check the roof"), "officer")
    timer = fire.due("14:07", "timer")[0]
    assert (f"{timer.at:%H:%M}", timer.to, timer.text) == ("14:12", ("yard",), "Timer: check the roof.")


def test_nothing_after_the_incident_is_closed() -> None:
    fire = on_scene()
    fire.at("14:30", Benchmark("command_terminated"))
    assert fire.due("14:30") == []


def test_a_corrected_arrival_is_told_anew() -> None:
    fire = on_scene()
    before = {r.key for r in fire.due("14:06:30", "elapsed")}
    fire.at("14:08", Undo())
    fire.at("14:08:30", Benchmark("on_scene"))
    after = fire.due("14:08:30", "elapsed")
    assert f"{after[0].at:%H:%M:%S}" == "14:18:30"
    assert not before & {r.key for r in after}, "a key stands for one telling"


def test_far_into_a_long_incident_there_is_always_a_next_one() -> None:
    fire = on_scene()
    late = DAY + timedelta(hours=30)
    assert timedelta(0) <= fire.due(late, "elapsed")[0].at - late <= timedelta(minutes=10)


@given(logs(), st.data())
def test_a_restart_at_any_point_changes_no_reminder(log: list[Event], data: st.DataObject) -> None:
    rig = Incident().rig
    live = History()
    for one in log:
        live.add(one)
    cut = data.draw(st.integers(0, len(log)))
    again = History(log[:cut])
    for one in log[cut:]:
        again.add(one)
    for minute in (0, 5, 15):
        now = DAY + timedelta(minutes=minute)
        assert due(again.scene, rig, now) == due(live.scene, rig, now)


@given(logs(), st.integers(0, 1500), st.integers(0, 1500))
def test_later_planning_only_leaves_out_what_is_past(log: list[Event], early: int, late: int) -> None:
    """What was planned for later stands there whenever it is planned again."""
    rig, history = Incident().rig, History(log)
    first, second = sorted((DAY + timedelta(seconds=early), DAY + timedelta(seconds=late)))
    from_first = [r for r in due(history.scene, rig, first) if r.at.replace(microsecond=0) >= second]
    from_second = [r for r in due(history.scene, rig, second) if r.at <= first + timedelta(hours=1)]
    assert [r for r in from_first if r.at <= first + timedelta(hours=1)] == from_second


@given(
    st.permutations(["dispatched", "on_scene", "water_on_fire", "primary_search_complete", "knocked_down", "overhaul"])
)
def test_benchmarks_in_any_order_are_accepted(names: list[BenchmarkName]) -> None:
    fire = Incident()
    for minute, name in enumerate(names):
        told = fire.at(DAY + timedelta(minutes=minute), Benchmark(name, sure=True))
        assert told.refused is None
        assert told.question is None
    assert {stamp.benchmark for stamp in fire.scene.stamps} == set(names)


def test_a_reading_plans_turnaround_and_alarm_anew() -> None:
    fire = on_scene()
    fire.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    first = {r.key for r in fire.due("14:10", "turnaround", "alarm_expected")}
    fire.at("14:15", AirReading(gauge_psi=4100, unit="engine 9"))
    again = {r.key for r in fire.due("14:15", "turnaround", "alarm_expected")}
    assert len(first) == len(again) == 2
    assert not first & again, "told too early by the book's rate, they are told again by the gauges'"


def test_after_rehab_the_next_one_is_due_in_its_turn() -> None:
    fire = on_scene()
    fire.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    fire.at("14:30", Exit(unit="engine 9"))
    first = fire.due("14:30", "rehab_due")
    fire.at("14:35", Rehab(unit="engine 9"))
    assert fire.due("14:35", "rehab_due") == []
    fire.at("14:55", Rehab(unit="engine 9", back=True))
    fire.at("15:00", Entry(unit="engine 9", gauge_psi=4500))
    fire.at("15:20", Exit(unit="engine 9"))
    second = fire.due("15:20", "rehab_due")
    assert (len(first), len(second)) == (1, 1)
    assert first[0].key != second[0].key


def test_what_a_mayday_held_leaves_late_and_says_so() -> None:
    fire = on_scene()
    fire.at("14:20", Benchmark("under_control"))
    fire.at("14:29", Mayday(text="mayday"))
    fire.at("14:31", Mayday(cleared=True))
    checks = fire.due("14:31", "control_check")
    assert [f"{r.at:%H:%M:%S}" for r in checks] == ["14:31:00"]
    assert checks[0].text.endswith("Logged inside: no one. (1:00 ago)")
    (told,) = quiet(checks, DAY + timedelta(minutes=30, seconds=40))  # and the room's quiet adds 40 s
    assert told.text.endswith("Logged inside: no one. (1:40 ago)")


def test_an_estimate_for_now_that_leaves_late_is_no_longer_for_now() -> None:
    fire = on_scene()
    fire.at("14:10", Entry(unit="engine 9", count=2, gauge_psi=4500))
    due_at = fire.due("14:10", "turnaround")[0].at
    fire.at(due_at - timedelta(seconds=30), Mayday(text="mayday"))
    fire.at(due_at + timedelta(seconds=90), Mayday(cleared=True))
    (late,) = fire.due(due_at + timedelta(seconds=90), "turnaround")
    assert "now" not in late.text
    assert "was expected" in late.text
    assert late.text.endswith("(1:30 ago)")


def test_a_changed_interval_makes_nothing_due_before_it_was_changed() -> None:
    """On scene 14:06:30; all snoozed over the change: the tick at ten minutes was never due by the rig's twenty."""
    fire = on_scene()
    fire.at("14:10", Benchmark("on_scene", unit="engine 9"))
    fire.at("14:12", ReminderChange(action="snooze", minutes=10))
    told = fire.at("14:18", ReminderChange(action="interval", name="par_due", minutes=10))
    assert told.lead == "PAR reminders every 10 min on scene, from now on."
    assert told.how == ("Routine reminders are snoozed until 14:22.",)
    assert fire.times("14:18", "par_due")[0] == "14:26:30"


def test_an_interval_set_while_all_is_stopped_says_that_none_comes() -> None:
    fire = on_scene()
    fire.at("14:12", ReminderChange(action="stop"))
    told = fire.at("14:18", ReminderChange(action="interval", name="elapsed", minutes=15))
    assert told.how == ("Routine reminders are stopped, so none comes until you say “turn reminders back on”.",)
    assert fire.times("14:18", "elapsed") == []


def test_what_follows_from_a_time_that_was_told_late_counts_from_that_time() -> None:
    fire = on_scene()
    fire.at("14:30", Benchmark("water_on_fire", time=SaidTime(hour=14, minute=10)))
    fire.at("14:40", Benchmark("under_control", time=SaidTime(hour=14, minute=20)))
    (supply,), (check,) = fire.due("14:30", "supply_missing"), fire.due("14:40", "control_check")
    assert supply.text.startswith("Water on the fire for 20 min, no water supply reported.")
    assert check.text.startswith("20 min since “under control”.")


def test_a_snooze_of_all_tells_again_what_it_was_said_of_and_nothing_long_told() -> None:
    fire = on_scene()
    fire.at("14:07", charge("crosslay_1"), "driver")  # half at 14:08:30, a minute left at 14:09:10
    fire.at("14:10", Benchmark("water_on_fire"))
    fire.at("14:16", ReminderChange(action="snooze", minutes=5))
    assert [(r.name, f"{r.at:%H:%M:%S}") for r in fire.due("14:16", "tank_half", "supply_missing")] == [
        ("supply_missing", "14:21:00")
    ]


def test_a_snoozed_tank_mark_is_left_out_when_the_next_was_told_meanwhile() -> None:
    fire = on_scene()
    fire.at("14:07", charge("crosslay_1"), "driver")
    fire.at("14:08:40", ReminderChange(action="snooze", name="tank_half", minutes=5))
    assert fire.due("14:08:40", "tank_half") == []
    assert fire.times("14:08:40", "tank_minute") == ["14:09:10"]
