"""Time for the shell: the real clock, and the simulated one of drills and tests. Always aware UTC datetimes."""

from __future__ import annotations

import asyncio
import heapq
import itertools
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What the shell asks the time of; every wait goes through `sleep`."""

    def now(self) -> datetime: ...

    async def sleep(self, seconds: float) -> None: ...


class RealClock:
    """The machine's clock."""

    def now(self) -> datetime:
        return datetime.now(UTC)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(seconds)


class SimulatedClock:
    """A clock that stands still until it is moved; moving it wakes the sleepers whose time has come, in order."""

    def __init__(self, start: datetime) -> None:
        self._now = start
        self._sleepers: list[tuple[datetime, int, asyncio.Event]] = []
        self._order = itertools.count()

    def now(self) -> datetime:
        return self._now

    async def sleep(self, seconds: float) -> None:
        woken = asyncio.Event()
        heapq.heappush(self._sleepers, (self._now + timedelta(seconds=seconds), next(self._order), woken))
        await woken.wait()

    def move_to(self, at: datetime) -> None:
        """Go on to `at` (never back)."""
        self._now = max(self._now, at)
        while self._sleepers and self._sleepers[0][0] <= self._now:
            heapq.heappop(self._sleepers)[2].set()

    def advance(self, seconds: float) -> None:
        self.move_to(self._now + timedelta(seconds=seconds))
