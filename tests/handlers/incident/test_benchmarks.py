"""Benchmarks: one short echo, a stated past time, parts, any order but one, nothing twice, closing asked first."""

from __future__ import annotations

from datetime import timedelta
from itertools import permutations

import pytest

from grammar.commands import Benchmark, BenchmarkName, Dispatch, Entry, Exit, LineOff, LineRef, SaidTime, WaterSource
from handlers.desk import answer
from handlers.history import History
from handlers.outcome import Said
from tests.handlers.fireground import DAY, clock_time, demo_rig
from tests.handlers.playing import Incident, charge


def test_one_short_line_to_the_speaker_and_the_crew() -> None:
    fire = Incident()
    told = fire.at("14:12:20", Benchmark("water_on_fire"))
    assert told.lead == "Water on the fire, 14:12. Logged."
    assert [(n.to, n.kind, n.text) for n in told.notices] == [(("crew",), "notice", told.lead)]
    assert told.answer_json == {
        "benchmark": "water_on_fire",
        "at": "2026-03-07T14:12:20Z",
        "unit": None,
        "place": None,
    }


def test_a_stated_time_is_when_it_happened() -> None:
    fire = Incident()
    told = fire.at("14:20", Benchmark("primary_search_complete", time=SaidTime(hour=14, minute=12)))
    assert told.lead == "Primary search complete, 14:12. Logged."
    assert fire.scene.opened_at == clock_time("14:12")
    stamp = fire.scene.stamp("primary_search_complete")
    assert stamp is not None
    assert (stamp.at, stamp.logged_at) == (clock_time("14:12"), clock_time("14:20"))


def test_a_named_place_leaves_the_whole_open() -> None:
    fire = Incident()
    told = fire.at("14:12", Benchmark("primary_search_complete", place="second floor"))
    assert told.lead == "Primary search complete, second floor, 14:12. Logged."
    assert fire.scene.stamp("primary_search_complete") is None
    assert fire.at("14:13", Benchmark("primary_search_complete")).lead.endswith("14:13. Logged.")
    assert fire.scene.stamp("primary_search_complete") is not None


def test_an_old_one_repeated_is_not_logged_twice() -> None:
    fire = Incident()
    fire.at("14:12", Benchmark("water_on_fire"))
    count = len(fire.log.events)
    again = fire.at("14:15", Benchmark("water_on_fire"), "driver")
    assert again.lead == "Water on the fire, 14:12: logged already."
    assert again.notices == ()
    assert len(fire.log.events) == count


def test_each_unit_arrives_by_itself() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("on_scene"))
    told = fire.at("14:09", Benchmark("on_scene", unit="engine 9", staffing=4))
    assert told.lead == "Engine 9 on scene with 4, 14:09. Logged."
    assert fire.scene.companies["engine 9"].staffing == 4
    assert fire.scene.companies["engine 9"].on_scene_at == clock_time("14:09")
    assert fire.at("14:10", Benchmark("on_scene", unit="engine 9")).lead.endswith("logged already.")


def test_a_supply_that_was_lost_is_established_again() -> None:
    fire = Incident()
    fire.at("14:10", Benchmark("water_supply"))
    fire.at("14:11", WaterSource(source="hydrant"), "driver")
    fire.at("14:15", WaterSource(source="tank", lost=True), "driver")
    assert fire.at("14:20", Benchmark("water_supply")).lead == "Water supply established, 14:20. Logged."


ORDERED: tuple[tuple[BenchmarkName, str], ...] = (
    ("dispatched", "14:00"),
    ("on_scene", "14:06"),
    ("under_control", "14:20"),
    ("command_terminated", "14:40"),
)


@pytest.mark.parametrize("order", list(permutations(ORDERED)), ids=lambda order: ">".join(name for name, _ in order))
def test_in_their_right_times_no_order_of_telling_is_asked_back(order: tuple[tuple[BenchmarkName, str], ...]) -> None:
    fire = Incident()
    fire.at("14:00", Benchmark("size_up"))
    for name, when in order:
        hour, minute = (int(part) for part in when.split(":"))
        told = fire.at("14:45", Benchmark(name, time=SaidTime(hour=hour, minute=minute)))
        assert told.question is None
        assert told.refused is None


@pytest.mark.parametrize(
    ("first", "second", "asked"),
    [
        (("on_scene", 6), ("dispatched", 8), "Dispatched at 14:08:00 would be after the arrival at 14:06:00."),
        (("under_control", 6), ("on_scene", 8), "On scene at 14:08:00 would be after under control at 14:06:00."),
        (("on_scene", 6), ("under_control", 5), "Under control at 14:05:00 would be before the arrival at 14:06:00."),
        (
            ("dispatched", 6),
            ("under_control", 5),
            "Under control at 14:05:00 would be before the dispatch at 14:06:00.",
        ),
    ],
)
def test_a_time_that_breaks_the_order_is_asked_back(
    first: tuple[BenchmarkName, int], second: tuple[BenchmarkName, int], asked: str
) -> None:
    fire = Incident()
    fire.at("14:10", Benchmark(first[0], time=SaidTime(hour=14, minute=first[1])))
    told = fire.at("14:10", Benchmark(second[0], time=SaidTime(hour=14, minute=second[1])))
    assert told.question is not None
    assert told.question.text == f"{asked} Log it?"
    anyway = told.question.choices[0].commands[0]
    assert fire.at("14:11", anyway).lead.endswith("Logged.")
    assert fire.scene.stamp(second[0]) is not None


def test_everything_else_swaps_freely() -> None:
    fire = Incident()
    fire.at("14:20", Benchmark("on_scene", time=SaidTime(hour=14, minute=6)))
    for minute, name in enumerate(
        ("knocked_down", "water_on_fire", "primary_search_complete", "ventilation", "water_supply")
    ):
        told = fire.at("14:20", Benchmark(name, time=SaidTime(hour=14, minute=minute)))  # type: ignore[arg-type]
        assert told.question is None, "even before the arrival"


def test_closing_is_asked_while_lines_flow_or_crews_are_inside() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", Entry(unit="engine 9", gauge_psi=4300))
    asked = fire.at("14:30", Benchmark("command_terminated"))
    assert asked.question is not None
    assert asked.question.text == "Crosslay 1 logged as flowing; Engine 9 logged inside. Terminate command?"
    assert fire.scene.open
    fire.at("14:31", LineOff(LineRef(all=True)), "driver")
    fire.at("14:31", Exit(unit="engine 9"))
    told = fire.at("14:32", Benchmark("command_terminated"))
    assert told.lead == "Command terminated, 14:32. Logged."
    assert not fire.scene.open
    assert told.how[0].startswith("Incident closed. Water used by calculation: ")


def test_closed_it_can_be_terminated_anyway() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    asked = fire.at("14:30", Benchmark("command_terminated"))
    assert asked.question is not None
    fire.at("14:30", asked.question.choices[0].commands[0])
    assert not fire.scene.open


def test_the_water_supply_asks_once_whether_the_driver_is_on_it() -> None:
    fire = Incident()
    told = fire.at("14:10", Benchmark("water_supply"))
    assert told.follow_up is not None
    assert told.reply.endswith("Are you on the hydrant?")
    assert [n.to for n in told.notices] == [("crew",), ("driver",)]
    fire.at("14:10:20", told.follow_up.choices[0].commands[0], "driver")
    assert fire.pump.source == "hydrant"
    assert fire.at("14:12", Benchmark("water_supply")).follow_up is None


@pytest.mark.parametrize("name", ["available", "returning", "in_quarters", "command_terminated"])
def test_what_opens_no_incident(name: BenchmarkName) -> None:
    fire = Incident()
    assert fire.at("14:40", Benchmark(name)).refused is not None
    assert fire.log.events == []


def test_available_after_the_close_stays_with_its_incident() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("on_scene"))
    fire.at("14:40", Benchmark("command_terminated"))
    told = fire.at("14:45", Benchmark("available"))
    assert told.lead == "Available, 14:45. Logged."
    assert not fire.scene.open
    fire.at("15:30", Benchmark("on_scene"))
    assert [stamp.at for stamp in fire.scene.stamps] == [clock_time("15:30")], "the next report opens a new one"


def test_told_after_the_close_what_happened_before_it_belongs_to_it() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("on_scene"))
    fire.at("14:40", Benchmark("command_terminated"))
    fire.at("14:50", Benchmark("loss_stopped", time=SaidTime(hour=14, minute=30)))
    assert [stamp.benchmark for stamp in fire.scene.stamps] == ["on_scene", "loss_stopped", "command_terminated"]
    assert not fire.scene.open


def test_out_of_any_incident_it_is_answered_and_nothing_is_opened() -> None:
    for name in ("water_on_fire", "available", "command_terminated"):
        outcome = answer([Benchmark(name)], History(), demo_rig(), Said(at=DAY, live=False)).outcomes[0]
        assert outcome.answer_json["benchmark"] == name
        assert outcome.events == ()


def test_a_bare_patient_contact_asks_whether_the_run_is_medical() -> None:
    run = Incident()
    told = run.at("09:05", Benchmark("patient_contact"))
    assert told.follow_up is not None
    kinds = [run.scene.kind]
    run.at("09:05", told.follow_up.choices[0].commands[0])
    assert [*kinds, run.scene.kind] == ["fire", "medical"]


def test_a_time_that_is_still_to_come_is_not_logged_as_yesterdays() -> None:
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    told = fire.at("14:05", Benchmark("water_on_fire", time=SaidTime(hour=14, minute=12)))
    assert told.question is not None
    assert told.question.text == "14:12 is still to come (it is 14:05): nothing was logged. When was it?"
    assert [choice.commands for choice in told.question.choices] == [(Benchmark("water_on_fire"),)]
    assert told.events == ()
    assert fire.scene.stamp("water_on_fire") is None


def test_a_watch_that_is_a_minute_fast_counts_as_now() -> None:
    fire = Incident()
    assert (
        fire.at("14:05", Benchmark("size_up", time=SaidTime(hour=14, minute=6))).lead
        == "Size-up complete, 14:05. Logged."
    )


def test_just_after_midnight_a_late_time_is_yesterdays() -> None:
    fire = Incident()
    fire.at(clock_time("23:50"), Benchmark("on_scene"))
    told = fire.at(
        clock_time("00:05") + timedelta(days=1), Benchmark("water_on_fire", time=SaidTime(hour=23, minute=58))
    )
    assert told.lead == "Water on the fire, 23:58. Logged."


def test_hours_before_the_incident_is_asked_back() -> None:
    """ "At two oh five" said at 14:10 would be twelve hours early."""
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    asked = fire.at("14:10", Benchmark("water_on_fire", time=SaidTime(hour=2, minute=5))).question
    assert asked is not None
    assert asked.text == "Water on the fire at 02:05 would be 11 h 55 min before this incident began. Log it?"
    assert [choice.label for choice in asked.choices] == ["Log it anyway", "It was now", "Don't log it"]


def test_a_dispatch_is_never_lost_to_a_clock_that_is_ahead() -> None:
    told = Incident().at("14:00", Dispatch(text="structure fire", time=SaidTime(hour=14, minute=4)))
    assert told.lead == "Dispatched 14:00: structure fire."
    assert "dispatched now: the stated time is still to come by this clock" in told.assumed
