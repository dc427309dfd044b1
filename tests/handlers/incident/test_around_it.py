"""Around an incident: its dispatch and brief, what is asked of the log, timers, roles, companies, making ready."""

from __future__ import annotations

import pytest

from grammar.commands import (
    Benchmark,
    Confirm,
    Dispatch,
    Elapsed,
    Entry,
    Help,
    Hydrant,
    IncidentKind,
    Join,
    LineOff,
    LineRef,
    ReminderChange,
    Restore,
    SendReport,
    SetRole,
    Status,
    Timer,
    WaterSource,
)
from handlers.incident.record import clocks, responses
from tests.handlers.fireground import clock_time
from tests.handlers.playing import Incident, charge

CALL = Dispatch(
    text="structure fire, 12 Harbor Road, engine 12 engine 9",
    nature="structure fire",
    address="12 Harbor Road",
    units=("engine 12", "engine 9"),
    kind="fire",
)


def called() -> Incident:
    fire = Incident()
    fire.at("14:00", CALL)
    return fire


# --- dispatch


def test_the_dispatch_opens_the_incident_and_is_briefed() -> None:
    fire = Incident()
    told = fire.at("14:00", CALL)
    assert told.lead == "Dispatched 14:00: structure fire, 12 Harbor Road. Engine 12 and Engine 9."
    assert [(n.to, n.name) for n in told.notices] == [(("crew", "engine 9"), "brief")]
    assert fire.scene.open
    assert fire.scene.address == "12 Harbor Road"
    assert set(fire.scene.companies) == {"engine 12", "engine 9"}
    assert fire.scene.stamp("dispatched") is not None


def test_the_caution_is_told_once_an_incident() -> None:
    fire = Incident()
    first = fire.at("14:00", CALL)
    second = fire.at("14:04", Benchmark("on_scene"))
    assert [len([c for c in told.cautions if "An aid only" in c]) for told in (first, second)] == [1, 0]


def test_a_second_dispatch_is_asked_about() -> None:
    fire = called()
    asked = fire.at("14:30", Dispatch(text="medical, 3 Mill Lane"))
    assert asked.question is not None
    assert asked.question.text == "Structure fire, 12 Harbor Road is open. A new incident?"
    for command in asked.question.choices[0].commands:
        fire.at("14:31", command)
    assert fire.scene.dispatch_text == "medical, 3 Mill Lane"
    assert fire.scene.opened_at == clock_time("14:31")


def test_a_medical_dispatch_turns_the_fire_reminders_off() -> None:
    run = Incident()
    run.at("09:00", Dispatch(text="chest pain, 3 Mill Lane", kind="medical"))
    run.at("09:05", Benchmark("on_scene"))
    assert run.due("09:05") == []


def test_out_of_any_incident_a_report_is_refused_and_a_calculation_answered() -> None:
    quiet = Incident()
    refused = quiet.at("13:00", WaterSource(source="hydrant"), "driver")
    assert refused.refused == ("No incident is open, so that isn't logged: report “on scene” or charge a line first.")
    assert quiet.at("13:00", Hydrant(static_psi=70, residual_psi=62), "driver").refused is None
    assert quiet.log.events == []
    assert quiet.at("13:01", Timer(minutes=5), "driver").refused is not None, "no clock would ring it"


def test_the_kind_needs_an_incident() -> None:
    assert Incident().at("09:00", IncidentKind("medical")).refused is not None


# --- asked of the log


def test_both_clocks_are_named_and_outside_an_incident_refused() -> None:
    fire = called()
    fire.at("14:06", Benchmark("on_scene"))
    told = fire.at("14:26", Elapsed())
    assert told.lead == "20 min on scene, 26 min since the dispatch."
    assert (told.answer_json["on_scene_s"], told.answer_json["duration_s"]) == (1200, 1560)
    assert Incident().at("14:26", Elapsed()).refused == "No incident is open."


def test_a_dispatch_that_is_logged_after_the_arrival_is_no_beginning() -> None:
    """ "2 min on scene, 1 min since the dispatch" can't both be so."""
    fire = Incident()
    fire.at("14:00", Benchmark("en_route", unit="engine 9"))
    fire.at("14:01", Benchmark("on_scene"))
    fire.at("14:02", CALL)
    told = fire.at("14:03", Elapsed())
    assert told.lead == "2 min on scene, the dispatch was logged later."
    assert (told.answer_json["on_scene_s"], told.answer_json["duration_s"]) == (120, None)
    assert clocks(fire.scene, clock_time("14:11")) == ("On scene 10:00 (from first arrival)",)
    assert {times.turnout_s for times in responses(fire.scene)} == {None}


def test_since_a_benchmark() -> None:
    fire = called()
    fire.at("14:06", Benchmark("water_on_fire"))
    assert fire.at("14:10:30", Elapsed(since="water_on_fire")).lead == "4 min since water on the fire (14:06)."
    assert fire.at("14:10:30", Elapsed(since="knocked_down")).refused is not None


def test_a_question_is_answered_from_the_log_and_stamps_nothing() -> None:
    fire = called()
    told = fire.at("14:10", Status(about="primary_search_complete"))
    assert told.lead == "Primary search complete: not reported so far."
    assert told.answer_json["reported"] is False
    fire.at("14:12", Benchmark("primary_search_complete", place="second floor"))
    told = fire.at("14:13", Status(about="primary_search_complete"))
    assert told.reply == (
        "Primary search complete: not reported for the whole.\n"
        "Primary search complete, second floor: reported 14:12 by the officer."
    )
    fire.at("14:15", Benchmark("primary_search_complete"))
    assert fire.at("14:16", Status(about="primary_search_complete")).answer_json["reported"] is True


@pytest.mark.parametrize(
    ("about", "first"),
    [
        ("lines", "Engine 12, Crosslay 1: on, 150 gpm at 170 psi."),
        ("water", "Engine 12: Tank 325 gal, 2:10 left. Supply needed by 14:08."),
        ("crews", "Engine 9 inside 0 min (since 14:05), last gauge 4,300 psi at 14:05."),
        ("par", "No PAR recorded so far."),
        ("benchmarks", "14:00 Engine 12 dispatched"),
        ("units", "Engine 12 with 3: on scene 14:04."),
        ("reminders", "Next: "),
        (None, "2 min on scene, 6 min since the dispatch."),
    ],
)
def test_how_things_stand(about: str | None, first: str) -> None:
    fire = called()
    fire.at("14:04", Benchmark("on_scene"))
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05:30", Entry(unit="engine 9", gauge_psi=4300))
    told = fire.at("14:06", Status(about=about))
    assert told.lead.startswith(first)


def test_of_nothing_known() -> None:
    assert called().at("14:01", Status(about="weather")).refused is not None


# --- timers, roles, companies


def test_a_timer_needs_its_minutes() -> None:
    assert called().at("14:01", Timer(minutes=0)).refused is not None
    assert called().at("14:01", Timer(minutes=2)).lead == "Timer 14:03:00: 2 min."
    assert called().at("14:01", Timer(minutes=40 / 60)).lead == "Timer 14:01:40: 40 seconds."
    assert called().at("14:01", Timer(minutes=1.5)).lead == "Timer 14:02:30: 1 minute 30."


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (ReminderChange(action="snooze"), "Routine reminders snoozed until 14:06."),
        (ReminderChange(action="snooze", name="par_due", minutes=10), "PAR reminders snoozed until 14:11."),
        (ReminderChange(action="interval", minutes=15), "Elapsed notices every 15 min on scene, from now on."),
        (ReminderChange(action="stop", name="elapsed"), "Elapsed notices stopped."),
        (ReminderChange(action="resume", name="elapsed"), "Elapsed notices on again."),
    ],
)
def test_reminders_changed_by_a_sentence(change: ReminderChange, told: str) -> None:
    assert called().at("14:01", change).lead == told


@pytest.mark.parametrize(
    "change",
    [
        ReminderChange(action="interval", minutes=0),
        ReminderChange(action="interval", name="rehab_due", minutes=5),
        ReminderChange(action="stop", name="no_such"),
        ReminderChange(action="stop", name="mayday_clock"),
    ],
)
def test_what_cannot_be_changed_is_refused(change: ReminderChange) -> None:
    assert called().at("14:01", change).refused is not None


def test_a_role_is_taken() -> None:
    fire = called()
    told = fire.at("14:01", SetRole(role="officer", unit="engine 9"), "crew")
    assert told.lead == "You are officer of Engine 9."
    assert fire.scene.roles == {"crew": ("officer", "engine 9")}


def test_a_company_joins_and_gets_the_brief() -> None:
    fire = called()
    told = fire.at("14:05", Join(unit="engine 9"), "unit", unit="engine 9")
    assert (
        told.reply
        == "Engine 9 joined, 14:05.\nstructure fire, 12 Harbor Road. no arrival reported, 5 min since the dispatch."
    )
    assert told.notices[0].to == ("officer",)
    assert Incident().at("14:05", Join(unit="engine 9")).refused is not None


# --- afterwards, and talk


def test_what_was_used_is_made_ready_again() -> None:
    fire = called()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", WaterSource(source="hydrant"), "driver")
    fire.at("14:07", Entry(unit="engine 9", gauge_psi=4300))
    fire.at("14:40", LineOff(LineRef(all=True)), "driver")
    told = fire.at("15:00", Restore())
    assert told.answer_json["open"] == (
        "tank refilled",
        "crosslay 1 reloaded",
        "supply hose reloaded",
        "air cylinders changed, Engine 9",
    )
    fire.at("15:05", Restore(item="tank refilled", done=True))
    told = fire.at("15:06", Restore())
    assert told.answer_json["done"] == ("tank refilled",)


def test_help_carries_the_cautions() -> None:
    told = Incident().at("14:00", Help())
    assert "An aid only" in told.reply


def test_a_bare_yes_is_asked_back_and_a_no_does_nothing() -> None:
    assert Incident().at("14:00", Confirm(yes=True)).refused is not None
    assert Incident().at("14:00", Confirm(yes=False)).lead == "Nothing done."


def test_no_record_without_an_incident() -> None:
    assert Incident().at("14:00", SendReport()).refused is not None
    assert called().at("14:30", SendReport(form="csv")).picture is not None
