"""The wake-up: one for the next reminder that is due, held by APScheduler in memory; the reminders are rows."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable
from datetime import datetime

from bot.clock import Clock
from bot.store.database import Store, unbroken
from bot.store.reminders import next_due

LOOK_AGAIN_S = 5
"""How often the rows are looked at anyway: another program may have written some."""

_LOG = logging.getLogger(__name__)


class Timers:
    """Calls `fire` when the next row is due."""

    def __init__(self, store: Store, clock: Clock, fire: Callable[[], Awaitable[None]]) -> None:
        from apscheduler.schedulers.asyncio import AsyncIOScheduler

        self._store = store
        self._clock = clock
        self._fire = fire
        self._next: datetime | None = None
        self._scheduler = AsyncIOScheduler(
            timezone="UTC", job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        )

    async def start(self) -> None:
        """Tell what is overdue, then wake for what comes."""
        self._scheduler.start()
        self._scheduler.add_job(self._wake, "interval", seconds=LOOK_AGAIN_S, id="look again")
        await self._wake()

    def stop(self) -> None:
        self._scheduler.shutdown(wait=False)

    async def look(self) -> None:
        """The rows have changed: set the wake-up for the earliest."""
        at = await unbroken(self._next_due())
        if at == self._next:
            return
        self._next = at
        if at is None:
            if self._scheduler.get_job("next") is not None:
                self._scheduler.remove_job("next")
        else:
            self._scheduler.add_job(self._wake, "date", run_date=at, id="next", replace_existing=True)

    async def _next_due(self) -> datetime | None:
        async with self._store.begin() as tx:
            return await next_due(tx)

    async def _wake(self) -> None:
        try:
            await self._fire()
            self._next = None
            await self.look()
        except Exception:
            _LOG.exception("The reminders couldn't be told; trying again in %s s", LOOK_AGAIN_S)
