"""Tender shuttles and drafting, by hand-worked numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import Draft, Shuttle
from tests.handlers.pumping.asking import answer, ask


def test_one_tender() -> None:
    """0.9 × 2,000 / (4 + 3 + 2 × (0.65 + 1.7 × 2)) = 119.2."""
    ours = answer(Shuttle(tank_gal=2000, distance_mi=2, fill_min=4, dump_min=3))
    assert ours["delivery_gpm"] == pytest.approx(1800 / 15.1)
    assert "tenders_needed" not in ours


def test_tenders_needed_for_a_flow() -> None:
    outcome = ask(Shuttle(tank_gal=3000, cycle_min=12, flow_gpm=500))
    assert outcome.answer_json["tenders_needed"] == 3  # 225 each
    assert outcome.lead == "3 tenders for 500 gpm"
    assert "A 3,000 gal portable tank lasts 6:00 at that flow; a load comes every 4:00." in outcome.how
    assert answer(Shuttle(tank_gal=3000, cycle_min=12, flow_gpm=450))["tenders_needed"] == 2
    assert answer(Shuttle(tank_gal=3000, cycle_min=12, tenders=3))["total_gpm"] == 675


def test_fill_dump_and_handling_are_assumed_and_told() -> None:
    outcome = ask(Shuttle(tank_gal=2000, distance_mi=2))
    assert outcome.assumed == ("filled at 1,000 gpm", "dumped at 1,000 gpm", "2 min to couple and set up")
    assert outcome.answer_json["cycle_min"] == pytest.approx(2 + 2 + 2 + 2 * 4.05)


@pytest.mark.parametrize("said", [Shuttle(2000, 4, True, 4, 3), Shuttle(2000, 2, False, 4, 3)])
def test_a_round_trip_is_both_ways(said: Shuttle) -> None:
    outcome = ask(said)
    assert outcome.answer_json["delivery_gpm"] == pytest.approx(1800 / 15.1)
    assert outcome.how[0].endswith("2 × 4 driving (2 mi each way)")


def test_long_lay_relay_and_shuttle_compared() -> None:
    """5 in for 2 miles at 500 gpm: 0.08 × 25 × 105.6 = 211 psi and 20 residual."""
    outcome = ask(Shuttle(distance_mi=2, flow_gpm=500, compare=True))
    ours = outcome.answer_json
    assert ours["long_lay_psi"] == pytest.approx(231.2)
    assert ours["relay_engines"] == 3
    assert any(told.startswith("Relay: 3 engines") for told in outcome.how)
    assert "This rig carries 1,000 ft of 5 in." in outcome.how


def test_shuttle_questions_and_refusals() -> None:
    question = ask(Shuttle()).question
    assert question is not None
    assert question.slot == "distance_mi"
    assert ask(Shuttle(tank_gal=-1, distance_mi=1)).refused
    assert ask(Shuttle(distance_mi=-1)).refused


def test_the_greatest_lift() -> None:
    """Two thirds of 33.9 ft at sea level; less air pressure higher up."""
    outcome = ask(Draft())
    assert outcome.answer_json["max_lift_ft"] == pytest.approx(22.6, abs=0.1)
    assert outcome.assumed == ("sea level", "water of 60 °F")
    assert answer(Draft(altitude_ft=5000))["max_lift_ft"] == pytest.approx(22.6 * 12.23 / 14.7, abs=0.1)
    assert answer(Draft(water_f=120))["max_lift_ft"] < outcome.answer_json["max_lift_ft"] - 3


def test_a_stated_lift_and_what_it_costs() -> None:
    assert answer(Draft(lift_ft=15))["feasible"] is True
    assert answer(Draft(lift_ft=30))["feasible"] is False
    assert ask(Draft(lift_ft=30)).lead == "30.0 ft: no, 22.5 ft at most"
    assert answer(Draft(lift_ft=30))["capacity_gpm"] == 0
    assert ask(Draft(lift_ft=12, flow_gpm=1500)).lead == "12.0 ft at 1,500 gpm: no, 10.0 ft at most"


@pytest.mark.parametrize(("lift", "share"), [(10, 1.0), (14, 0.875), (16, 0.8), (20, 0.585), (22, 0.425)])
def test_above_the_rated_lift_a_pump_gives_less_than_its_rating(lift: float, share: float) -> None:
    """Discharge at various lifts, of a 1,000 gpm pump with 5 in suction in the handbooks' table (memory)."""
    assert answer(Draft(lift_ft=lift))["capacity_gpm"] / 1500 == pytest.approx(share, abs=0.04)


def test_below_the_rated_lift_the_rating_is_not_gone_over() -> None:
    assert answer(Draft(lift_ft=5))["capacity_gpm"] == 1500


@given(st.floats(10.5, 22))
def test_the_lift_for_a_flow_is_the_flow_at_a_lift_turned_round(lift: float) -> None:
    capacity = answer(Draft(lift_ft=lift))["capacity_gpm"]
    assert capacity < 1500
    assert answer(Draft(flow_gpm=capacity))["max_lift_ft"] <= lift + 1e-6
    assert answer(Draft(lift_ft=lift, flow_gpm=capacity + 1))["feasible"] is False


@given(st.floats(0, 12_000), st.floats(32, 140), st.floats(10, 2000))
def test_less_air_warmer_water_and_more_flow_never_lift_higher(altitude: float, water: float, flow: float) -> None:
    best = answer(Draft())["max_lift_ft"]
    assert answer(Draft(altitude_ft=altitude, water_f=water, flow_gpm=flow))["max_lift_ft"] <= best


def test_check_lists() -> None:
    outcome = ask(Draft(checklist="lost_prime"))
    assert outcome.lead == "Lost prime: check"
    assert outcome.how[0].startswith("1. ")
    assert len(ask(Draft(checklist="cavitating")).how) == 5


@pytest.mark.parametrize(
    "command", [Draft(lift_ft=-3), Draft(altitude_ft=90_000), Draft(water_f=20), Draft(suction_in=9)]
)
def test_what_can_not_be_drafted_is_refused(command: Draft) -> None:
    assert ask(command).refused
