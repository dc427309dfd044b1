"""Time for the shell: the real clock, and the simulated one of drills and tests. Always aware UTC datetimes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What the shell asks the time of."""

    def now(self) -> datetime: ...


class RealClock:
    """The machine's clock."""

    def now(self) -> datetime:
        return datetime.now(UTC)


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
