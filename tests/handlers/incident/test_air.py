"""A crew's air: from gauge readings where there are two, from the book's breathing rates where there aren't."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import AirReading, AirTime, Entry, Exit
from handlers.errors import Refusal
from handlers.incident.air import air_reminders, measured_rate, turnaround_psi
from handlers.scene import Gauge
from tests.handlers.fireground import DAY, Fireground, clock_time, seconds


def test_entry_starts_the_crews_clock_and_leads_with_its_unit() -> None:
    ground = Fireground()
    told = ground.at("14:10", Entry(unit="engine 9", count=2, gauge_psi=4500, place="second floor"))
    assert told.lead == "Engine 9 inside with 2, second floor, 14:10. Logged."
    assert "Turn around at the latest at 3,000 psi. Alarm as early as 14:22." in told.how
    assert "12 at 100, 15 at 80, 20 at 60, 30 at 40" in told.how[1]
    assert [crew.crew for crew in ground.scene.crews_inside] == ["engine 9"]


def test_the_second_reading_gives_the_rate() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    told = ground.at("14:15", AirReading(unit="engine 9", gauge_psi=3700))
    # 160 psi a minute: (3,700 − 1,500)/160 = 13.75 min after 14:15.
    assert told.lead == "Engine 9 at 3,700 psi. Alarm about 14:28, turn around by 3,000."
    assert "160 psi a minute by the gauges" in told.how[0]


def test_reminders_move_with_the_readings_and_end_with_the_exit() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    first = {r.name: r.at for r in air_reminders(ground.scene, ground.rig, ground.now)}
    assert first == {"turnaround": clock_time("14:16"), "alarm_expected": clock_time("14:22")}
    ground.at("14:15", AirReading(unit="engine 9", gauge_psi=4100))
    later = {r.name: r.at for r in air_reminders(ground.scene, ground.rig, ground.now)}
    # 80 psi a minute is less than 40 L/min (100 psi a minute): reckoned at that, 26 min to 1,500 psi.
    assert later == {"turnaround": clock_time("14:26"), "alarm_expected": clock_time("14:41")}
    ground.at("14:20", Exit(unit="engine 9"))
    assert air_reminders(ground.scene, ground.rig, ground.now) == []


def test_the_faster_of_the_last_interval_and_the_whole_entry_rules() -> None:
    gauges = (Gauge(DAY, 4500), Gauge(DAY + seconds(300), 4300), Gauge(DAY + seconds(420), 3900))
    assert measured_rate(gauges) == pytest.approx(200)


def test_readings_within_a_minute_give_no_rate() -> None:
    assert measured_rate((Gauge(DAY, 4500), Gauge(DAY + seconds(40), 4400))) is None
    three = (Gauge(DAY, 4500), Gauge(DAY + seconds(300), 3700), Gauge(DAY + seconds(330), 3700))
    assert measured_rate(three) == pytest.approx(800 / 5.5)


def test_an_entry_without_a_gauge_says_what_it_assumed() -> None:
    told = Fireground().at("14:10", Entry(unit="engine 9"))
    assert "no gauge was said: reckoned from a full 4,500 psi" in told.assumed
    assert any("lowest gauge" in line for line in told.cautions)


def test_short_count_at_the_exit_is_said_and_the_rest_stay_inside() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", count=3, gauge_psi=4500))
    told = ground.at("14:20", Exit(unit="engine 9", count=2))
    assert told.cautions == ("3 went in, 2 reported out: 1 not reported out.",)
    assert ground.scene.crews["engine 9"].inside
    assert ground.scene.crews["engine 9"].count == 1


@pytest.mark.parametrize("gauge", [6000, 10_000])
def test_more_than_a_full_cylinder_is_refused(gauge: float) -> None:
    with pytest.raises(Refusal, match="read it again"):
        Fireground().at("14:10", Entry(unit="engine 9", gauge_psi=gauge))


def test_a_rising_gauge_is_asked_about() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=3000))
    told = ground.at("14:15", AirReading(unit="engine 9", gauge_psi=4400))
    assert told.question is not None
    assert "a gauge doesn't rise. Were the cylinders changed?" in told.question.text
    assert told.question.choices[0].commands == (Exit("engine 9"), Entry("engine 9", gauge_psi=4400))
    assert ground.scene.crews["engine 9"].gauges[-1].psi == 3000


def test_at_the_alarm_the_reply_leads_with_it() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    told = ground.at("14:30", AirReading(unit="engine 9", gauge_psi=1450))
    assert told.lead == "Engine 9 at 1,450 psi: at or below the alarm, on the reserve."


def test_without_readings_the_shortest_time_leads() -> None:
    told = Fireground().at("14:10", AirTime())
    assert told.answer_json == pytest.approx(
        {"minutes_to_alarm": 12.0, "minutes_to_empty": 18.0, "turnaround_psi": 3000}
    )
    assert told.lead.startswith("Alarm expected in about 12 min, empty in about 18")


@given(start=st.floats(1600, 4500), alarm=st.floats(900, 1500), step=st.sampled_from([0.0, 50.0, 100.0]))
def test_turnaround_is_never_below_the_half_way_pressure(start: float, alarm: float, step: float) -> None:
    turn = turnaround_psi(start, alarm, step)
    assert turn >= (start + alarm) / 2 - 1e-6
    assert turn <= (start + alarm) / 2 + step + 1e-6


def test_a_low_air_alarm_without_a_gauge_gives_no_rate_and_later_readings_are_taken() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4400))
    told = ground.at("14:14", AirReading(unit="engine 9", low_air_alarm=True))
    assert told.lead == "LOW-AIR ALARM, Engine 9, 14:14: on the reserve. Logged."
    assert told.notices[0].to == ("officer",)
    later = ground.at("14:15", AirReading(unit="engine 9", gauge_psi=3000))
    assert "280 psi a minute by the gauges" in later.how[0]


def test_a_low_air_alarm_of_a_crew_that_was_never_logged_inside_is_taken() -> None:
    told = Fireground().at("14:14", AirReading(unit="engine 9", low_air_alarm=True))
    assert told.cautions[0] == "No entry of Engine 9 is on record."
