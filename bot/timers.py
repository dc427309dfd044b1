"""The wake-up: one for the next reminder that is due, held by APScheduler in memory; the reminders are rows."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Coroutine
from datetime import datetime
from typing import Any

from bot.store.database import unbroken

LOOK_AGAIN_S = 5
"""How often the rows are looked at anyway: another program may have written some."""

_LOG = logging.getLogger(__name__)


class Timers:
    """Calls `fire`, which tells what is due and says when the next one is, at the right moments."""

    def __init__(self, fire: Callable[[], Coroutine[Any, Any, datetime | None]]) -> None:
        from apscheduler.schedulers.asyncio import AsyncIOScheduler

        self._fire = fire
        self._poked = asyncio.Event()
        self._scheduler = AsyncIOScheduler(timezone="UTC", job_defaults={"misfire_grace_time": None, "coalesce": True})

    def start(self) -> None:
        """Take up the clock; `run` does the rest."""
        self._scheduler.add_job(self._wake, "interval", seconds=LOOK_AGAIN_S)
        self._scheduler.start()

    def stop(self) -> None:
        self._scheduler.shutdown(wait=False)

    def poke(self) -> None:
        """The rows may have changed."""
        self._poked.set()

    async def run(self) -> None:
        """Tell what is due, then wait for the next, for ever."""
        planned: datetime | None = None
        while True:
            self._poked.clear()
            try:
                at = await unbroken(self._fire())
            except Exception:
                _LOG.exception("The reminders couldn't be told; trying again within %s s", LOOK_AGAIN_S)
            else:
                if at is not None and at != planned:
                    self._scheduler.add_job(self._wake, "date", run_date=at, id="next", replace_existing=True)
                planned = at
            await self._poked.wait()

    async def _wake(self) -> None:
        self._poked.set()
