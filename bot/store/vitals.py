"""How the running program is doing, in its own words, for `crosslay check --live`; and what waits in the record."""

from __future__ import annotations

from datetime import datetime

import msgspec
from sqlalchemy import func, select, update

from bot.store.connection import Tx
from bot.store.database import new_only
from bot.store.tables import inbox, outbox, reminders, rooms, vitals

_PUT = new_only(vitals)


class Sign(msgspec.Struct, frozen=True):
    """One of its signs of life."""

    value: str
    at: datetime


class Queues(msgspec.Struct, frozen=True):
    """What waits, and since when."""

    inbox: int
    inbox_since: datetime | None
    outbox: int
    outbox_since: datetime | None
    next_due: datetime | None
    last_sent: datetime | None
    unreached: tuple[str, ...]


async def put(tx: Tx, signs: dict[str, str], now: datetime) -> None:
    """Write signs down, in place of those before."""
    for name, value in signs.items():
        row = {"name": name, "value": value, "at": now}
        changed = await tx.execute(update(vitals).where(vitals.c.name == name).values(row))
        if not changed.rowcount:
            await tx.execute(_PUT(tx), row)


async def signs(tx: Tx) -> dict[str, Sign]:
    """All of them by name."""
    return {row.name: Sign(row.value, row.at) for row in await tx.execute(select(vitals))}


async def queues(tx: Tx) -> Queues:
    """What waits in the record."""
    left = select(func.count(), func.min(inbox.c.received_at)).where(inbox.c.done_at.is_(None))
    unsent = select(func.count(), func.min(outbox.c.created_at)).where(outbox.c.state.in_(("waiting", "sending")))
    due = select(func.min(reminders.c.due_at)).where(reminders.c.sent_at.is_(None))
    sent = select(func.max(outbox.c.finished_at)).where(outbox.c.state == "sent")
    gone = select(rooms.c.room).where(rooms.c.unreached_since.is_not(None)).order_by(rooms.c.room)
    waiting, since = (await tx.execute(left)).one()
    outgoing, unsent_since = (await tx.execute(unsent)).one()
    return Queues(
        inbox=waiting,
        inbox_since=since,
        outbox=outgoing,
        outbox_since=unsent_since,
        next_due=(await tx.execute(due)).scalar(),
        last_sent=(await tx.execute(sent)).scalar(),
        unreached=tuple((await tx.execute(gone)).scalars()),
    )


async def newest(tx: Tx) -> datetime | None:
    """When the newest message in the record was received."""
    at: datetime | None = (await tx.execute(select(func.max(inbox.c.received_at)))).scalar()
    return at
