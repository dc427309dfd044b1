"""What is erased from the record: an incident with everything that was said in it, and old talk out of any."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Table, delete, exists, func, or_, select, text, update

from bot.store.connection import Tx
from bot.store.tables import (
    chats,
    events,
    inbox,
    incidents,
    join_codes,
    outbox,
    people,
    questions,
    reminders,
    rooms,
)

OF_AN_INCIDENT: tuple[Table, ...] = (events, reminders, outbox, questions, inbox, join_codes, incidents)
"""Whose rows name the incident that they belong to."""


async def forget(tx: Tx, incident: str) -> None:
    """Erase an incident: its log, messages, replies, reminders, codes, the rooms that joined it, names of guests."""
    await _overwrite(tx)
    joined = select(chats.c.room).where(chats.c.incident == incident, chats.c.standing == "joined")
    await tx.execute(delete(rooms).where(rooms.c.room.in_(joined)))
    await tx.execute(delete(chats).where(chats.c.incident == incident, chats.c.standing.in_(("joined", "member"))))
    await tx.execute(update(chats).where(chats.c.incident == incident).values(incident=None))
    await tx.execute(update(rooms).where(rooms.c.incident == incident).values(incident=None, board=None))
    for table in OF_AN_INCIDENT:
        await tx.execute(delete(table).where(table.c.incident == incident))
    await _forget_people(tx)


async def old_incidents(tx: Tx, before: datetime) -> list[str]:
    """Those that closed before then, and those left open in which nothing was logged since."""
    since = exists().where(events.c.incident == incidents.c.incident, events.c.logged_at >= before)
    left = incidents.c.closed_at.is_(None) & (incidents.c.opened_at < before) & ~since
    query = select(incidents.c.incident).where(or_(incidents.c.closed_at < before, left))
    return list((await tx.execute(query.order_by(incidents.c.incident))).scalars())


async def forget_talk(tx: Tx, before: datetime) -> None:
    """Erase what was said out of any incident before then, the logs of those days, and what was told of it."""
    await _overwrite(tx)
    known = select(incidents.c.incident)
    last = select(events.c.incident).group_by(events.c.incident).having(func.max(events.c.logged_at) < before)
    await tx.execute(delete(events).where(events.c.incident.in_(last), events.c.incident.not_in(known)))
    old = (inbox.c.received_at < before) & inbox.c.done_at.is_not(None)
    await tx.execute(delete(inbox).where(old, or_(inbox.c.incident.is_(None), inbox.c.incident.not_in(known))))
    told = (outbox.c.created_at < before) & outbox.c.finished_at.is_not(None)
    await tx.execute(delete(outbox).where(told, outbox.c.incident.not_in(known)))
    await tx.execute(delete(join_codes).where(join_codes.c.incident == "", join_codes.c.expires_at < before))
    of_none = or_(questions.c.incident.is_(None), questions.c.incident.not_in(known))
    await tx.execute(delete(questions).where(questions.c.asked_at < before, of_none))
    await _forget_people(tx)


async def _forget_people(tx: Tx) -> None:
    """Names of people of whom nothing is left."""
    said = exists().where(inbox.c.who == people.c.person)
    logged = exists().where(events.c.who == people.c.person)
    await tx.execute(delete(people).where(~said, ~logged, people.c.role.is_(None)))


async def _overwrite(tx: Tx) -> None:
    """SQLite: what is deleted is overwritten in the file too."""
    if tx.dialect.name == "sqlite":
        await tx.execute(text("PRAGMA secure_delete=ON"))
