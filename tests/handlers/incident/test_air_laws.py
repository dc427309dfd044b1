"""Laws of a crew's air: what can't be so is asked, no alarm later than at 40 L/min, one turnaround in every answer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from grammar.commands import AirReading, AirTime, Entry, Exit, SaidTime
from handlers.incident.air import BREATHES_LPM, RATED_LPM, air_reminders, outlook
from handlers.rig import Rig
from tests.handlers.fireground import DAY, demo_rig
from tests.handlers.playing import Incident

RIG = demo_rig()
OWN = RIG.air.cylinders[0]
PSI_AT_RATING = RATED_LPM * OWN.pressure_psi / OWN.air_l
PSI_AT_LEAST = BREATHES_LPM * OWN.pressure_psi / OWN.air_l
"""psi a minute of a 4,500 psi, 1,800 L cylinder: 100 at 40 L/min, 50 at 20 L/min."""


def after(minutes: float) -> object:
    return DAY + timedelta(minutes=minutes)


GAUGES = st.integers(15, 90).map(lambda n: n * 50.0)
MINUTES = st.integers(1, 25)


def inside(start: float, rig: Rig = RIG) -> Incident:
    fire = Incident(rig)
    fire.at(DAY, Entry(unit="engine 9", count=2, gauge_psi=start))
    return fire


@given(start=GAUGES, later=GAUGES, minutes=MINUTES)
def test_a_reading_is_taken_only_when_somebody_can_have_breathed_it(start: float, later: float, minutes: int) -> None:
    fire = inside(start)
    told = fire.at(DAY + timedelta(minutes=minutes), AirReading(later, "engine 9"))
    possible = start - later >= PSI_AT_LEAST * minutes
    assert (told.question is None) == possible
    taken = [gauge.psi for gauge in fire.scene.crews["engine 9"].gauges]
    assert taken == ([start, later] if possible else [start])


@given(start=GAUGES, drops=st.lists(st.tuples(MINUTES, st.integers(1, 30)), max_size=4))
def test_no_alarm_is_expected_later_than_at_the_cylinders_rating(start: float, drops: list[tuple[int, int]]) -> None:
    fire, now, gauge = inside(start), DAY, start
    for minutes, fall in drops:
        now, gauge = now + timedelta(minutes=minutes), gauge - fall * 50
        assume(gauge > 0)
        fire.at(now, AirReading(gauge, "engine 9", sure=True))
    crew = fire.scene.crews["engine 9"]
    last = crew.gauges[-1]
    _turn, alarm_at, _rate, _measured = outlook(crew, RIG)
    latest = last.at + timedelta(minutes=max(0.0, (last.psi - OWN.alarm_psi) / PSI_AT_RATING))
    assert alarm_at <= latest + timedelta(milliseconds=1)
    for reminder in air_reminders(fire.scene, RIG, fire.now):
        assert reminder.at <= latest + timedelta(milliseconds=1)


@given(start=GAUGES, later=GAUGES, minutes=st.floats(0.5, 30))
def test_a_calculation_asks_and_hurries_as_a_crews_clock_does(start: float, later: float, minutes: float) -> None:
    told = Incident().at(DAY, AirTime(start_psi=start, gauge_psi=later, minutes=minutes))
    slow = minutes >= 1 and start - later < PSI_AT_LEAST * minutes - 1e-6
    if later > start or slow:
        assert told.question is not None
        return
    if start - later < PSI_AT_LEAST * minutes + 1e-6:
        return  # on the edge
    assert told.answer_json["minutes_to_alarm"] <= max(0.0, later - OWN.alarm_psi) / PSI_AT_RATING + 1e-6


@given(start=GAUGES)
def test_the_turnaround_is_the_same_however_it_is_asked(start: float) -> None:
    fire = Incident()
    entry = fire.at(DAY, Entry(unit="engine 9", gauge_psi=start))
    by_crew = fire.at(DAY, AirTime(unit="engine 9"))
    alone = Incident().at(DAY, AirTime(start_psi=start))
    psi = (start + OWN.alarm_psi) / 2
    assert entry.answer_json["turnaround_psi"] == pytest.approx(psi)
    assert by_crew.answer_json["turnaround_psi"] == pytest.approx(psi)
    assert alone.answer_json["turnaround_psi"] == pytest.approx(psi)


@given(start=GAUGES)
def test_an_entry_at_or_below_the_alarm_is_cautioned(start: float) -> None:
    told = Incident().at(DAY, Entry(unit="engine 9", gauge_psi=start))
    cautioned = any("low-air alarm" in line and "reserve" in line for line in told.cautions)
    assert cautioned == (start <= OWN.alarm_psi)


@given(minutes=st.sampled_from([30.0, 45.0, 60.0]), gauge=st.integers(60, 90).map(lambda n: n * 50.0))
def test_an_entry_with_its_cylinders_rating_keeps_its_gauge(minutes: float, gauge: float) -> None:
    fire = Incident()
    fire.at(DAY, Entry(unit="engine 9", gauge_psi=gauge, rated_min=minutes))
    crew = fire.scene.crews["engine 9"]
    assert (crew.gauges[0].psi, crew.rated_min) == (gauge, minutes)
    _turn, alarm_at, rate, _ = outlook(crew, fire.rig)
    assert rate == pytest.approx(100 * crew.cylinder_psi / (40 * minutes))
    assert alarm_at == DAY + timedelta(minutes=(gauge - OWN.alarm_psi) / rate)


def test_a_later_reading_is_no_start() -> None:
    """Reckoned from a full cylinder: (4,500 + 1,500)/2, whatever is read later."""
    fire = Incident()
    fire.at(DAY, Entry(unit="engine 9"))
    told = fire.at(DAY + timedelta(minutes=5), AirReading(3600, "engine 9"))
    assert told.answer_json["turnaround_psi"] == 3000


@given(entered=st.integers(10, 50), out=st.integers(0, 59))
def test_an_exit_before_the_entry_or_to_come_is_asked_and_never_computed(entered: int, out: int) -> None:
    fire = Incident()
    fire.at(DAY + timedelta(minutes=1), Entry(unit="truck 4"))
    fire.at(DAY + timedelta(minutes=entered), Entry(unit="engine 9"))
    now = DAY + timedelta(minutes=55)
    told = fire.at(now, Exit(unit="engine 9", time=SaidTime(hour=14, minute=out)))
    if out < entered or out > 56:
        assert told.question is not None
        assert fire.scene.crews["engine 9"].inside
    elif out <= 55:
        assert told.answer_json["inside_s"] == (out - entered) * 60


@pytest.mark.parametrize("command", [Entry(unit="engine 9"), Exit(unit="truck 4"), AirReading(4000, "truck 4")])
def test_a_time_before_the_incident_is_asked(command: Entry | Exit | AirReading) -> None:
    fire = Incident()
    fire.at(DAY, Entry(unit="truck 4", gauge_psi=4500))
    early = type(command)(
        **{**{f: getattr(command, f) for f in command.__struct_fields__}, "time": SaidTime(hour=13, minute=40)}
    )
    told = fire.at(DAY + timedelta(minutes=5), early)
    assert told.question is not None
    assert "before this incident" in told.question.text


def test_the_air_clock_of_a_crew_that_is_inside_is_not_started_anew_by_a_word() -> None:
    fire = inside(4500)
    told = fire.at(DAY + timedelta(minutes=6), Entry(unit="engine 9", place="second floor"))
    assert told.lead == "Engine 9 is logged inside since 14:00: its air clock runs on."
    assert fire.scene.crews["engine 9"].entered_at == DAY
