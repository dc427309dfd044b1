"""The running program: record, pipeline, outbox and timers put together for the rooms it serves."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path

from bot.clock import Clock, RealClock, ServiceClock
from bot.commands.incidents import keep_for
from bot.message.pipeline import Ears, Pipeline
from bot.message.situation import House
from bot.outbox import Outbox
from bot.outbox.attachments import Attachments
from bot.program.housekeeping import Housekeeping
from bot.program.kept_recordings import Recordings
from bot.reminders import Timers
from bot.rigs import Rigs
from bot.rooms import Room
from bot.second_reader import load_beside
from bot.settings import Settings
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.running import Running


class Station:
    """Open one with the rooms it serves, `start` it, hand messages to `pipeline`, `stop` it."""

    def __init__(
        self, store: Store, settings: Settings, rigs: Rigs, rooms: Sequence[Room], clock: Clock, ears: Ears | None
    ) -> None:
        self.store = store
        self.settings = settings
        self.rigs = rigs
        self.clock = clock
        self.house = House(rigs, Logbook(), settings.tz, settings.crew_room, settings.given_roles)
        self.outbox = Outbox(
            store,
            clock,
            settings.tz,
            rooms,
            Attachments(store, rigs, clock, settings.tz, piper=settings.voice == "piper"),
            crew_room=settings.crew_room,
        )
        self.pipeline = Pipeline(store, self.house, clock, ears, self.outbox)
        self.timers = Timers(self.pipeline.fire, clock)
        self.housekeeping = Housekeeping(store, self.house, clock, ears)
        if isinstance(clock, ServiceClock):
            clock.changed.append(self.housekeeping.poke)
        if settings.keep_recordings:
            self.pipeline.took.append(Recordings(Path(settings.keep_recordings).expanduser()).took)
        self.pipeline.wrote.append(self.outbox.poke)
        self.pipeline.planned.append(self.timers.poke)
        self._tasks: list[asyncio.Task[None]] = []
        self._running: Running | None = None

    @classmethod
    async def open(
        cls,
        settings: Settings,
        rigs: Rigs,
        rooms: Sequence[Room],
        *,
        clock: Clock | None = None,
        ears: Ears | None = None,
    ) -> Station:
        """Open the record named by the settings. Raises StoreError, also when another program serves it already."""
        running = Running(settings.database_url)
        try:
            store = await Store.open(settings.database_url)
        except BaseException:
            running.end()
            raise
        station = cls(store, settings, rigs, rooms, clock or RealClock(), ears)
        station._running = running
        return station

    async def start(self) -> None:
        """Serve at once, and go on beside that where the last run ended."""
        for work in (self.timers.run(), self.outbox.run(), self.housekeeping.run()):
            self._tasks.append(asyncio.create_task(work))
        if self.settings.learned_reader:
            self._tasks.append(asyncio.create_task(load_beside(self.settings)))
        if self.settings.keep_days:
            keeping = keep_for(self.store, self.clock, self.settings.keep_days)
            self._tasks.append(asyncio.create_task(keeping))
        await self.pipeline.recover()
        if not self.store.one_writer:
            self._tasks.append(asyncio.create_task(self.pipeline.look_again()))

    async def stop(self) -> None:
        """Finish what is at hand and close the record; what is left goes on at the next start."""
        await self.pipeline.stop()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        await self.outbox.stop()
        await self.store.close()
        if self._running is not None:
            self._running.end()
