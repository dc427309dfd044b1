"""Medical clocks announce intervals from what was reported and order nothing."""

from __future__ import annotations

import pytest

from grammar.commands import Arrest, HandOver, OxygenTime, SaidTime
from handlers.errors import Refusal
from handlers.medical.arrest import arrest_reminders
from tests.handlers.fireground import Fireground, clock_time


def test_two_minute_marks_run_from_the_start_of_cpr() -> None:
    ground = Fireground()
    told = ground.at("09:10", Arrest(action="cpr_started"))
    assert told.lead == "CPR started 09:10:00. Rhythm check and compressor change 09:12:00."
    checks = [r.at for r in arrest_reminders(ground.scene, ground.rig, ground.now)]
    assert checks[:3] == [clock_time("09:12"), clock_time("09:14"), clock_time("09:16")]


def test_a_shock_starts_the_two_minutes_again() -> None:
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started"))
    ground.at("09:12:20", Arrest(action="shock", joules=200))
    checks = [r.at for r in arrest_reminders(ground.scene, ground.rig, ground.now)]
    assert checks[0] == clock_time("09:14:20")


def test_the_epinephrine_window_runs_from_the_last_dose() -> None:
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started"))
    told = ground.at("09:14:30", Arrest(action="epinephrine"))
    assert told.lead == "Epinephrine, dose 1, logged 09:14:30. Window 09:17:30 to 09:19:30."
    window = [r.at for r in arrest_reminders(ground.scene, ground.rig, ground.now) if r.name == "epi_window"]
    assert window == [clock_time("09:17:30"), clock_time("09:19:30")]


def test_pulses_back_ends_the_reminders() -> None:
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started"))
    ground.at("09:20", Arrest(action="pulses_back"))
    assert arrest_reminders(ground.scene, ground.rig, ground.now) == []


def test_a_stated_past_time_is_where_the_clock_starts() -> None:
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started", time=SaidTime(ago_s=90)))
    assert arrest_reminders(ground.scene, ground.rig, ground.now)[0].at == clock_time("09:10:30")


def test_it_orders_nothing() -> None:
    ground = Fireground()
    for when, action in (("09:10", "cpr_started"), ("09:14", "epinephrine"), ("09:16", "shock")):
        told = ground.at(when, Arrest(action=action))  # type: ignore[arg-type]
        assert "medical direction decide" in " ".join(told.cautions)
        assert "give" not in told.reply.casefold()


def test_hand_over_tells_what_was_reported() -> None:
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started"))
    ground.at("09:14:30", Arrest(action="epinephrine"))
    ground.at("09:16", Arrest(action="shock"))
    told = ground.at("09:25", HandOver())
    assert told.how == (
        "CPR started 09:10:00.",
        "Epinephrine 1: 09:14:30.",
        "Shocks 1: 09:16:00.",
        "CPR time so far 15:00.",
    )


def test_hand_over_of_nothing_is_refused() -> None:
    with pytest.raises(Refusal):
        Fireground().at("09:25", HandOver())


def test_oxygen_names_its_factor_and_rounds_down() -> None:
    told = Fireground().at("09:25", OxygenTime(cylinder="D", gauge_psi=2000, flow_lpm=15))
    assert told.lead == "About 19 min of oxygen, by calculation."
    assert "factor 0.16" in told.assumed[0]


def test_a_cylinder_called_by_its_water_gives_that_at_each_bar() -> None:
    """(150 bar − 13.79) × 2 L ÷ 4 L/min; 150 bar = 2175.57 psi."""
    told = Fireground().at("09:25", OxygenTime(cylinder="2 L", gauge_psi=150 * 14.503773773, flow_lpm=4))
    assert told.lead == "About 68 min of oxygen, by calculation."


def test_oxygen_asks_what_is_missing_and_refuses_zero_flow() -> None:
    ground = Fireground()
    asked = ground.at("09:25", OxygenTime(gauge_psi=2000, flow_lpm=15))
    assert asked.question is not None
    assert [choice.label for choice in asked.question.choices][:2] == ["D", "E"]
    with pytest.raises(Refusal, match="above zero"):
        ground.at("09:25", OxygenTime(cylinder="D", gauge_psi=2000, flow_lpm=0))


def test_at_the_residual_the_cylinder_is_to_be_changed() -> None:
    told = Fireground().at("09:25", OxygenTime(cylinder="D", gauge_psi=200, flow_lpm=10))
    assert told.lead == "Change the oxygen cylinder."


def test_cpr_time_ends_with_the_first_end_and_both_are_told() -> None:
    ground = Fireground()
    ground.at("09:00:10", Arrest(action="cpr_started"))
    ground.at("09:10", Arrest(action="cpr_stopped"))
    ground.at("09:15", Arrest(action="pulses_back"))
    told = ground.at("09:20", HandOver())
    assert told.how == (
        "CPR started 09:00:10.",
        "CPR stopped 09:10:00.",
        "Pulses back 09:15:00.",
        "CPR time so far 9:50.",
        "CPR fraction 100 % of 9:50: no pause was reported.",
    )
