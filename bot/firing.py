"""Fires reminders: those whose time has come go to the outbox, and the rows that follow from them are planned."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime

from sqlalchemy.ext.asyncio import AsyncConnection

from bot import reminding
from bot.clock import Clock
from bot.directory import Directory
from bot.situation import House
from bot.store import places
from bot.store import reminders as rows
from bot.store.database import Store, lock, unbroken

TRIES = 3
AT_ONCE = 500
"""Reminders moved to the outbox in one transaction."""

_LOG = logging.getLogger(__name__)


class Firing:
    """Call `fire` when something is due; a row or an incident that fails holds up no other."""

    def __init__(self, store: Store, house: House, clock: Clock, told: Callable[[str | None], None]) -> None:
        self._store = store
        self._house = house
        self._clock = clock
        self._told = told
        self._to_plan: dict[str, int] = {}
        """Incidents whose planning failed, and how often: tried again with the next firings."""

    async def fire(self) -> datetime | None:
        """Hand every reminder whose time has come to the outbox; returns when the next one is due."""
        while True:
            next_at = await unbroken(self._fire_some())
            if next_at is None or next_at > self._clock.now():
                return next_at

    async def _fire_some(self) -> datetime | None:
        """One transaction's worth of due reminders, and the rows that follow from them."""
        now = self._clock.now()
        async with self._store.begin() as tx:
            if not self._store.one_writer:
                for incident in await rows.incidents_due(tx, now):
                    await lock(tx, f"incident/{incident}")
            told = await reminding.hand_over(tx, now, self._house.tz, AT_ONCE)
            to_plan = set(await reminding.to_plan_anew(tx, told, now)) | self._to_plan.keys()
            for incident in sorted(to_plan):
                await self._plan(tx, incident, now)
            next_at = await rows.next_due(tx)
        for incident in {row.incident for row in told}:
            self._told(incident)
        return next_at

    async def _plan(self, tx: AsyncConnection, incident: str, now: datetime) -> None:
        """Plan an incident's reminders anew; where that fails they stay as they were, and no other waits for it."""
        failed = self._to_plan.pop(incident, 0)
        try:
            async with tx.begin_nested():
                company = await self._house.logbook.lead(tx, incident)
                history = await self._house.logbook.history(tx, incident)
                directory = Directory(await places.of_incident(tx, incident), company, self._house.crew_room)
                rig = self._house.rigs.of(company)
                await reminding.bring_in_line(tx, incident, history.scene, rig, directory, now)
        except Exception:
            _LOG.exception("Reminders couldn't be planned", extra={"incident": incident, "tries": failed + 1})
            if failed + 1 < TRIES:  # after that the incident's next event plans them
                self._to_plan[incident] = failed + 1
