"""A replay of 300 real incidents: notices 10, 20, 30 … min after arrival until under control, exactly, none after."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from handlers.events import BenchmarkReported, Event, EventBody, IncidentOpened
from handlers.history import History
from handlers.reminders import due
from tests.handlers.fireground import demo_rig
from tests.published.toronto import TORONTO, RealIncident, incidents

RIG = demo_rig()
TEN = timedelta(minutes=10)
ALL = incidents()


def event(seq: int, at: datetime, body: EventBody) -> Event:
    return Event("replay", seq, at, at, "officer", "engine 12", "yard", f"m{seq}", 0, body)


def told(real: RealIncident) -> list[datetime]:
    """When `elapsed` is told: what is planned from arrival to the control, and whatever is planned after it."""
    log = History()
    log.add(event(1, real.alarm, IncidentOpened()))
    log.add(event(2, real.alarm, BenchmarkReported(benchmark="dispatched")))
    log.add(event(3, real.arrival, BenchmarkReported(benchmark="on_scene")))
    times: list[datetime] = []
    now = real.arrival
    while now < real.control:  # the shell plans anew after each telling
        planned = [r.at for r in due(log.scene, RIG, now) if r.name == "elapsed" and now < r.at < real.control]
        times += planned[:1]
        now = planned[0] if planned else real.control
    log.add(event(4, real.control, BenchmarkReported(benchmark="under_control")))
    after = [r.at for r in due(log.scene, RIG, real.control) if r.name == "elapsed"]
    return times + after


@pytest.mark.parametrize("real", ALL, ids=lambda real: real.id)
def test_every_ten_minutes_on_scene_until_under_control(real: RealIncident) -> None:
    expected = []
    at = real.arrival + TEN
    while at < real.control:
        expected.append(at)
        at += TEN
    assert told(real) == expected


def test_the_sample_crosses_midnight() -> None:
    across = [r for r in ALL if r.arrival.astimezone(TORONTO).date() != r.control.astimezone(TORONTO).date()]
    assert len(ALL) == 300
    assert across
    assert any(told(real) for real in across)


@pytest.mark.parametrize("night", ["2018-03-11T06:30:00+00:00", "2018-11-04T05:30:00+00:00"])
def test_on_the_nights_of_a_clock_change_real_minutes_count(night: str) -> None:
    """The sample spans no clock change (8 of all 17,536 incidents do), so its longest are moved onto both nights."""
    longest = sorted(ALL, key=lambda r: r.arrival - r.control)[:5]
    start = datetime.fromisoformat(night)
    for real in longest:
        shift = start - real.arrival
        moved = RealIncident(
            real.id, *(getattr(real, t) + shift for t in ("alarm", "arrival", "agent", "control", "clear"))
        )
        before, after = (at.astimezone(TORONTO).utcoffset() for at in (moved.arrival, moved.control))
        assert before != after
        assert told(moved) == [at + shift for at in told(real)]
