"""Reminders as rows: one for each (incident, room, key), told once, moved when its time moves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import msgspec
from sqlalchemy import bindparam, delete, insert, select, update

from bot.store.connection import Tx
from bot.store.tables import reminders
from handlers.outcome import Kind


class ReminderRow(msgspec.Struct, frozen=True):
    """A reminder for one room."""

    incident: str
    room: str
    key: str
    name: str
    kind: Kind
    due_at: datetime
    owed_at: datetime
    """Its own time, where the room's quiet moved `due_at` to a later one."""
    text: str
    spoken: str = ""
    question: str | None = None
    """The buttons that go with it, as JSON of grammar.commands.Question."""
    merged: str = ""
    """Keys of the reminders that are told with it, a line each."""
    sent_at: datetime | None = None


_ROWS = select(*(reminders.c[name] for name in ReminderRow.__struct_fields__))
_OF_INCIDENT = _ROWS.where(reminders.c.incident == bindparam("incident"))
_NEXT_DUE = select(reminders.c.due_at).where(reminders.c.sent_at.is_(None)).order_by(reminders.c.due_at).limit(1)
_DUE = (
    _ROWS.where(reminders.c.sent_at.is_(None), reminders.c.due_at <= bindparam("now"))
    .order_by(reminders.c.due_at, reminders.c.room, reminders.c.key)
    .limit(bindparam("most"))
    .with_for_update(skip_locked=True)
)
_INCIDENTS_DUE = (
    select(reminders.c.incident)
    .where(reminders.c.sent_at.is_(None), reminders.c.due_at <= bindparam("now"))
    .distinct()
    .order_by(reminders.c.incident)
)
_NAMES_WAITING = (
    select(reminders.c.incident, reminders.c.room, reminders.c.name)
    .where(reminders.c.sent_at.is_(None), reminders.c.incident.in_(bindparam("incidents", expanding=True)))
    .distinct()
)
_THIS = (
    (reminders.c.incident == bindparam("_incident"))
    & (reminders.c.room == bindparam("_room"))
    & (reminders.c.key == bindparam("_key"))
)
_MOVABLE = ("name", "kind", "due_at", "owed_at", "text", "spoken", "question", "merged")
_ADD = insert(reminders)
_CHANGE = update(reminders).where(_THIS).values({name: bindparam(f"new_{name}") for name in _MOVABLE})
_DROP = delete(reminders).where(_THIS)
_TOLD = update(reminders).where(_THIS).values(sent_at=bindparam("new_sent_at"))


async def of_incident(tx: Tx, incident: str) -> list[ReminderRow]:
    """All rows of an incident, told or waiting."""
    return [ReminderRow(*row) for row in await tx.execute(_OF_INCIDENT, {"incident": incident})]


async def next_due(tx: Tx) -> datetime | None:
    """When the next waiting reminder is due."""
    return (await tx.execute(_NEXT_DUE)).scalar()


async def due(tx: Tx, now: datetime, limit: int) -> list[ReminderRow]:
    """The waiting rows whose time has come, earliest first."""
    return [ReminderRow(*row) for row in await tx.execute(_DUE, {"now": now, "most": limit})]


async def incidents_due(tx: Tx, now: datetime) -> list[str]:
    """The incidents that have something due."""
    return list((await tx.execute(_INCIDENTS_DUE, {"now": now})).scalars())


async def names_waiting(tx: Tx, incidents: Sequence[str]) -> set[tuple[str, str, str]]:
    """(incident, room, name) of what is still waiting in these incidents."""
    return {tuple(row) for row in await tx.execute(_NAMES_WAITING, {"incidents": list(incidents)})}


async def add(tx: Tx, rows: Sequence[ReminderRow]) -> None:
    if rows:
        await tx.execute(_ADD, [msgspec.structs.asdict(row) for row in rows])


async def change(tx: Tx, rows: Sequence[ReminderRow]) -> None:
    """Bring waiting rows in line with what is due now."""
    if rows:
        await tx.execute(
            _CHANGE,
            [{**_key(row), **{f"new_{name}": getattr(row, name) for name in _MOVABLE}} for row in rows],
        )


async def drop(tx: Tx, rows: Sequence[ReminderRow]) -> None:
    """These are not due any more."""
    if rows:
        await tx.execute(_DROP, [_key(row) for row in rows])


async def told(tx: Tx, rows: Sequence[ReminderRow], now: datetime) -> None:
    """These have been handed to the outbox."""
    if rows:
        await tx.execute(_TOLD, [{**_key(row), "new_sent_at": now} for row in rows])


def _key(row: ReminderRow) -> dict[str, str]:
    return {"_incident": row.incident, "_room": row.room, "_key": row.key}
