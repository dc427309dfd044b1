"""A whole day on the simulated clock: memory stays flat, nothing is left over."""

from __future__ import annotations

import gc
import random
import tempfile
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta

import psutil

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.message.pipeline import Pipeline
from bot.message.situation import House
from bot.outbox import Outbox
from bot.rooms.scripted import ScriptedRoom
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.reminders import next_due
from tests.faults.counts import Counts


class Day:
    """The pipeline on a file, a simulated clock, and one incident after the other."""

    def __init__(self, store: Store, clock: SimulatedClock) -> None:
        self.store, self.clock = store, clock
        self.room = ScriptedRoom("yard")
        self.pipeline = Pipeline(store, House(rigs.load(), Logbook(), UTC), clock)
        self.outbox = Outbox(store, clock, UTC, [self.room])
        self.told = self.said = 0

    async def say(self, who: str, words: str) -> None:
        self.said += 1
        message = Message(f"yard:{who}", str(self.said), who, self.clock.now(), words, role=who, addressed=True)  # type: ignore[arg-type]
        await self.pipeline.say(message)
        await self._send()

    async def _send(self) -> None:
        await self.outbox.drain()
        self.told += len(self.room.told)
        self.room.told.clear()
        self.room.take()

    async def run_to(self, end: datetime) -> None:
        while True:
            async with self.store.begin() as tx:
                at = await next_due(tx)
            if at is None or at >= end:
                break
            self.clock.move_to(at)
            await self.pipeline.fire()
            await self._send()
        self.clock.move_to(end)

    async def incident(self, chance: random.Random) -> None:
        """Twenty-five minutes of a fire, closed at its end."""
        start = self.clock.now()
        lines = [
            (0, "officer", "engine 12 on scene"), (1, "driver", "charge crosslay 1"),
            (2, "crew", "engine 12 in with two at 4500"), (3, "officer", "water on the fire"),
            *((4 + n, "driver", f"remind me in {n + 1} minutes to check hose {n}") for n in range(5)),
            *((9 + n, "driver", f"tank time at {chance.randrange(60, 400)} gpm") for n in range(5)),
            (14, "driver", "on the hydrant"), (18, "crew", "engine 12 out at 2000"), (20, "officer", "under control"),
            (22, "driver", "shut down crosslay 1"), (25, "officer", "command terminated"),
        ]  # fmt: skip
        for minute, who, words in lines:
            await self.run_to(start + timedelta(minutes=minute))
            await self.say(who, words)


async def day(every_min: int) -> Counts:
    """24 hours with an incident every so many minutes; memory after each hour."""
    counts, chance = Counts(f"a day on the simulated clock, an incident every {every_min} min"), random.Random(61)
    process, start = psutil.Process(), datetime(2026, 3, 7, 0, 0, tzinfo=UTC)
    memory_mb: list[float] = []
    objects: list[int] = []
    with tempfile.TemporaryDirectory() as folder:
        store = await Store.open(f"sqlite:///{folder}/record.sqlite")
        life = Day(store, SimulatedClock(start))
        try:
            for number in range(24 * 60 // every_min):
                await life.run_to(start + timedelta(minutes=every_min * number))
                await life.incident(chance)
                gc.collect()
                memory_mb.append(process.memory_info().rss / 1e6)
                objects.append(len(gc.get_objects()))
            async with store.begin() as tx:
                left = await next_due(tx)
        finally:
            await life.pipeline.stop()
            await store.close()
    half = len(memory_mb) // 2
    counts.tried("incidents", len(memory_mb))
    counts.tried("messages", life.said)
    counts.tried("things told", life.told)
    counts.none("reminders left that fell due within the day", int(left is not None and left < life.clock.now()))
    counts.at_most("memory grown in the second half of the day, MB", memory_mb[-1] - memory_mb[half], 5)
    counts.at_most("objects grown in the second half of the day, %", 100 * (objects[-1] / objects[half] - 1), 5)
    return counts


async def run(full: bool) -> AsyncIterator[Counts]:
    """48 incidents in 24 hours; in short 8."""
    yield await day(30 if full else 180)
