"""One screen's connection: what it sends is taken, acknowledged when it is safe, and answered through the outbox.

A message that comes again (the connection broke before its receipt came) is known by its id and does nothing twice.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import time
from collections.abc import Callable
from datetime import datetime, timedelta

import msgspec
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from bot.message import Message
from bot.message.alerts import is_alert
from bot.message.read import names_mayday
from bot.message.reply import Handled
from bot.message.ticket import Ticket
from bot.program.station import Station
from bot.rooms.page import protocol, talk
from bot.rooms.page.address import Address, join_url, qr_svg
from bot.rooms.page.boards import Boards
from bot.rooms.page.door import Door, message_of
from bot.rooms.page.handsfree import Listening, ScreenRoom
from bot.rooms.page.hub import Hub, Screen
from bot.rooms.page.passes import Pass
from bot.rooms.page.room import PageRoom
from bot.rooms.throttle import Throttle
from bot.store import places
from bot.store.database import unbroken
from grammar.commands import SetRole
from handlers.incident.glance import words_for
from handlers.times import unit_name

GONE = 4403
"""Close code: this screen is let in no more."""
FULL = 4429
MOST_A_SECOND, MOST_AT_ONCE = 60.0, 200
"""Frames of one screen, sound included (eight a second)."""
OLDEST = timedelta(hours=12)
"""What was kept on a phone for longer counts as said now."""
WAIT_S = 10.0
LOOK_S = 60.0
"""So often it is looked whether a pass still holds: a guest's doesn't long after the incident."""
TOO_FAST = "You send faster than can be answered: it is sent again in a moment. An alert is always taken."
NO_LINE = "That line isn't as it was shown any more: nothing was changed. Look at the board."
ONLY_LEADS = "Who is let in and put out is for the officer or the driver."

_LOG = logging.getLogger(__name__)


class Desk(msgspec.Struct, frozen=True):
    """What every connection works with."""

    station: Station
    hub: Hub
    room: PageRoom
    door: Door
    boards: Boards
    throttle: Throttle
    address: Address
    listen: Callable[[ScreenRoom, Callable[[protocol.Ear], None]], Listening] | None
    """Begins hands-free listening; None where there are no ears."""


class Session:
    """`run` it from accept to close."""

    def __init__(self, desk: Desk, socket: WebSocket, one: Pass) -> None:
        self._desk = desk
        self._socket = socket
        self._of = one
        self._screen = Screen(one, socket.send_text)
        self._listening: Listening | None = None
        self._spare, self._counted = float(MOST_AT_ONCE), time.monotonic()
        self._look_at = time.monotonic() + LOOK_S

    async def run(self) -> None:
        """Serve it until it goes, is put out or can't keep up."""
        if not self._desk.hub.add(self._screen):
            await self._socket.close(FULL)
            return
        try:
            await self._desk.door.furnish(self._of)
            await self._desk.boards.present(self._of.room)
            self._screen.tell(await self._welcome())
            sending = asyncio.create_task(self._screen.run())
            taking = asyncio.create_task(self._take())
            done, left = await asyncio.wait({sending, taking}, return_when=asyncio.FIRST_COMPLETED)
            for task in left:
                task.cancel()
            await asyncio.gather(*left, return_exceptions=True)
            for task in done:
                if (error := task.exception()) is not None and not isinstance(error, WebSocketDisconnect):
                    _LOG.warning("A screen's connection ended: %s", type(error).__name__)
        finally:
            self._desk.hub.remove(self._screen)
            if self._listening is not None:
                await self._listening.end()
            if self._socket.client_state is WebSocketState.CONNECTED:
                with contextlib.suppress(RuntimeError):
                    await self._socket.close(1000 if await self._desk.door.admits(self._of) else GONE)

    async def _welcome(self) -> protocol.Welcome:
        station, one = self._desk.station, self._of
        role, led = await self._desk.door.who(one)
        board = await self._desk.boards.of(one.room)
        async with station.store.begin() as tx:
            entries = await talk.latest(tx, one.room)
        rig = station.rigs.of(one.unit)
        return protocol.Welcome(
            now=station.clock.now(),
            person=one.person,
            name=one.name,
            role=role,
            unit=one.unit,
            unit_name=unit_name(one.unit),
            guest=one.guest_of is not None,
            leads=led,
            call_name=rig.call_name,
            lines=tuple(line.name for line in rig.line.values() if line.nozzle is not None),
            entries=tuple(entries),
            board=board.board,
            questions=board.questions,
            zone=getattr(station.settings.tz, "key", "UTC"),
            demonstration=rig.demonstration,
        )

    # --- what it sends

    async def _take(self) -> None:
        while True:
            frame = await self._socket.receive()
            if frame["type"] == "websocket.disconnect":
                return
            if not self._may():
                _LOG.warning("A screen sends too much and is let go")
                self._screen.let_go()
                return
            if (text := frame.get("text")) is not None:
                await self._read(text)
            elif (sound := frame.get("bytes")) is not None and self._listening is not None:
                self._listening.take(sound)

    def _may(self) -> bool:
        now = time.monotonic()
        self._spare = min(MOST_AT_ONCE, self._spare + (now - self._counted) * MOST_A_SECOND)
        self._counted = now
        self._spare -= 1
        return self._spare >= 0

    async def _read(self, text: str) -> None:
        try:
            what = protocol.read(text)
        except msgspec.DecodeError:
            self._refuse_unread(text)
            return
        match what:
            case protocol.Say() | protocol.Press() | protocol.Voice() | protocol.Touch():
                await self._said(what)
            case protocol.HandsFree(on=on):
                await self._listen(on)
            case protocol.Speaking(on=on):
                if self._listening is not None:
                    self._listening.speaking(on)
            case protocol.Who():
                await self._who()
            case protocol.PutOut(person=person):
                await self._put_out(person)
            case protocol.NewCode():
                await self._new_code()

    def _refuse_unread(self, text: str) -> None:
        """What can't be read is refused by its id, so that no screen sends it for ever."""
        with contextlib.suppress(msgspec.DecodeError, TypeError, AttributeError):
            found = msgspec.json.decode(text).get("id")
            if isinstance(found, str) and len(found) <= 64:
                self._screen.tell(protocol.Refused(found, "That can't be taken: too long, or not in order."))

    async def _said(self, what: protocol.Say | protocol.Press | protocol.Voice | protocol.Touch) -> None:
        message = message_of(self._of, what.id, self._when(what.at))
        match what:
            case protocol.Say(text=text):
                message = msgspec.structs.replace(message, text=text)
            case protocol.Press(button=button):
                message = msgspec.structs.replace(message, button=button)
            case protocol.Voice(sound=sound):
                message = msgspec.structs.replace(message, voice=sound)
            case protocol.Touch():
                words = await self._words(what)
                if words is None:
                    self._screen.tell(protocol.Refused(what.id, NO_LINE))
                    return
                message = msgspec.structs.replace(message, text=words)
        if not await self._admitted():
            self._screen.let_go()
            return
        if self._desk.throttle.holds(message) and not (names_mayday(message.text) or is_alert(message.text)):
            self._screen.tell(protocol.Wait(what.id, WAIT_S, TOO_FAST))
            return
        await self.take(message)
        self._screen.tell(protocol.Taken(what.id))

    async def _admitted(self) -> bool:
        """Whether the pass still holds; looked up now and then (who is put out is let go at once)."""
        now = time.monotonic()
        if now > self._look_at:
            self._look_at = now + LOOK_S
            return await self._desk.door.admits(self._of)
        return True

    async def take(self, message: Message, heard: str = "") -> Ticket | None:
        """Write a message down and show it in its room; what follows from it comes through the outbox.

        `heard`: the words that a recording was heard as, where they are known. None: it was known already.
        """
        for ticket in await self._desk.station.pipeline.receive([message]):
            self._show(ticket, heard)
            beside = asyncio.create_task(self._after(ticket, heard))
            _BESIDE.add(beside)
            beside.add_done_callback(_BESIDE.discard)
            return ticket
        return None

    def _show(self, ticket: Ticket, heard: str) -> None:
        entry = talk.said(ticket.received.id, ticket.received.message, heard)
        self._desk.hub.show(self._of.room, protocol.Shown(self._desk.station.clock.now(), entry))

    async def _after(self, ticket: Ticket, heard: str) -> None:
        """What a recording was heard as; who may do what may have changed; out of any incident what is asked."""
        handled, room = await ticket.handled, self._of.room
        if words := "" if heard else talk.heard_in(handled.heard):
            self._show(ticket, words)
        with contextlib.suppress(Exception):
            if any(outcome.intent == SetRole.intent for outcome in handled.outcomes):
                for screen in self._desk.hub.of(room):
                    screen.tell(protocol.You(*await self._desk.door.who(screen.of)))
            if handled.to_ask is not None or ticket.received.message.button:
                board = await unbroken(self._desk.boards.of(room))
                if board.board is None:  # else it is shown as the incident's
                    self._desk.hub.show(room, board)

    def _when(self, at: datetime) -> datetime:
        """When it was said by the phone's word, which was put right by our clock: never ahead of us, never long ago."""
        now = self._desk.station.clock.now()
        if at.tzinfo is None or not now - OLDEST <= at <= now:
            return now
        return at

    async def _words(self, touch: protocol.Touch) -> str | None:
        async with self._desk.station.store.begin() as tx:
            place = await places.place(tx, self._of.room)
            if place is None or place.incident is None:
                return None
            history = await self._desk.station.house.logbook.history(tx, place.incident)
        pump = history.scene.pumps.get(touch.unit)
        if pump is None or touch.unit != (self._of.unit if self._of.guest_of else place.company):
            return None
        return words_for(touch.doing, touch.line, pump, self._desk.station.rigs.of(touch.unit), touch.amount)

    # --- hands-free

    async def _listen(self, on: bool) -> None:
        if self._listening is not None:
            ending, self._listening = self._listening, None
            await ending.end()
            self._screen.tell(protocol.Ear("off"))
        if not on:
            return
        if self._desk.listen is None:
            self._screen.tell(protocol.Ear("gone", "Recordings aren't listened to here."))
            return
        room = ScreenRoom(self._of.room, self._utterance, self._heard, self._screen.tell, self._superseded)
        self._listening = self._desk.listen(room, self._screen.tell)
        self._listening.begin()

    def _utterance(self, voice: bytes) -> Message:
        message_id = f"h{time.time_ns():x}"
        return msgspec.structs.replace(message_of(self._of, message_id, self._desk.station.clock.now()), voice=voice)

    async def _heard(self, message: Message, words: str) -> Handled | None:
        """Something that was heard is shown on every screen of the room, as what is typed is."""
        ticket = await self.take(message, words)
        return await ticket.handled if ticket is not None else None

    def _superseded(self, message: str) -> None:
        self._desk.room.superseded(self._of.room, message)

    # --- who is in

    async def _who(self) -> None:
        if self._of.guest_of is None:
            people = await self._desk.door.members(self._desk.hub.people)
            self._screen.tell(protocol.People(tuple(people)))

    async def _put_out(self, person: str) -> None:
        _role, led = await self._desk.door.who(self._of)
        if not led and person != self._of.person:
            self._screen.tell(protocol.Refused("", ONLY_LEADS))
            return
        if await self._desk.door.put_out(person):
            self._desk.hub.put_out(person)
        await self._who()

    async def _new_code(self) -> None:
        _role, led = await self._desk.door.who(self._of)
        if not led:
            self._screen.tell(protocol.Refused("", ONLY_LEADS))
            return
        code = await self._desk.door.house_code(self._of.person)
        url = join_url(self._desk.address, code.code)
        self._screen.tell(protocol.CodeShown(code.code, url, qr_svg(url), code.expires_at))


_BESIDE: set[asyncio.Task[None]] = set()
