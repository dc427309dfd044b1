"""Time for the shell: the machine's clock, put right by the service's, and the simulated one of drills and tests.

Always aware UTC datetimes. What is said carries the service's time, so reminders must fire by that one too.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol

TOLERATED = timedelta(seconds=5)
"""A machine whose clock is off by more isn't followed: its people are warned."""


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

    def __init__(self, machine: Clock | None = None) -> None:
        self._machine = machine or RealClock()
        self.offset = timedelta(0)
        self.changed: list[Callable[[], None]] = []
        """Called when the offset has changed."""

    def now(self) -> datetime:
        return self._machine.now() + self.offset

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
        for tell in self.changed:
            tell()
        return True

    def answered(self, service: datetime, asked_at: datetime) -> bool:
        """Take in the time in an answer (cut to seconds) to what was asked at `asked_at` by the machine."""
        return self.learn(service - self.machine_now, service + timedelta(seconds=1) - asked_at)


def _within(offset: timedelta, least: timedelta | None, most: timedelta | None) -> bool:
    return (least is None or offset >= least - TOLERATED) and (most is None or offset <= most + TOLERATED)


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
