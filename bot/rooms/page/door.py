"""Who is on the page: let in by a one-time code, known by a pass from then on, seen and put out by who leads.

A code of the house lets one phone in as one of the company's; a code that an incident's officer or driver made for
another company ("join code for engine 9") lets one of its phones in as that company's, with a guest's rights.
"""

from __future__ import annotations

import secrets
from collections.abc import Collection
from datetime import datetime

import msgspec
from sqlalchemy import select

from bot.message import Message
from bot.message import join_codes as joining
from bot.message.situation import AFTERWARDS, look
from bot.program.station import Station
from bot.rooms.page import KIND
from bot.rooms.page.passes import Pass
from bot.store import chats, log, places, tries
from bot.store.chats import Chat, Code
from bot.store.connection import Tx
from bot.store.places import Person, Place
from bot.store.tables import chats as chats_table
from bot.store.tables import people
from grammar.commands import Role
from handlers.incident.roles import CODE_LASTS
from handlers.rights import is_guest, leads
from handlers.times import unit_name

OF_THE_HOUSE = ""
"""Stands for an incident in a code that lets a phone of the company in, whatever is going on."""
PERSON = f"{KIND}/person/"
"""Begins the key of a person on the page; it is no room's."""
GUEST = f"{KIND}:guest/"
TITLE = "the page"
LONGEST_NAME = 40
NO_NAME = "Say what you are called: a first name will do."
NOT_OURS = "That company isn't of this house: its phones join by a code that the incident's officer or driver makes."
ROLE_WORDS: dict[Role, str] = {"driver": "I'm the driver", "officer": "I'm the officer", "crew": "I'm crew"}
"""What choosing a role says: it goes through the grammar as in any other room, so that it is confirmed as there."""


class Member(msgspec.Struct, frozen=True):
    """Somebody on the page."""

    person: str
    name: str
    role: str
    unit: str
    guest: bool
    since: datetime
    here: bool = False
    """A screen of theirs is connected now."""


def room_of(unit: str) -> str:
    """The page's room of a company of the house."""
    return f"{KIND}:{unit}"


class Door:
    """Lets people in and puts them out."""

    def __init__(self, station: Station) -> None:
        self._station = station

    async def furnish(self, one: Pass) -> None:
        """A pass's room is there, in its incident; until a screen shows it, it is as if it weren't."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            if await places.place(tx, one.room) is not None:
                return
            if one.guest_of is not None:
                await self._guest_room(tx, one.unit, one.guest_of, now)
                return
            mates = await places.of_company(tx, one.unit)
            incident = next((mate.incident for mate in mates if mate.incident), None)
            new = Place(one.room, one.unit, grouped=True, title=TITLE, incident=incident, unreached_since=now)
            await places.add_place(tx, new)

    async def house_code(self, by: str) -> Code:
        """A new code for one phone of the house."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            code = await joining.make_code(tx, OF_THE_HOUSE, None, by, now)
        return Code(code, OF_THE_HOUSE, None, by, now + CODE_LASTS)

    async def used(self, code: str) -> bool:
        """Whether a code lets nobody in any more."""
        async with self._station.store.begin() as tx:
            found = await chats.code(tx, code)
        return found is None or found.used_by is not None or found.expires_at < self._station.clock.now()

    async def looked_at(self, code: str, address: str) -> Code | str:
        """A code before it is used: what it is for, or why it lets nobody in. A wrong one counts.

        Args:
            address: the phone's network address, by which tries are counted.
        """
        now, own = self._station.clock.now(), self._station.rigs.own_unit
        async with self._station.store.begin() as tx:
            return await self._tried(tx, code, f"{KIND}/{address}", own, now)

    async def _tried(self, tx: Tx, code: str, who: str, company: str, now: datetime) -> Code | str:
        if await tries.locked(tx, who, company, now):
            return joining.TOO_MANY
        found = await chats.code(tx, code)
        if found is None or found.incident != OF_THE_HOUSE:
            tried = await joining.tried(tx, code, who, who, company, now)
            return joining.WHICH_UNIT if isinstance(tried, Code) and tried.unit is None else tried
        if found.used_by is not None or now > found.expires_at:
            await tries.wrong(tx, who, company, now)
            return joining.BAD_CODE
        return found

    async def enter(self, code: str, name: str, unit: str, address: str) -> Pass | str:
        """Let a phone in by a code, which is used up; else why not.

        Args:
            unit: the company of the house that was chosen; a guest's is the code's.
        """
        name = " ".join(name.split())[:LONGEST_NAME]
        if not name:
            return NO_NAME
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            found = await self._tried(tx, code, f"{KIND}/{address}", self._station.rigs.own_unit, now)
            if isinstance(found, str):
                return found
            wanted = found.unit or unit.casefold() or self._station.rigs.own_unit
            if found.unit is None and wanted not in self._station.rigs.units:
                return NOT_OURS
            person = f"{PERSON}{secrets.token_hex(8)}"
            if await chats.use_code(tx, code, person, now) is None:
                return joining.BAD_CODE
            guest_of = found.incident or None
            await chats.note(tx, Chat(person, "member", now, incident=guest_of))
            await places.put_person(tx, Person(person, name, unit=wanted))
            room = room_of(wanted)
            if guest_of is not None:
                room = await self._guest_room(tx, wanted, guest_of, now)
            return Pass(person, room, name, wanted, now, guest_of)

    async def _guest_room(self, tx: Tx, unit: str, incident: str, now: datetime) -> str:
        """The room that all phones of a guest's company share; it is in the incident from now on."""
        room = f"{GUEST}{unit}"
        found = await log.incident(tx, incident)
        company = found.company if found is not None else self._station.rigs.own_unit
        await chats.note(tx, Chat(room, "joined", now, incident=incident))
        title = f"{unit_name(unit)}'s phones"
        await places.add_place(tx, Place(room, company, unit=unit, grouped=True, title=title, unreached_since=now))
        await places.change_place(tx, room, company=company, unit=unit, incident=incident)
        return room

    async def admits(self, one: Pass) -> bool:
        """Whether a pass still holds: its person wasn't put out, and a guest's incident isn't long over."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            if await self._standing(tx, one.person) != "member":
                return False
            if one.guest_of is None:
                return True
            incident = await log.incident(tx, one.guest_of)
            return incident is not None and (incident.closed_at is None or now < incident.closed_at + AFTERWARDS)

    async def _standing(self, tx: Tx, person: str) -> str | None:
        query = select(chats_table.c.standing).where(chats_table.c.room == person)
        return (await tx.execute(query)).scalar_one_or_none()

    async def members(self, here: Collection[str] = ()) -> list[Member]:
        """Everybody who is in, in the order in which they came. `here`: those with a screen that is connected."""
        query = (
            select(chats_table, people.c.name, people.c.role, people.c.unit)
            .outerjoin(people, people.c.person == chats_table.c.room)
            .where(chats_table.c.standing == "member", chats_table.c.room.startswith(PERSON, autoescape=True))
            .order_by(chats_table.c.since)
        )
        async with self._station.store.begin() as tx:
            rows = (await tx.execute(query)).all()
        return [
            Member(
                row.room,
                row.name or "somebody",
                row.role or "",
                unit_name(row.unit) if row.unit else "",
                row.incident is not None,
                row.since,
                row.room in here,
            )
            for row in rows
        ]

    async def who(self, one: Pass) -> tuple[str, bool]:
        """A person's role now ("" where they have none), and whether they lead."""
        now = self._station.clock.now()
        message = message_of(one, "look", now)
        async with self._station.store.begin() as tx:
            situation = await look(self._station.house, tx, message, now)
        led = leads(situation.history.scene, situation.said)
        return situation.said.role or "", led and not is_guest(situation.said)

    async def put_out(self, person: str) -> bool:
        """A person's pass holds no more, and their role is nobody's; False where nobody of that key is in."""
        now = self._station.clock.now()
        async with self._station.store.begin() as tx:
            if not person.startswith(PERSON) or await self._standing(tx, person) != "member":
                return False
            await chats.note(tx, Chat(person, "removed", now))
            if (known := await places.person(tx, person)) is not None:
                await places.put_person(tx, msgspec.structs.replace(known, role=None))
        return True


def message_of(one: Pass, message_id: str, at: datetime) -> Message:
    """A message of this person, before what they say is put in. Its id is theirs alone."""
    return Message(
        room=one.room,
        id=f"{one.person.removeprefix(PERSON)}-{message_id}",
        who=one.person,
        at=at,
        name=one.name,
        title=TITLE if one.guest_of is None else f"{unit_name(one.unit)}'s phones",
        group=True,
        addressed=True,
    )
