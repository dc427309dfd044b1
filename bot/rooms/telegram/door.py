"""At the door: who is let in, who is told once that the bot isn't for them, and what the room itself answers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bot.message import Button, Message, join_codes
from bot.message.situation import look
from bot.program.station import Station
from bot.rooms.telegram import menu
from bot.rooms.telegram.admission import Admission
from bot.rooms.telegram.incoming import EDIT
from bot.rooms.throttle import Throttle
from bot.store import inbox, outgoing
from bot.store.connection import Tx
from bot.store.inbox import Received
from bot.store.outgoing import Unsent
from bot.store.places import Place
from grammar.commands import Join
from grammar.door import code_said
from handlers.incident.roles import CODE_LASTS, companies_but
from handlers.rights import why_not

NOT_SERVED = (
    "This bot serves the rooms of one fire department. To have this one served, its number {chat} goes into"
    " CROSSLAY_ROOMS, or the department's officer gives you a join link."
)
WHO_ARE_YOU = "Who are you here?"
WELCOME = (
    "Crosslay works out pump pressures, keeps the tank and incident clocks and writes the record. It is an aid to"
    " trained people: department procedures, the pump's own gauges and flow meters, and the incident commander"
    " decide.\nSay or type a lay (two lines, 200 feet, 1.75), or “help”."
)
EDITED = "An edit isn't read: what you said first still counts. Send it anew, or say “correction, …”."
TOO_FAST = (
    "You send faster than can be answered: from this message on not everything was taken. Wait ten seconds and say"
    " again what counts. An alert is always taken."
)
NO_INCIDENT = "A join link is for an open incident, and none is open here. A room for good goes into CROSSLAY_ROOMS."
WHICH_COMPANY = "A link for which company? Say it with the command: “/link engine 9”."


class Door:
    """Answers what is no talk about the incident, each thing once however often its update comes."""

    def __init__(self, station: Station, admission: Admission) -> None:
        self._station = station
        self._admission = admission
        self.bot_name = ""

    async def admits(self, message: Message) -> bool:
        """Whether a message goes on to the pipeline; if not, it was answered here (or is left unanswered)."""
        command = menu.own_command(message.text)
        if command is None and self._admission.is_named(message.room):
            return True
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            if command is None and await self._admission.serves(tx, message.room, now):
                return True
            code, why_not = code_said(message.text), ""
            if code:
                shut = await self._admission.opens_to(tx, code, self._place(message), message.who, now)
                if shut is None:
                    return True
                why_not = shut
            await self._answer(tx, message, command, why_not, now)
        self._station.outbox.poke()
        return False

    async def hold_back(self, flood: Sequence[Received], throttle: Throttle) -> None:
        """Messages of a flood, written down already: done, and the first one of it is answered."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            for received in flood:
                if throttle.tells(received.message):
                    await self._done(tx, received, TOO_FAST, now)
                else:
                    await inbox.done(tx, received.id, now)
        self._station.outbox.poke()

    async def edited(self, message: Message) -> None:
        """Says, once a message, that changing what was answered already changes nothing."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            before = await inbox.answered(tx, message.room, message.id.removesuffix(EDIT))
            if (
                before is not None
                and before.text != message.text
                and await self._admission.serves(tx, message.room, now)
            ):
                await self._reply(tx, message, EDITED, now)
        self._station.outbox.poke()

    async def turn_away(self, room: str) -> None:
        """The bot was added to a chat: where it isn't served, one polite line, once for ever."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            if not await self._admission.serves(tx, room, now) and await self._admission.turn_away(tx, room, now):
                await outgoing.put(tx, [_not_served(room, now)])
        self._station.outbox.poke()

    async def _answer(
        self, tx: Tx, message: Message, command: tuple[str, str] | None, why_not: str, now: datetime
    ) -> None:
        """`why_not`: why a join code that it says doesn't let it in."""
        name, rest = command or ("", "")
        joined = ""
        if name == menu.START and rest:
            joined, why_not = await self._join(tx, message, rest, now)
        if joined:
            await self._reply(tx, message, joined, now, menu.role_buttons())
        elif not await self._admission.serves(tx, message.room, now):
            await self._tell_not_served(tx, message, why_not, now)
        elif name == menu.START and rest:
            await self._reply(tx, message, why_not, now)
        elif name == menu.LINK:
            await self._reply(tx, message, *await self._link(tx, message, rest, now))
        else:
            welcome = f"{WELCOME}\n{WHO_ARE_YOU}" if name == menu.START else WHO_ARE_YOU
            await self._reply(tx, message, welcome, now, menu.role_buttons())

    async def _join(self, tx: Tx, message: Message, code: str, now: datetime) -> tuple[str, str]:
        """What is said to who came in by a link, and else why they didn't."""
        if await inbox.known(tx, message.room, message.id):
            return "", ""  # its update came before
        used = await self._admission.join(tx, code, self._place(message), message.who, now)
        if isinstance(used, str):
            return "", used
        return f"You are in incident {used.incident}{f' as {used.unit}' if used.unit else ''}.\n{WHO_ARE_YOU}", ""

    def _place(self, message: Message) -> Place:
        return Place(message.room, self._station.rigs.own_unit, grouped=message.group, title=message.title)

    async def _link(
        self, tx: Tx, message: Message, unit: str, now: datetime
    ) -> tuple[str, datetime, tuple[Button, ...]]:
        """A one-time link for who may make one: what is replied, when, and the companies that it can be for."""
        situation = await look(self._station.house, tx, message, now)
        scene = situation.history.scene
        if situation.incident is None or not scene.open:
            return NO_INCIDENT, now, ()
        wanted = unit.casefold() or None
        why = why_not(Join(make=True, unit=wanted), scene, situation.said)
        if why is not None:
            return why, now, ()
        if wanted is None:
            return WHICH_COMPANY, now, menu.link_buttons(companies_but(scene, situation.said.unit))
        code = await join_codes.make_code(tx, situation.incident, wanted, message.who, now)
        until = (now + CODE_LASTS).astimezone(self._station.house.tz)
        return f"For one use, until {until:%H:%M}.\n{menu.join_links(self.bot_name, code)}", now, ()

    async def _tell_not_served(self, tx: Tx, message: Message, why_not: str, now: datetime) -> None:
        """Once for ever that it isn't served; each time why its code lets it in no more, while it may try codes."""
        first = await self._admission.turn_away(tx, message.room, now)
        told = _not_served(message.room, now)
        if why_not and why_not != join_codes.TOO_MANY:
            await self._reply(tx, message, f"{why_not}\n{told.text}" if first else why_not, now)
        elif first:
            await outgoing.put(tx, [told])

    async def _reply(
        self, tx: Tx, message: Message, words: str, now: datetime, buttons: tuple[Button, ...] = ()
    ) -> None:
        for received in await inbox.receive(tx, [message], now):  # none: its update came before
            await self._done(tx, received, words, now, buttons)

    async def _done(
        self, tx: Tx, received: Received, words: str, now: datetime, buttons: tuple[Button, ...] = ()
    ) -> None:
        message = received.message
        reply = Unsent(
            room=message.room,
            kind="reply",
            text=words,
            buttons=buttons,
            reply_to=message.id,
            thread=message.thread,
            created_at=now,
        )
        await outgoing.put(tx, [reply])
        await inbox.done(tx, received.id, now)


def _not_served(room: str, now: datetime) -> Unsent:
    return Unsent(room=room, kind="reply", text=NOT_SERVED.format(chat=room.partition(":")[2]), created_at=now)
