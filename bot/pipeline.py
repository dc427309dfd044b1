"""The one way through: a message goes to the inbox, is handled in its lane in one transaction, and is answered."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Protocol

from bot import reminding
from bot.clock import Clock
from bot.directory import Directory
from bot.lanes import Lanes
from bot.listening import Listened
from bot.message import Message
from bot.replies import Handled
from bot.situation import House, Situation, look
from bot.store import inbox, outgoing, places
from bot.store.database import Store, unbroken
from bot.store.inbox import Received
from bot.store.outgoing import Draft
from bot.store.reminders import next_due
from bot.writing import Writer
from grammar.commands import Context, Reading
from handlers.rig import Rig

AT_ONCE = 500
"""Reminders moved to the outbox in one transaction."""
FAULT = (
    "That couldn't be worked out: something is wrong inside Crosslay. It is logged; say it another way or work by hand."
)
NO_EARS = "Recordings aren't listened to here: type it."

_LOG = logging.getLogger(__name__)


class Ears(Protocol):
    """Turns a message's recording into a reading (see bot.listening.Listener)."""

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened: ...


class Ticket:
    """A message on its way; `await ticket.handled` gives what it came to."""

    def __init__(self, received: Received) -> None:
        self.received = received
        self.handled: asyncio.Future[Handled] = asyncio.get_running_loop().create_future()


class Pipeline:
    """Takes messages in and makes them events, reminders and replies.

    `changed` is called with the incident after every message and reminder that touched one (for status boards);
    `wrote` after every transaction that may have left something to send or to wake for.
    """

    def __init__(self, store: Store, house: House, clock: Clock, ears: Ears | None = None) -> None:
        self._store = store
        self._house = house
        self._clock = clock
        self._ears = ears
        self._writer = Writer(store, house, clock)
        self._lanes: Lanes[Ticket] = Lanes(self._work)
        self._incident_of: dict[str, str] = {}
        self.took: list[Callable[[Message, Listened | None, Handled], None]] = []
        """Called with every message that was handled, and what a recording was heard as."""
        self.changed: list[Callable[[str], None]] = []
        self.wrote: list[Callable[[], None]] = []

    async def receive(self, messages: Sequence[Message]) -> list[Ticket]:
        """Write messages down, in one commit, and line them up; from then on they are safe. Known ones are left out."""
        return await unbroken(self._receive(messages))

    async def _receive(self, messages: Sequence[Message]) -> list[Ticket]:
        async with self._store.begin() as tx:
            new = await inbox.receive(tx, messages, self._clock.now())
        return [self._line_up(received) for received in new]

    async def say(self, message: Message) -> Handled | None:
        """Take one message in and wait until it is handled; None when it was known already."""
        tickets = await self.receive([message])
        return await tickets[0].handled if tickets else None

    async def recover(self) -> int:
        """Line up what was received before a restart and not handled; returns how many."""
        async with self._store.begin() as tx:
            left = await inbox.waiting(tx)
        for received in left:
            self._line_up(received)
        await self._lanes.settled()
        return len(left)

    async def settled(self) -> None:
        """Wait until everything received is handled."""
        await self._lanes.settled()

    async def stop(self) -> None:
        """Stop at once; what isn't handled stays in the inbox."""
        await self._lanes.stop()
        await self._writer.stop()

    async def fire(self) -> datetime | None:
        """Hand every reminder whose time has come to the outbox; returns when the next one is due."""
        while True:
            next_at = await unbroken(self._fire_some())
            if next_at is None or next_at > self._clock.now():
                return next_at

    def _line_up(self, received: Received) -> Ticket:
        ticket = Ticket(received)
        room = received.message.room
        self._lanes.put(self._incident_of.get(room, room), room, ticket)
        return ticket

    async def _work(self, ticket: Ticket) -> None:
        try:
            handled, incident = await self._handle(ticket.received)
        except Exception as error:
            _LOG.exception("Message %s of %s", ticket.received.message.id, ticket.received.message.room)
            handled, incident = await unbroken(self._fault(ticket.received, error)), None
        if incident is not None:
            self._incident_of[ticket.received.message.room] = incident
        ticket.handled.set_result(handled)
        self._told(incident)

    async def _handle(self, received: Received) -> tuple[Handled, str | None]:
        listened = await self._listen(received.message)
        handled, incident = await self._writer.write(received, listened)
        for take in self.took:
            await asyncio.to_thread(take, received.message, listened, handled)
        return handled, incident

    async def _listen(self, message: Message) -> Listened | None:
        """A recording is recognised before its transaction, so that nobody waits for it but its own lane."""
        if not (message.voice or message.voice_ref):
            return None
        if self._ears is None:
            return Listened(Reading(text="", declined=NO_EARS))
        now = await self.situation(message)
        return await self._ears.hear(message, now.rig, now.context)

    async def situation(self, message: Message) -> Situation:
        """What a message of this room and person would be handled in now."""
        return await unbroken(self._look(message))

    async def _look(self, message: Message) -> Situation:
        async with self._store.begin() as tx:
            return await look(self._house, tx, message, self._clock.now())

    async def _fault(self, received: Received, error: Exception) -> Handled:
        """Something inside failed: the person is told, the message is kept with what went wrong."""
        message, now = received.message, self._clock.now()
        async with self._store.begin() as tx:
            draft = Draft(
                room=message.room,
                kind="reply",
                text=FAULT,
                reply_to=message.id,
                thread=message.thread,
                created_at=now,
            )
            await outgoing.put(tx, [draft])
            await inbox.done(tx, received.id, now, reply=FAULT, fault=repr(error))
        return Handled(text=message.text, reading=Reading(text=message.text, declined=FAULT))

    async def _fire_some(self) -> datetime | None:
        """One transaction's worth of due reminders, and the rows that follow from them."""
        now = self._clock.now()
        async with self._store.begin() as tx:
            told = await reminding.hand_over(tx, now, self._house.tz, AT_ONCE)
            for incident in await reminding.to_plan_anew(tx, told, now):
                company = await self._house.logbook.lead(tx, incident)
                history = await self._house.logbook.history(tx, incident)
                directory = Directory(await places.of_incident(tx, incident), company, self._house.crew_room)
                rig = self._house.rigs.of(company)
                await reminding.bring_in_line(tx, incident, history.scene, rig, directory, now)
            next_at = await next_due(tx)
        for incident in {row.incident for row in told}:
            self._told(incident)
        return next_at

    def _told(self, incident: str | None) -> None:
        for tell in self.wrote:
            tell()
        if incident is not None:
            for show in self.changed:
                show(incident)
