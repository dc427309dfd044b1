"""The outbox's rows: what is to be shown, room by room in order, until the room has it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

import msgspec
from sqlalchemy import func, insert, or_, select, update
from sqlalchemy.ext.asyncio import AsyncConnection

from bot.message import Button
from bot.store.tables import outbox, rooms
from handlers.outcome import Kind, Picture

_BUTTONS = msgspec.json.Decoder(tuple[Button, ...])
_PICTURE = msgspec.json.Decoder(Picture)


class Draft(msgspec.Struct, frozen=True, kw_only=True):
    """A message for a room, before it has its number."""

    room: str
    kind: Kind
    text: str
    created_at: datetime
    incident: str = ""
    name: str = ""
    spoken: str = ""
    buttons: tuple[Button, ...] = ()
    picture: Picture | None = None
    reply_to: str = ""
    thread: str = ""
    due_at: datetime | None = None


class Letter(msgspec.Struct, frozen=True):
    """A row that is to be sent."""

    id: int
    draft: Draft
    attempts: int
    """How often it was handed to the room already: more than 0 means that it may have arrived."""


async def put(tx: AsyncConnection, drafts: Sequence[Draft]) -> None:
    """Line messages up for their rooms, in order."""
    if drafts:
        await tx.execute(insert(outbox), [_row(draft) for draft in drafts])


async def start(tx: AsyncConnection, kinds: Collection[str], busy: Collection[str], now: datetime) -> list[Letter]:
    """Take the next message of every idle room of these kinds; each is marked as being sent.

    One that answers nobody goes where the room last talked (its topic).
    """
    mine = or_(*(or_(outbox.c.room == kind, outbox.c.room.startswith(f"{kind}:", autoescape=True)) for kind in kinds))
    first = (
        select(func.min(outbox.c.id).label("id"))
        .where(outbox.c.state.in_(("waiting", "sending")), mine, outbox.c.room.not_in(busy))
        .group_by(outbox.c.room)
        .subquery()
    )
    ready = or_(outbox.c.not_before.is_(None), outbox.c.not_before <= now)
    topic = func.coalesce(func.nullif(outbox.c.thread, ""), rooms.c.thread, "").label("thread")
    others = [column for column in outbox.c if column.name != "thread"]
    query = (
        select(*others, topic).join(first, outbox.c.id == first.c.id).outerjoin(rooms, rooms.c.room == outbox.c.room)
    )
    rows = (await tx.execute(query.where(ready))).all()
    if rows:
        sending = update(outbox).where(outbox.c.id.in_([row.id for row in rows]))
        await tx.execute(sending.values(state="sending", attempts=outbox.c.attempts + 1))
    return [Letter(row.id, _draft(row), row.attempts) for row in rows]


async def next_retry(tx: AsyncConnection, now: datetime) -> datetime | None:
    """When the next parked message may be tried again."""
    query = select(func.min(outbox.c.not_before)).where(outbox.c.state == "waiting", outbox.c.not_before > now)
    at: datetime | None = (await tx.execute(query)).scalar()
    return at


async def sent(tx: AsyncConnection, letter_id: int, sent_as: str, now: datetime) -> None:
    """The room has it."""
    values = {"state": "sent", "sent_as": sent_as, "finished_at": now, "error": None}
    await tx.execute(update(outbox).where(outbox.c.id == letter_id).values(values))


async def put_off(tx: AsyncConnection, letter_id: int, until: datetime, error: str, *, arrived_maybe: bool) -> None:
    """Try again at `until`."""
    attempts = outbox.c.attempts if arrived_maybe else outbox.c.attempts - 1
    values = {"state": "waiting", "not_before": until, "error": error, "attempts": attempts}
    await tx.execute(update(outbox).where(outbox.c.id == letter_id).values(values))


async def failed(tx: AsyncConnection, letter_id: int, error: str, now: datetime) -> None:
    """The room will never take it."""
    values = {"state": "failed", "error": error, "finished_at": now}
    await tx.execute(update(outbox).where(outbox.c.id == letter_id).values(values))


def _row(draft: Draft) -> dict[str, object]:
    return {
        **msgspec.structs.asdict(draft),
        "buttons": msgspec.json.encode(draft.buttons).decode() if draft.buttons else None,
        "picture": msgspec.json.encode(draft.picture).decode() if draft.picture else None,
    }


def _draft(row: object) -> Draft:
    fields = {name: getattr(row, name) for name in Draft.__struct_fields__}
    fields["buttons"] = _BUTTONS.decode(fields["buttons"]) if fields["buttons"] else ()
    fields["picture"] = _PICTURE.decode(fields["picture"]) if fields["picture"] else None
    return Draft(**fields)
