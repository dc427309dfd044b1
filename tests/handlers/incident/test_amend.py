"""Undo and correction take effect from the original time, touch the speaker's own last command, and are logged."""

from __future__ import annotations

import pytest

from grammar.commands import (
    Benchmark,
    Correction,
    LineOn,
    LineRef,
    Mayday,
    PumpPressure,
    Repeat,
    SaidHose,
    SaidLay,
    SaidLine,
    SaidTime,
    Undo,
)
from handlers.events import Retracted
from tests.handlers.fireground import clock_time
from tests.handlers.playing import Incident, charge


def lay(length_ft: float) -> SaidLay:
    return SaidLay(lines=(SaidLine(hose=(SaidHose(1.75, length_ft),)),))


def test_a_corrected_line_flowed_as_corrected_from_its_own_time() -> None:
    fire, straight = Incident(), Incident()
    fire.at("14:05", LineOn(lay=lay(200)), "driver")
    told = fire.at("14:06", Correction((LineOn(lay=lay(250)),)), "driver")
    straight.at("14:05", LineOn(lay=lay(250)), "driver")
    assert told.lead.startswith("Corrected: 187 psi, 150 gpm")
    assert told.intent == "correction"
    assert len(fire.pump.lines) == 1
    assert fire.pump.gallons_at(fire.now) == straight.pump.gallons_at(fire.now)
    assert told.how[0] == "Tank 319 gal, 2:07 left. Supply needed by 14:08."


def test_the_log_keeps_what_was_taken_back() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("water_on_fire"))
    before = list(fire.log.events)
    fire.at("14:06", Undo())
    assert fire.log.events[: len(before)] == before
    assert isinstance(fire.log.events[-1].body, Retracted)
    assert fire.scene.stamp("water_on_fire") is None


def test_undo_touches_ones_own_last_command_only() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("water_on_fire"), "officer")
    fire.at("14:06", charge("crosslay_1"), "driver")
    told = fire.at("14:07", Undo(), "officer")
    assert told.lead == "Taken back: Water on the fire, 14:05."
    assert len(fire.pump.lines) == 1
    nothing = fire.at("14:08", Undo(), "officer")
    assert nothing.refused is not None


def test_undo_of_two_steps_and_of_one_command_of_a_message() -> None:
    fire = Incident()
    fire.message("14:05", [charge("crosslay_1"), charge("crosslay_2")], "driver")
    fire.at("14:06", Undo(), "driver")
    assert [line.name for line in fire.pump.lines] == ["crosslay_1"]
    fire.at("14:06:10", charge("crosslay_2"), "driver")
    fire.at("14:06:20", Undo(steps=2), "driver")
    assert fire.pump.lines == ()
    assert fire.scene.open


def test_undo_of_a_correction_brings_back_what_was_said_first() -> None:
    fire = Incident()
    fire.at("14:05", LineOn(lay=lay(200)), "driver")
    fire.at("14:06", Correction((LineOn(lay=lay(250)),)), "driver")
    told = fire.at("14:07", Undo(), "driver")
    assert [line.length_ft for line in fire.pump.lines] == [200]
    assert "What was said before the correction counts again." in told.how


def test_a_correction_of_a_correction() -> None:
    fire = Incident()
    fire.at("14:05", LineOn(lay=lay(200)), "driver")
    fire.at("14:06", Correction((LineOn(lay=lay(250)),)), "driver")
    fire.at("14:07", Correction((LineOn(lay=lay(300)),)), "driver")
    assert [line.length_ft for line in fire.pump.lines] == [300]


def test_the_time_of_a_benchmark_is_corrected_and_told() -> None:
    fire = Incident()
    fire.at("14:12", Benchmark("water_on_fire"))
    told = fire.at("14:15", Correction((Benchmark("water_on_fire", time=SaidTime(hour=14, minute=10)),)))
    assert told.lead == "Corrected: Water on the fire, 14:10. Logged."
    assert [stamp.at for stamp in fire.scene.stamps] == [clock_time("14:10")]
    assert told.notices[0].text == "Corrected: Water on the fire, 14:10. Logged."


def test_two_minutes_ago_counts_from_when_it_was_said() -> None:
    fire = Incident()
    fire.at("14:12", Benchmark("water_on_fire"))
    fire.at("14:15", Correction((Benchmark("water_on_fire", time=SaidTime(ago_s=120)),)))
    assert [stamp.at for stamp in fire.scene.stamps] == [clock_time("14:13")]
    ago = Incident()
    ago.at("14:12", Benchmark("primary_search_complete", time=SaidTime(ago_s=120)))
    ago.at("14:15", Correction((Benchmark("primary_search_complete", time=SaidTime(ago_s=120), place="attic"),)))
    assert [stamp.at for stamp in ago.scene.stamps] == [clock_time("14:10")]


def test_only_the_amended_command_of_several_is_exchanged() -> None:
    fire = Incident()
    fire.message("14:05", [Benchmark("water_on_fire"), charge("crosslay_1")], "driver")
    fire.at("14:05:30", Correction((LineOn(ref=LineRef(name="crosslay_2")),)), "driver")
    assert [line.name for line in fire.pump.lines] == ["crosslay_2"]
    assert fire.scene.stamp("water_on_fire") is not None


def test_a_corrected_question_is_asked_anew_and_logs_nothing() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("on_scene"))
    fire.at("14:06", PumpPressure((lay(200),)), "driver")
    count = len(fire.log.events)
    told = fire.at("14:06:10", Correction((PumpPressure((lay(250),)),)), "driver")
    assert told.answer_json["pump_pressure_psi"] == pytest.approx(100 + 15.5 * 1.5**2 * 2.5)
    assert len(fire.log.events) == count


def test_a_correction_that_has_to_ask_stays_a_correction() -> None:
    fire = Incident()
    fire.at("14:12", Benchmark("on_scene"))
    fire.at("14:20", Benchmark("under_control"))
    asked = fire.at("14:21", Correction((Benchmark("under_control", time=SaidTime(hour=14, minute=5)),)))
    assert asked.question is not None
    assert fire.scene.stamp("under_control") is not None
    fire.at("14:21", asked.question.choices[0].commands[0])
    assert [s.at for s in fire.scene.stamps if s.benchmark == "under_control"] == [clock_time("14:05")]


def test_a_mayday_is_not_undone_by_a_word() -> None:
    fire = Incident()
    fire.at("14:12", Mayday(text="mayday"), "crew")
    assert fire.at("14:12:10", Undo(), "crew").refused is not None
    assert fire.scene.mayday_open


def test_undoing_the_close_opens_the_incident_again() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark("on_scene"))
    fire.at("14:40", Benchmark("command_terminated"))
    assert not fire.scene.open
    fire.at("14:41", Undo())
    assert fire.scene.open


def test_nothing_to_repeat() -> None:
    assert Incident().at("14:00", Repeat()).refused == "There is nothing to repeat yet."


def test_a_correction_that_changes_nothing_does_not_say_that_it_did() -> None:
    fire = Incident()
    fire.at("14:20", Benchmark("under_control"))
    fire.at("14:25", Benchmark("under_control"))  # logged already: nothing of it can be corrected
    told = fire.at("14:27", Correction((Benchmark("under_control", time=SaidTime(hour=14, minute=22)),)))
    assert told.lead == "Under control, 14:20: logged already."


def test_a_benchmark_is_taken_back_whoever_reported_it_and_its_clock_goes_on() -> None:
    fire = Incident()
    fire.at("14:05", Benchmark(benchmark="on_scene"))
    fire.at("14:22", Benchmark(benchmark="under_control"), role="driver")
    assert fire.times("14:22", "elapsed") == []
    told = fire.at("14:27", Undo(benchmark="under_control"))
    assert told.lead == "Taken back: Under control, 14:22."
    assert fire.times("14:27", "elapsed")[0] == "14:35:00"
    again = fire.at("14:28", Undo(benchmark="under_control"))
    assert again.refused == "“Under control” isn't logged in this incident: nothing to take back."
