"""Rooms and people: whose room it is, which incident it is in, who has which role."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

import msgspec
from sqlalchemy import bindparam, insert, or_, select, update

from bot.store.connection import Tx
from bot.store.database import new_only
from bot.store.tables import chats, inbox, people, rooms
from grammar.commands import Role


class Place(msgspec.Struct, frozen=True):
    """A room as the record knows it."""

    room: str
    company: str
    """Whose incidents it enters."""
    unit: str | None = None
    """The company that speaks here, where it is a guest of the incident's."""
    role: str | None = None
    grouped: bool = False
    thread: str = ""
    talk: bool = False
    """What is told here is spoken too."""
    incident: str | None = None
    board: str | None = None
    title: str = ""
    first: str | None = None
    """Who was the first to talk here."""
    unreached_since: datetime | None = None
    """It refuses what it is sent."""


class Person(msgspec.Struct, frozen=True):
    """A person as the record knows them."""

    person: str
    name: str = ""
    role: Role | None = None
    unit: str = ""


_PLACES = select(*(rooms.c[name] for name in Place.__struct_fields__))
_PLACE = _PLACES.where(rooms.c.room == bindparam("room"))
_OF_INCIDENT = _PLACES.where(rooms.c.incident == bindparam("incident"))
_JOINED = select(chats.c.room).where(chats.c.standing == "joined")
_OF_COMPANY = _PLACES.where(
    rooms.c.company == bindparam("company"),
    or_(rooms.c.unit.is_(None), rooms.c.incident.is_(None)),
    rooms.c.room.not_in(_JOINED),
)
_INCIDENTS = select(rooms.c.room, rooms.c.incident).where(rooms.c.room.in_(bindparam("rooms", expanding=True)))
_ADD_PLACE = new_only(rooms)
_LAST_HEARD = (
    select(inbox.c.sent_at).where(inbox.c.who == people.c.person).order_by(inbox.c.id.desc()).limit(1).scalar_subquery()
)
_HOLDING = (
    select(*(people.c[name] for name in Person.__struct_fields__))
    .where(
        people.c.unit == bindparam("unit"),
        people.c.role.in_(bindparam("roles", expanding=True)),
        people.c.person != bindparam("but"),
        _LAST_HEARD.op(">=")(bindparam("since", type_=inbox.c.sent_at.type)),
    )
    .order_by(people.c.person)
)
_PERSON = select(*(people.c[name] for name in Person.__struct_fields__)).where(people.c.person == bindparam("person"))


async def place(tx: Tx, room: str) -> Place | None:
    """The room of this key."""
    row = (await tx.execute(_PLACE, {"room": room})).first()
    return None if row is None else Place(*row)


async def add_place(tx: Tx, new: Place) -> None:
    """A room that wasn't known."""
    await tx.execute(_ADD_PLACE(tx), msgspec.structs.asdict(new))


async def change_place(tx: Tx, room: str, **values: object) -> None:
    """Note something new about a room."""
    await tx.execute(update(rooms).where(rooms.c.room == room).values(values))


async def rename_room(tx: Tx, old: str, new: str) -> None:
    """A room has a new key (a group that became a larger one): everything that waits for it moves along."""
    from bot.store.tables import outbox, questions, reminders

    await tx.execute(rooms.delete().where(rooms.c.room == new))
    for table in (rooms, outbox, questions, reminders):
        await tx.execute(update(table).where(table.c.room == old).values(room=new))


async def incidents(tx: Tx, keys: Collection[str]) -> dict[str, str]:
    """The incidents that these rooms are in; rooms in none are left out."""
    found = await tx.execute(_INCIDENTS, {"rooms": list(keys)})
    return {row.room: row.incident for row in found if row.incident is not None}


async def of_incident(tx: Tx, incident: str) -> list[Place]:
    """The rooms that are in an incident."""
    return [Place(*row) for row in await tx.execute(_OF_INCIDENT, {"incident": incident})]


async def of_company(tx: Tx, company: str) -> list[Place]:
    """The rooms of a company; none that came into one of its incidents by a code or a link: it is in that one alone."""
    return [Place(*row) for row in await tx.execute(_OF_COMPANY, {"company": company})]


async def of_kind(tx: Tx, kind: str) -> list[Place]:
    """The rooms of a kind ("telegram")."""
    query = _PLACES.where(rooms.c.room.startswith(f"{kind}:", autoescape=True))
    return [Place(*row) for row in await tx.execute(query)]


async def unreached(tx: Tx) -> set[str]:
    """The rooms that refused what they were sent last."""
    return set((await tx.execute(select(rooms.c.room).where(rooms.c.unreached_since.is_not(None)))).scalars())


async def forget(tx: Tx, room: str) -> None:
    """A room that is no longer served: it is told nothing more."""
    from bot.store.tables import outbox, reminders

    await tx.execute(rooms.delete().where(rooms.c.room == room))
    await tx.execute(reminders.delete().where(reminders.c.room == room, reminders.c.sent_at.is_(None)))
    await tx.execute(outbox.delete().where(outbox.c.room == room, outbox.c.state.in_(("waiting", "sending"))))


async def enter_incident(tx: Tx, incident: str, keys: Sequence[str]) -> None:
    """These rooms are in the incident from now on."""
    if not keys:
        return
    await tx.execute(update(rooms).where(rooms.c.room.in_(keys)).values(incident=incident))


async def person(tx: Tx, key: str) -> Person | None:
    """The person of this key."""
    row = (await tx.execute(_PERSON, {"person": key})).first()
    return None if row is None else Person(*row)


async def put_person(tx: Tx, who: Person) -> None:
    """Add a person, or note what is new about them."""
    values = msgspec.structs.asdict(who)
    changed = await tx.execute(update(people).where(people.c.person == who.person).values(values))
    if not changed.rowcount:
        await tx.execute(insert(people).values(values))


async def holding(tx: Tx, unit: str, roles: Collection[str], *, but: str, since: datetime) -> list[Person]:
    """The people of a company who have one of these roles, were heard since then, and aren't the one named."""
    here = {"unit": unit, "roles": list(roles), "but": but, "since": since}
    return [Person(*row) for row in await tx.execute(_HOLDING, here)]
