"""An incident in memory on a simulated clock, by the real pipeline: what drills and tests are played on."""

from __future__ import annotations

from collections.abc import Collection
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


class Rehearsal:
    """Each role and each unit has a room of its own, named like it. `open` one, `say` things, `run_to` later times."""

    def __init__(self, store: Store, known: Rigs, tz: tzinfo, clock: SimulatedClock) -> None:
        self.store = store
        self.clock = clock
        self.room = ScriptedRoom(KIND)
        self._known = known
        self._logbook = Logbook()
        self._pipeline = Pipeline(store, House(known, self._logbook, tz), clock)
        self._outbox = Outbox(store, clock, tz, [self.room])
        self._said = 0

    @classmethod
    async def open(cls, known: Rigs, tz: tzinfo, start: datetime, people: Collection[str] = ()) -> Rehearsal:
        """With the three roles, and those of `people` who are units."""
        rehearsal = cls(await Store.open(MEMORY), known, tz, SimulatedClock(start))
        for who in (*ROLES, *sorted(set(people) - set(ROLES))):
            await rehearsal._furnish(who)
        return rehearsal

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

    async def run_to(self, at: datetime) -> list[Outgoing]:
        """Let the clock run to `at`, and tell the reminders that are due then (those before it must have been told)."""
        self.clock.move_to(at)
        await self._pipeline.fire()
        await self._outbox.drain()
        return self.take()

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
