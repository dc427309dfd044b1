"""What a message is handled in: its room, the log it belongs to, who says it, who else is there, what was asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from functools import cached_property
from typing import cast

import msgspec

from bot.message import Message, context
from bot.message.directory import Directory
from bot.message.reply import correctable
from bot.rigs import Rigs
from bot.store import inbox, places, questions
from bot.store.connection import Tx
from bot.store.logbook import Logbook, quarters
from bot.store.places import Person, Place
from bot.store.questions import Asked
from grammar.commands import Context, Role
from grammar.door import asks_of_mayday
from handlers.history import History
from handlers.outcome import Said
from handlers.rig import Rig
from handlers.rights import LEADING

AFTERWARDS = timedelta(hours=4)
"""So long after it closed, what is reported still belongs to an incident (available, made ready again)."""
REMEMBERED = timedelta(hours=1)
"""So long a correction or a follow-up can touch what was said before."""
ANSWERABLE = timedelta(minutes=10)
"""So long a question can be answered by words; its buttons work until it is answered."""
PRESENT = timedelta(hours=12)
"""Who has a role and was heard within this time is there: their role isn't taken without being asked."""


@dataclass(frozen=True)
class House:
    """What every message is handled with."""

    rigs: Rigs
    logbook: Logbook
    tz: tzinfo
    crew_room: str = ""
    given_roles: Mapping[str, Role] = field(default_factory=dict)
    """Roles that the settings give: person's key, or their id in the room's service, to role."""


@dataclass(frozen=True)
class Situation:
    """One message's situation, read in the transaction that handles it."""

    message: Message
    place: Place
    incident: str | None
    """The incident it belongs to; None: it goes into the company's log of the day."""
    history: History
    said: Said
    rig: Rig
    """The speaker's company's."""
    asked: Asked | None
    """The question that is open to the speaker."""
    asked_before: Asked | None
    """Another one that is still open to them."""
    directory: Directory
    """Who else is there."""
    new_here: bool
    """The room wasn't known before: it is to be told what is planned for it."""

    @cached_property
    def context(self) -> Context:
        """What the reader must know."""
        return context.build(
            self.rig,
            self.said.unit,
            self.history.scene,
            role=self.said.role,
            speaker_unit=self.said.unit,
            last=self.said.last_commands,
            asked=self.asked.question if self.asked else None,
            asked_before=self.asked_before.question if self.asked_before else None,
            group=self.message.group,
            addressed=self.message.addressed,
        )


async def look(house: House, tx: Tx, message: Message, now: datetime) -> Situation:
    """The situation of a message; a room or person that wasn't known is written down."""
    place, new_here = await _place(house, tx, message)
    incident, history = await _log_of(house, tx, place, message.at)
    person = await _person(tx, place, message)
    directory = await directory_of(house, tx, place, incident)
    rights = await _rights(house, tx, place, person, message, incident)
    since = message.at - REMEMBERED
    last = await inbox.last_commands(tx, message.who, place.room, incident, since, correctable, but=message.replaces)
    told = await inbox.last_told(tx, message.who, place.room)
    said = Said(
        at=message.at,
        who=message.who,
        name=person.name,
        role=rights.role,
        unit=rights.unit,
        room=place.room,
        message=f"{place.room}/{message.id}",
        tz=house.tz,
        last_commands=last.commands if last else (),
        last_message=last.message if last else "",
        last_at=last.at if last else None,
        last_reply=told.reply if told else "",
        last_told=told.commands if told else (),
        last_told_in=told.message if told else "",
        last_told_at=told.at if told else None,
        everyone_here=directory.holds_everyone(place.room),
        others_here=message.group,
        company=rights.company,
        guest_room=place.unit is not None or place.company != rights.company,
        given_role=rights.given_role,
        sets_up=rights.sets_up,
        officer=rights.officer,
    )
    asked, before = _in_turn(await questions.open_to(tx, place.room, said.who, now - ANSWERABLE))
    rig = house.rigs.of(said.unit)
    return Situation(message, place, incident, history, said, rig, asked, before, directory, new_here)


def _in_turn(asked: Sequence[Asked]) -> tuple[Asked | None, Asked | None]:
    """The question that a "yes" answers, and the other one: whether it is a Mayday goes before the newest."""
    first, second, *_ = (*sorted(asked, key=lambda one: not asks_of_mayday(one.question)), None, None)
    return first, second


async def _place(house: House, tx: Tx, message: Message) -> tuple[Place, bool]:
    """The message's room, with what is new about it, and whether it is a new one."""
    there = await places.place(tx, message.room)
    own_role = None if message.group else message.role
    known = there or await known_place(tx, house.rigs, message.room, own_role)
    seen: dict[str, object] = {
        "title": message.title or known.title,
        "grouped": message.group,
        "thread": message.thread,
        "first": known.first or message.who,
    }
    changed = {key: value for key, value in seen.items() if getattr(known, key) != value}
    if changed:
        await places.change_place(tx, known.room, **changed)
    return msgspec.structs.replace(known, **changed), there is None


async def known_place(tx: Tx, rigs: Rigs, room: str, own_role: Role | None = None) -> Place:
    """A room as the record knows it; a new one belongs to the rig whose file names it and enters its open incident."""
    if (known := await places.place(tx, room)) is not None:
        return known
    new = _new_place(rigs, room, own_role)
    mates = await places.of_company(tx, new.company)
    incident = next((mate.incident for mate in mates if mate.incident), None)
    new = msgspec.structs.replace(new, incident=incident)
    await places.add_place(tx, new)
    return new


def _new_place(rigs: Rigs, room: str, own_role: Role | None) -> Place:
    chat = room.partition(":")[2] or room
    for unit in rigs.units:
        for role, mapped in rigs.of(unit).rooms.items():
            if mapped in (room, chat):
                return Place(room=room, company=unit, role=role)
    return Place(room=room, company=rigs.own_unit, role=own_role)


async def _log_of(house: House, tx: Tx, place: Place, at: datetime) -> tuple[str | None, History]:
    """The log that a room talks into: its incident's, else its company's of the day."""
    if place.incident is not None:
        history = await house.logbook.history(tx, place.incident)
        closed_at = history.scene.closed_at
        if closed_at is None or at < closed_at + AFTERWARDS:
            return place.incident, history
    return None, await house.logbook.history(tx, quarters(place.company, at, house.tz))


async def _person(tx: Tx, place: Place, message: Message) -> Person:
    known = await places.person(tx, message.who)
    person = known or Person(person=message.who, unit=message.unit or place.unit or place.company)
    seen = msgspec.structs.replace(person, name=message.name or person.name)
    if seen != known:
        await places.put_person(tx, seen)
    return seen


@dataclass(frozen=True)
class _Rights:
    """What a speaker's rights rest on (handlers/rights.py)."""

    company: str
    unit: str
    role: Role | None
    given_role: Role | None
    sets_up: bool
    officer: str


async def _rights(
    house: House, tx: Tx, place: Place, person: Person, message: Message, incident: str | None
) -> _Rights:
    company = await house.logbook.lead(tx, incident) if incident is not None else place.company
    unit = message.unit or place.unit or person.unit or place.company
    given = house.given_roles.get(message.who) or house.given_roles.get(message.who.partition(":")[2])
    of_room = cast(Role | None, None if place.grouped else place.role)
    role = message.role or person.role or given or of_room
    others = await places.holding(tx, unit, LEADING, but=message.who, since=message.at - PRESENT)
    first = place.first == message.who and place.unit is None
    return _Rights(
        company=company,
        unit=unit,
        role=role,
        given_role=given or of_room,
        sets_up=role is None and first and not others,
        officer=next((other.name or other.person for other in others if other.role == "officer"), ""),
    )


async def directory_of(house: House, tx: Tx, place: Place, incident: str | None) -> Directory:
    """Who is told where: the incident's rooms, or out of one those of the room's company."""
    if incident is None:
        return Directory(await places.of_company(tx, place.company), place.company, house.crew_room)
    company = await house.logbook.lead(tx, incident)
    return Directory(await places.of_incident(tx, incident), company, house.crew_room)
