"""One clock for due times and firing: the service's, where the machine's is off; and a wake-up none stalls."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot import reminders
from bot.clock import TOLERATED, ServiceClock, SimulatedClock
from bot.reminders import Timers
from tests.bot.conftest import NOON

SECOND = timedelta(seconds=1)


@given(
    st.floats(-7200, 7200),
    st.lists(st.tuples(st.floats(0, 50), st.floats(0, 1), st.floats(0, 0.999)), min_size=1, max_size=8),
)
def test_it_comes_within_what_is_tolerated_of_the_service_and_leaves_no_right_machine(
    ahead_s: float, answers: list[tuple[float, float, float]]
) -> None:
    """Answers take up to 50 s (a long poll), `share` of that after the service told the time, cut to seconds."""
    machine = SimulatedClock(NOON)
    clock = ServiceClock(machine)
    for took_s, share, part in [*answers, (0.1, 0.5, 0.5)]:
        asked_at = machine.now()
        machine.advance(took_s * (1 - share))
        told = machine.now() + timedelta(seconds=ahead_s)
        told = told.replace(microsecond=0) if part else told
        machine.advance(took_s * share)
        clock.answered(told.replace(microsecond=0), asked_at)
    error = clock.now() - machine.now() - timedelta(seconds=ahead_s)
    assert abs(error) <= TOLERATED + 2 * SECOND
    if abs(ahead_s) < TOLERATED.total_seconds():
        assert clock.offset == timedelta(0)


def test_a_message_from_the_future_shows_that_the_machine_is_slow() -> None:
    clock = ServiceClock(SimulatedClock(NOON))
    assert not clock.was_said(NOON - timedelta(hours=2))
    assert not clock.was_said(NOON + timedelta(seconds=4))
    assert not clock.was_said(datetime.max.replace(tzinfo=UTC))
    assert clock.was_said(NOON + timedelta(seconds=40))
    assert clock.now() == NOON + timedelta(seconds=40)
    assert clock.answered(NOON, NOON), "an answer's own time is believed first"
    assert not clock.was_said(NOON + timedelta(days=400))
    assert clock.now() == NOON


def test_a_machine_that_was_put_right_is_followed_again() -> None:
    machine = SimulatedClock(NOON)
    clock = ServiceClock(machine)
    assert clock.answered(NOON + timedelta(hours=1), NOON)
    machine.advance(3600)
    assert clock.answered(machine.now(), machine.now())
    assert clock.offset == timedelta(0)


async def test_the_clock_set_back_while_it_waits_stalls_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reminders, "LOOK_AGAIN_S", 0.01)
    fired = asyncio.Event()
    looks = 0

    class Set:
        def now(self) -> datetime:
            return NOON - timedelta(hours=1) if looks else NOON  # set back after the first look

    async def fire() -> datetime | None:
        nonlocal looks
        looks += 1
        if looks == 3:
            fired.set()
        return NOON + timedelta(minutes=10)

    running = asyncio.create_task(Timers(fire, Set()).run())
    async with asyncio.timeout(20):
        await fired.wait()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    assert looks >= 3  # and not one, and the next an hour later


async def test_what_couldnt_be_told_is_tried_again(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(reminders, "LOOK_AGAIN_S", 0.01)
    fired = asyncio.Event()
    tries = 0

    async def fire() -> datetime | None:
        nonlocal tries
        tries += 1
        if tries == 1:
            raise OSError("disk full")
        fired.set()
        return None

    running = asyncio.create_task(Timers(fire, SimulatedClock(NOON)).run())
    async with asyncio.timeout(20):
        await fired.wait()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    assert "trying again" in caplog.text


def test_a_clock_that_is_set_while_it_runs_isnt_followed_before_the_service_says_so() -> None:
    machine, steady = SimulatedClock(NOON), [0.0]
    clock = ServiceClock(machine, lambda: steady[0])
    for hour in (1, 2):  # an hour forward at once, with a second going by
        machine.advance(3601)
        steady[0] += 1
        assert clock.now() == NOON + timedelta(seconds=hour)
    assert clock.offset == -timedelta(hours=2)
    service = NOON + timedelta(hours=2, seconds=2)  # the machine was two hours slow before, and is right now
    assert clock.answered(service, machine.now())
    assert clock.now() == machine.now()


def test_time_that_goes_by_is_no_setting_of_the_clock() -> None:
    machine, steady = SimulatedClock(NOON), [0.0]
    clock = ServiceClock(machine, lambda: steady[0])
    machine.advance(8 * 3600)  # asleep, which the steady clock counts too
    steady[0] += 8 * 3600
    assert clock.now() == machine.now()
