"""The one way through: a message goes to the inbox, is handled in its lane in one transaction, and is answered.

A recording is listened to beside its lane. It keeps its place there for a few seconds; then what came after it goes on,
and it comes in when it was heard, with the time at which it was sent. An alert waits for nothing.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections import defaultdict
from collections.abc import Callable, Coroutine, Sequence
from datetime import datetime
from typing import Any, Protocol

import msgspec

from bot.clock import Clock
from bot.message import Message, clean
from bot.message.alerts import calls_alert, is_alert
from bot.message.batches import Writer
from bot.message.lanes import Lanes
from bot.message.read import names_mayday
from bot.message.recording import Listened
from bot.message.reply import Handled
from bot.message.situation import House, Situation, look
from bot.message.ticket import Ticket
from bot.message.transaction import AlreadyHandled, Committed, NotYet, Sender
from bot.reminders import Firing
from bot.store import inbox, outgoing, places
from bot.store.database import Store, is_trouble, unbroken
from bot.store.inbox import Received
from bot.store.outgoing import Unsent
from grammar.commands import Context, Reading
from handlers.rig import Rig

__all__ = ["FAULT", "Ears", "Pipeline", "Ticket"]

FAULT = (
    "That couldn't be worked out: something is wrong inside Crosslay. It is logged; say it another way or work by hand."
)
NO_EARS = "Recordings aren't listened to here: type it."
ENDED_IT = "That recording stopped the program several times, so it isn't listened to again: type it."
HELD_S = 3.0
"""So long what comes after a recording waits for it at most."""
TRIES = 3
"""A message that fails so often is set aside with its error."""
TRIES_IN_TROUBLE = 12
"""The record's own trouble passes, mostly."""
LIVES = 5
"""A recording that the program ended on so often isn't listened to again."""
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 15.0
"""Between tries while the record can't be written (disk full, locked)."""
MANY = 64
"""From so many waiting in a lane on, each new message is looked at for an alert in any words."""
LOOK_AGAIN_S = 0.25
"""How often the inbox is looked at for what another program on the same record has left."""

_LOG = logging.getLogger(__name__)


class Ears(Protocol):
    """Turns a message's recording into a reading (see bot.message.recording.Listener)."""

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened: ...


class Pipeline:
    """Takes messages in and makes them events, reminders and replies.

    `changed` is called with the incident after every message and reminder that touched one (for status boards);
    `wrote` after every transaction that may have left something to send, `planned` when reminders have changed.
    """

    def __init__(
        self, store: Store, house: House, clock: Clock, ears: Ears | None = None, sender: Sender | None = None
    ) -> None:
        """`sender`: takes replies as soon as they are committed; what it can't take waits in the outbox."""
        self._store = store
        self._house = house
        self._clock = clock
        self._ears = ears
        self._writer = Writer(store, house, clock, sender)
        self._lanes: Lanes[Ticket] = Lanes(
            self._work,
            hold=lambda lane: store.hold(f"lane/{lane}"),
            let_go=lambda lane: store.let_go(f"lane/{lane}"),
            refused=self._leave_to_another,
        )
        self._tickets: dict[int, Ticket] = {}
        self._alerts: defaultdict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        """By lane."""
        self._unheard: set[int] = set()
        self._looking = False
        self._beside: set[asyncio.Task[None]] = set()
        self.took: list[Callable[[Message, Listened | None, Handled], None]] = []
        """Called with every message that was handled, and what a recording was heard as."""
        self.changed: list[Callable[[str], None]] = []
        self.wrote: list[Callable[[], None]] = []
        self.planned: list[Callable[[], None]] = []
        self._firing = Firing(store, house, clock, self._told)

    async def receive(self, messages: Sequence[Message]) -> list[Ticket]:
        """Write messages down, in one commit, and line them up; from then on they are safe. Known ones are left out.

        One that can't be written down is left out and logged. Raises when the record itself fails.
        """
        return await unbroken(self._receive([clean(message) for message in messages]))

    async def keep(self, messages: Sequence[Message]) -> list[Ticket]:
        """Write messages down as `receive` does, but hold them back: each is to `go_on`, or dealt with and `over`."""
        return await unbroken(self._keep([clean(message) for message in messages]))

    async def _keep(self, messages: Sequence[Message]) -> list[Ticket]:
        tickets = [Ticket(received, HELD_S) for received, _ in await self._write_down(messages)]
        self._tickets |= {ticket.received.id: ticket for ticket in tickets}
        return tickets

    async def go_on(self, ticket: Ticket) -> None:
        """Line up one that was held back."""
        incidents = await unbroken(self._incidents(ticket))
        self._line_up(ticket.received, incidents)

    async def _incidents(self, ticket: Ticket) -> dict[str, str]:
        async with self._store.begin() as tx:
            return await places.incidents(tx, {ticket.received.message.room})

    def over(self, ticket: Ticket) -> None:
        """One that was held back is dealt with."""
        self._end(ticket, None, None)

    async def _receive(self, messages: Sequence[Message]) -> list[Ticket]:
        return [self._line_up(received, incidents) for received, incidents in await self._write_down(messages)]

    async def _write_down(self, messages: Sequence[Message]) -> list[tuple[Received, dict[str, str]]]:
        try:
            async with self._store.begin() as tx:
                new = await inbox.receive(tx, messages, self._clock.now())
                incidents = await places.incidents(tx, {received.message.room for received in new}) if new else {}
            return [(received, incidents) for received in new]
        except Exception as error:
            if is_trouble(error):
                raise
            if len(messages) == 1:
                where = {"room": messages[0].room, "message_id": messages[0].id}
                _LOG.exception("A message that can't be written down is left out", extra=where)
                return []
        return [one for message in messages for one in await self._write_down([message])]

    async def say(self, message: Message) -> Handled | None:
        """Take one message in and wait until it is handled; None when it was known already."""
        tickets = await self.receive([message])
        return await tickets[0].handled if tickets else None

    async def recover(self) -> int:
        """Line up what was received before a restart and not handled; returns how many. It is handled beside."""
        return await unbroken(self._recover())

    async def _recover(self) -> int:
        async with self._store.begin() as tx:
            left = await inbox.waiting(tx, self._clock.now())
            incidents = await places.incidents(tx, {received.message.room for received in left}) if left else {}
        still = {received.id for received in left}
        for ticket in [ticket for number, ticket in self._tickets.items() if ticket.elsewhere and number not in still]:
            self._end(ticket, None, None)
        for received in left:
            known = self._tickets.get(received.id)
            if known is None or known.elsewhere:
                self._line_up(received, incidents, fresh=self._store.one_writer)
        return len(left)

    async def look_again(self) -> None:
        """Take up, for ever, what another program on the same record has received and left."""
        while True:
            await asyncio.sleep(LOOK_AGAIN_S)
            try:
                await self.recover()
            except Exception:
                _LOG.exception("The inbox couldn't be looked at; trying again")

    def _leave_to_another(self, ticket: Ticket) -> None:
        """Its lane is another program's just now: look again soon whether that has handled it, or has left it."""
        ticket.elsewhere = True
        if not self._looking:
            self._looking = True
            self._go_on_beside(self._look_again())

    async def _look_again(self) -> None:
        await asyncio.sleep(LOOK_AGAIN_S)
        self._looking = False
        try:
            await self.recover()
        except Exception:
            _LOG.exception("The inbox couldn't be looked at")
        if any(ticket.elsewhere for ticket in self._tickets.values()) and not self._looking:
            self._looking = True
            self._go_on_beside(self._look_again())

    async def settled(self) -> None:
        """Wait until everything received is handled."""
        await self._lanes.settled()
        while self._beside:
            await asyncio.wait(tuple(self._beside))
            await self._lanes.settled()

    async def stop(self) -> None:
        """Stop at once; what isn't handled stays in the inbox."""
        for task in tuple(self._beside):
            task.cancel()
        await self._lanes.stop()
        await asyncio.gather(*self._beside, return_exceptions=True)
        await self._writer.stop()

    async def fire(self) -> datetime | None:
        """Hand every reminder whose time has come to the outbox; returns when the next one is due."""
        return await self._firing.fire()

    async def situation(self, message: Message) -> Situation:
        """What a message of this room and person would be handled in now."""
        return await unbroken(self._look(message))

    async def _look(self, message: Message) -> Situation:
        async with self._store.begin() as tx:
            return await look(self._house, tx, message, self._clock.now())

    # --- lining up

    def _line_up(self, received: Received, incidents: dict[str, str], *, fresh: bool = True) -> Ticket:
        """`fresh`: no other program can be listening to it."""
        room = received.message.room
        ticket = self._tickets.get(received.id) or Ticket(received, HELD_S)
        ticket.elsewhere = False
        ticket.lane = incidents.get(room, room)
        self._tickets[received.id] = ticket
        if ticket.is_recording:
            self._unheard.add(received.id)
            if fresh:
                self._begin_hearing(ticket)
        elif self._is_urgent(ticket):
            self._go_on_beside(self._at_once(ticket))
            return ticket
        self._lanes.put(ticket.lane, room, ticket)
        return ticket

    def _is_urgent(self, ticket: Ticket) -> bool:
        """An alert is looked for before anything else: its own word always, other words where it would have to wait."""
        text = ticket.received.message.text
        if not text:
            return False
        many = self._lanes.waiting(ticket.lane, ticket.received.message.room) >= MANY
        return (bool(self._unheard) or many or names_mayday(text)) and is_alert(text)

    def _go_on_beside(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._beside.add(task)
        task.add_done_callback(self._beside.discard)

    async def _at_once(self, ticket: Ticket) -> None:
        """Before all that waits, but after the alerts before it: what a Mayday adds to another stays in order."""
        async with self._alerts[ticket.lane]:
            if not ticket.taken:
                await self._handle(ticket, urgent=True)

    def _begin_hearing(self, ticket: Ticket) -> None:
        ticket.hearing = asyncio.create_task(self._listen(ticket))
        self._go_on_beside(self._listen_beside(ticket, ticket.hearing))

    async def _listen_beside(self, ticket: Ticket, hearing: asyncio.Task[Listened]) -> None:
        """Wait for a recording's words: an alert goes on at once, one that its lane has left behind goes back first."""
        try:
            await asyncio.wait({hearing})
        finally:
            hearing.cancel()
        if ticket.taken or hearing.cancelled():
            return
        if hearing.exception() is None and calls_alert(hearing.result().reading):
            await self._at_once(ticket)
        elif ticket.aside:
            self._lanes.put(ticket.lane, ticket.received.message.room, ticket, first=True)

    async def _listen(self, ticket: Ticket) -> Listened:
        message = ticket.received.message
        if self._ears is None:
            return Listened(Reading(text="", declined=NO_EARS))
        voice, tries, now = await unbroken(self._begin_to_listen(ticket.received))
        if tries >= LIVES:
            return Listened(Reading(text="", declined=ENDED_IT))
        return await self._ears.hear(msgspec.structs.replace(message, voice=voice), now.rig, now.context)

    async def _begin_to_listen(self, received: Received) -> tuple[bytes, int, Situation]:
        async with self._store.begin() as tx:
            voice, tries = await inbox.recording(tx, received.id)
            now = await look(self._house, tx, received.message, self._clock.now())
        return received.message.voice or voice, tries, now

    # --- in the lane

    async def _work(self, ticket: Ticket) -> None:
        if not ticket.taken and (not ticket.is_recording or await self._was_heard(ticket)):
            await self._handle(ticket)

    async def _was_heard(self, ticket: Ticket) -> bool:
        """Wait for a recording as long as it keeps its place; False when the lane goes on without it."""
        if ticket.hearing is None:
            self._begin_hearing(ticket)
        assert ticket.hearing is not None
        left_s = ticket.wait_until - asyncio.get_running_loop().time()
        await asyncio.wait({ticket.hearing}, timeout=max(0.0, left_s))
        ticket.aside = not ticket.hearing.done()
        return not ticket.aside and not ticket.taken

    async def _handle(self, ticket: Ticket, *, urgent: bool = False) -> None:
        """Handle a message whatever happens: tried again, set aside, or (the record fails) tried until it works."""
        ticket.taken = True
        self._unheard.discard(ticket.received.id)
        message, begun = ticket.received.message, time.perf_counter()
        where = {"room": message.room, "message_id": message.id}
        failed, pause_s = 0, FIRST_PAUSE_S
        while True:
            try:
                written = await self._written(ticket, urgent)
                break
            except AlreadyHandled:
                return self._end(ticket, None, None)
            except NotYet:
                ticket.taken = False
                return self._leave_to_another(ticket)
            except Exception as error:
                failed += 1
                _LOG.exception("A message failed", extra={**where, "tries": failed})
                trouble = is_trouble(error)
                hopeless = failed >= (TRIES_IN_TROUBLE if trouble else TRIES)
                if hopeless and (aside := await self._set_aside(ticket.received, error)) is not None:
                    return self._end(ticket, aside, None)
                if trouble or hopeless:
                    await asyncio.sleep(pause_s)
                    pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
        took_ms = (time.perf_counter() - begun) * 1000
        handled = written.handled
        _LOG.info(
            "handled", extra={**where, "intent": handled.intent, "status": handled.status, "ms": round(took_ms, 1)}
        )
        return self._end(ticket, handled, written.incident, planned=written.planned)

    async def _written(self, ticket: Ticket, urgent: bool) -> Committed:
        listened = None
        if ticket.is_recording:
            if ticket.hearing is None or (ticket.hearing.done() and ticket.hearing.exception() is not None):
                ticket.hearing = asyncio.create_task(self._listen(ticket))
            listened = await ticket.hearing
        written = await self._writer.write(ticket.received, listened, urgent=urgent)
        for take in self.took:
            try:
                await asyncio.to_thread(take, ticket.received.message, listened, written.handled)
            except Exception:
                _LOG.exception("What was handled couldn't be passed on")
        return written

    async def _set_aside(self, received: Received, error: Exception) -> Handled | None:
        """Tell the person, keep the message with its error. None: not even that works."""
        try:
            return await unbroken(self._note_fault(received, error))
        except Exception:
            _LOG.exception("A fault couldn't be noted: the message stays in the inbox")
            return None

    async def _note_fault(self, received: Received, error: Exception) -> Handled:
        message, now = received.message, self._clock.now()
        async with self._store.begin() as tx:
            draft = Unsent(
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

    def _end(self, ticket: Ticket, handled: Handled | None, incident: str | None, *, planned: bool = False) -> None:
        self._tickets.pop(ticket.received.id, None)
        self._unheard.discard(ticket.received.id)
        ticket.settle(handled)
        self._told(incident, planned=planned)

    def _told(self, incident: str | None, *, planned: bool = False) -> None:
        calls: list[Callable[[], None]] = [*self.wrote, *(self.planned if planned else ())]
        if incident is not None:
            calls += [lambda show=show: show(incident) for show in self.changed]  # type: ignore[misc]
        for call in calls:
            try:
                call()
            except Exception:
                _LOG.exception("What was written couldn't be passed on")
