"""Time for the shell: the machine's clock, put right by the service's, and the simulated one of drills and tests.

Always aware UTC datetimes. What is said carries the service's time, so reminders must fire by that one too.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol, TypeAlias

Steady: TypeAlias = Callable[[], float]

TOLERATED = timedelta(seconds=5)
"""A machine whose clock is off by more isn't followed: its people are warned."""
BELIEVED = timedelta(days=366)
"""A message that is further ahead of the machine says nothing about its clock."""


class Clock(Protocol):
    """What the shell asks the time of."""

    def now(self) -> datetime: ...


class RealClock:
    """The machine's clock."""

    def now(self) -> datetime:
        return datetime.now(UTC)


class ServiceClock:
    """The machine's clock while it agrees with the service's; else put right by what the service says.

    `offset`: what has to be added to the machine's time (zero while they agree within TOLERATED).
    """

    def __init__(self, machine: Clock | None = None, steady: Steady | None = None) -> None:
        """`steady`: seconds that nobody sets; by default the machine's own, where it has one that counts its sleep."""
        self._machine = machine or RealClock()
        self._steady = steady or (_seconds_since_boot() if machine is None else None)
        self._seen = self._look()
        self.offset = timedelta(0)
        self._answered = False
        self.changed: list[Callable[[], None]] = []
        """Called when the offset has changed."""

    def now(self) -> datetime:
        """The machine's clock being set meanwhile isn't followed: whether it is right now, the service tells."""
        before, self._seen = self._seen, self._look()
        set_by = (self._seen[0] - before[0]) - (self._seen[1] - before[1])
        if self._steady is not None and abs(set_by) > TOLERATED:
            self.offset -= set_by
            self._tell()
        return self._seen[0] + self.offset

    def _look(self) -> tuple[datetime, timedelta]:
        return self._machine.now(), timedelta(seconds=self._steady() if self._steady is not None else 0.0)

    def _tell(self) -> None:
        for tell in self.changed:
            tell()

    @property
    def machine_now(self) -> datetime:
        """The machine's own time."""
        return self._machine.now()

    def learn(self, least: timedelta | None, most: timedelta | None) -> bool:
        """Take a measurement in: the service is between `least` and `most` ahead of the machine (None: not known).

        Returns whether the offset has changed.
        """
        before = self.offset
        for offset in (timedelta(0), before):
            if _within(offset, least, most):
                self.offset = offset
                break
        else:
            bound = least if least is not None and before < least else most
            self.offset = bound if bound is not None else before
        if self.offset == before:
            return False
        self._tell()
        return True

    def answered(self, service: datetime, asked_at: datetime) -> bool:
        """Take in the time in an answer (cut to seconds) to what was asked at `asked_at` by the machine."""
        self._answered = True
        return self.learn(service - self.machine_now, service + timedelta(seconds=1) - asked_at)

    def was_said(self, at: datetime) -> bool:
        """Take in a message's time: nothing is said after now. Counts only while no answer had a time."""
        ahead = at - self.machine_now
        return not self._answered and ahead < BELIEVED and self.learn(ahead, None)


class LocalClock(ServiceClock):
    """The machine's clock where no service tells the time. That it is set meanwhile is noticed, and isn't followed.

    What was said and what is due stay as far apart as they were; whether it was right before or is right now, people
    must say.
    """


def _within(offset: timedelta, least: timedelta | None, most: timedelta | None) -> bool:
    return (least is None or offset >= least - TOLERATED) and (most is None or offset <= most + TOLERATED)


def _seconds_since_boot() -> Steady | None:
    boottime = getattr(time, "CLOCK_BOOTTIME", None)
    return None if boottime is None else lambda: time.clock_gettime(boottime)


class SimulatedClock:
    """A clock that stands still until it is moved."""

    def __init__(self, start: datetime) -> None:
        self._now = start

    def now(self) -> datetime:
        return self._now

    def move_to(self, at: datetime) -> None:
        """Go on to `at` (never back)."""
        self._now = max(self._now, at)

    def advance(self, seconds: float) -> None:
        self.move_to(self._now + timedelta(seconds=seconds))
