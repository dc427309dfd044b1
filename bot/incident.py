"""An incident in memory on a clock that its caller moves, by the real pipeline: what drills and tests are played on."""

from __future__ import annotations

from collections.abc import AsyncIterator, Collection
from datetime import datetime, tzinfo

from bot.clock import SimulatedClock
from bot.message import Message, Outgoing
from bot.message.pipeline import Pipeline
from bot.message.reply import Handled
from bot.message.situation import House
from bot.outbox import Outbox
from bot.rigs import Rigs
from bot.rooms.scripted import ScriptedRoom
from bot.store import places
from bot.store.database import MEMORY, Store
from bot.store.logbook import Logbook
from bot.store.places import Place
from bot.store.reminders import next_due
from grammar.commands import Role
from handlers.history import History

KIND = "drill"
ROLES: dict[str, Role] = {"driver": "driver", "officer": "officer", "crew": "crew"}


class Incident:
    """Each role and each unit has a room of its own, named like it. `say` things, let the clock `run_to` a time."""

    def __init__(self, known: Rigs, tz: tzinfo, start: datetime, people: Collection[str] = ()) -> None:
        """`start`: where the clock stands. `people`: those besides the three roles are units."""
        self.clock = SimulatedClock(start)
        self.room = ScriptedRoom(KIND)
        self._known = known
        self._tz = tz
        self._people = people
        self._logbook = Logbook()
        self._said = 0

    @classmethod
    async def open(cls, known: Rigs, tz: tzinfo, start: datetime, people: Collection[str] = ()) -> Incident:
        """An open one; `close` it in the end (or use it as `async with`)."""
        return await cls(known, tz, start, people).__aenter__()

    async def __aenter__(self) -> Incident:
        self.store = await Store.open(MEMORY)
        self._pipeline = Pipeline(self.store, House(self._known, self._logbook, self._tz), self.clock)
        self._outbox = Outbox(self.store, self.clock, self._tz, [self.room])
        for who in (*ROLES, *sorted(set(self._people) - set(ROLES))):
            await self._furnish(who)
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    async def close(self) -> None:
        await self.store.close()

    async def say(self, who: str, words: str, button: str = "") -> Handled:
        """Somebody says something now, or presses a button."""
        self._said += 1
        message = Message(
            room=f"{KIND}:{who}",
            id=str(self._said),
            who=who,
            at=self.clock.now(),
            text="" if button else words,
            button=button,
            name=who,
            role=ROLES.get(who, "unit"),
            unit=self._known.own_unit if who in ROLES else who,
            title=who,
            addressed=True,
        )
        handled = await self._pipeline.say(message)
        assert handled is not None  # every message has a number of its own
        await self._outbox.drain()
        return handled

    async def next_reminder(self) -> datetime | None:
        """When the next reminder is due."""
        async with self.store.begin() as tx:
            return await next_due(tx)

    async def run_to(self, end: datetime) -> list[Outgoing]:
        """Let the clock run to `end`; returns what everybody is told on the way, in order."""
        told = [out async for together in self.reminders(end) for out in together]
        self.clock.move_to(end)
        return told

    async def jump_to(self, at: datetime) -> list[Outgoing]:
        """As if it had stood still until `at`: what is told then, late where it fell due before."""
        self.clock.move_to(at)
        await self._pipeline.fire()
        await self._outbox.drain()
        return self.take()

    async def reminders(self, end: datetime, *, including: bool = True) -> AsyncIterator[list[Outgoing]]:
        """The clock runs from reminder to reminder until `end`: what is told at each, while it stands there."""
        while (at := await self.next_reminder()) is not None and (at < end or (including and at == end)):
            yield await self.jump_to(at)

    def take(self) -> list[Outgoing]:
        """What was told since the last time."""
        return self.room.take()

    async def history(self) -> History:
        """The log of the incident that the officer's room is in (an empty one before it opens)."""
        async with self.store.begin() as tx:
            place = await places.place(tx, f"{KIND}:officer")
            if place is None or place.incident is None:
                return History()
            return await self._logbook.history(tx, place.incident)

    async def _furnish(self, who: str) -> None:
        own = self._known.own_unit
        guest = None if who in ROLES or who == own else who
        async with self.store.begin() as tx:
            new = Place(room=f"{KIND}:{who}", company=own, unit=guest, role=ROLES.get(who), title=who)
            await places.add_place(tx, new)
