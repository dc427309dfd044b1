"""The outbox's rows: what is to be shown, room by room in order, until the room has it."""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import bindparam, func, insert, select, update

from bot.message import Button
from bot.store.connection import Tx
from bot.store.tables import outbox, rooms
from handlers.outcome import Kind, Picture

INCOMPLETE = "(Its buttons or picture can't be read any more: say it in words.)"

_LOG = logging.getLogger(__name__)
_BUTTONS = msgspec.json.Decoder(tuple[Button, ...])
_PICTURE = msgspec.json.Decoder(Picture)

_THIS = outbox.c.id == bindparam("_id")
_UNDER_WAY = outbox.c.state.in_(("waiting", "sending"))
_PUT = insert(outbox)
_PUT_SENDING = insert(outbox).values(state="sending", attempts=1).returning(outbox.c.id)
_ANY_UNDER_WAY = select(outbox.c.id).where(outbox.c.room == bindparam("room"), _UNDER_WAY).limit(1)
_FIRST = select(func.min(outbox.c.id).label("id")).where(_UNDER_WAY).group_by(outbox.c.room).subquery()
_TOPIC = func.coalesce(func.nullif(outbox.c.thread, ""), rooms.c.thread, "").label("thread")
_FIRST_OF_ROOMS = (
    select(*(column for column in outbox.c if column.name != "thread"), _TOPIC, rooms.c.talk)
    .join(_FIRST, outbox.c.id == _FIRST.c.id)
    .outerjoin(rooms, rooms.c.room == outbox.c.room)
    .order_by(outbox.c.id)
)
_ROOMS_WAITING = select(outbox.c.room).where(_UNDER_WAY).distinct()
_SENDING = update(outbox).where(_THIS).values(state="sending", attempts=outbox.c.attempts + 1)
_FINISH = update(outbox).where(_THIS)
_PUT_OFF = _FINISH.values(
    state="waiting",
    attempts=outbox.c.attempts - bindparam("off"),
    not_before=bindparam("not_before"),
    error=bindparam("error"),
)


class Unsent(msgspec.Struct, frozen=True, kw_only=True):
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
    unit: str = ""
    """The company whose rig a picture is drawn of."""
    reply_to: str = ""
    thread: str = ""
    due_at: datetime | None = None


class Letter(msgspec.Struct, frozen=True):
    """A row that is to be sent."""

    id: int
    draft: Unsent
    attempts: int
    """How often it was handed to the room already: more than 0 means that it may have arrived."""
    aloud: bool
    """The room wants it spoken too."""


async def put(tx: Tx, drafts: Sequence[Unsent]) -> None:
    """Line messages up for their rooms, in order."""
    if drafts:
        await tx.execute(_PUT, [_row(draft) for draft in drafts])


async def put_sending(tx: Tx, draft: Unsent, *, aloud: bool) -> Letter | None:
    """Line a message up as one that is on its way already, to be sent as soon as it is committed.

    None, and nothing done: something else is still to go to the room.
    """
    if (await tx.execute(_ANY_UNDER_WAY, {"room": draft.room})).first() is not None:
        return None
    number = (await tx.execute(_PUT_SENDING, _row(draft))).scalar_one()
    return Letter(number, draft, 0, aloud)


async def rooms_waiting(tx: Tx, kinds: Collection[str]) -> set[str]:
    """The rooms of these kinds that something waits for."""
    return {room for room in (await tx.execute(_ROOMS_WAITING)).scalars() if room.partition(":")[0] in kinds}


async def start(
    tx: Tx,
    kinds: Collection[str],
    busy: Collection[str],
    now: datetime,
    only: Collection[str] | None = None,
) -> tuple[list[Letter], datetime | None]:
    """Take the next message of every idle room of these kinds; each is marked as being sent.

    One that answers nobody goes where the room last talked (its topic). Buttons or a picture that can't be read are
    left out, and the message says so. Gives also when the next parked room is ready. `only`: of these rooms.
    """
    first = [
        row
        for row in await tx.execute(_FIRST_OF_ROOMS)
        if row.room.partition(":")[0] in kinds and (only is None or row.room in only)
    ]
    parked = [row.not_before for row in first if row.not_before is not None and row.not_before > now]
    idle = [row for row in first if row.room not in busy and (row.not_before is None or row.not_before <= now)]
    letters = [Letter(row.id, _draft(row), row.attempts, bool(row.talk)) for row in idle]
    if letters:
        await tx.execute(_SENDING, [{"_id": letter.id} for letter in letters])
    return letters, min(parked, default=None)


async def told(tx: Tx, number: int, room: str) -> Unsent | None:
    """The message of this number, if it was for this room."""
    row = (await tx.execute(select(outbox).where(outbox.c.id == number, outbox.c.room == room))).first()
    return None if row is None else _draft(row)


async def sent(tx: Tx, letter_id: int, sent_as: str, now: datetime) -> None:
    """The room has it."""
    values = {"state": "sent", "sent_as": sent_as, "finished_at": now, "error": None}
    await tx.execute(_FINISH, {"_id": letter_id, **values})


async def put_off(tx: Tx, letter_id: int, until: datetime, error: str, *, arrived_maybe: bool) -> None:
    """Try again at `until`."""
    await tx.execute(
        _PUT_OFF, {"_id": letter_id, "off": 0 if arrived_maybe else 1, "not_before": until, "error": error}
    )


async def failed(tx: Tx, letter_id: int, error: str, now: datetime) -> None:
    """The room will never take it."""
    values = {"state": "failed", "error": error, "finished_at": now}
    await tx.execute(_FINISH, {"_id": letter_id, **values})


def _row(draft: Unsent) -> dict[str, object]:
    return {
        **msgspec.structs.asdict(draft),
        "buttons": msgspec.json.encode(draft.buttons).decode() if draft.buttons else None,
        "picture": msgspec.json.encode(draft.picture).decode() if draft.picture else None,
    }


def _draft(row: Any) -> Unsent:
    fields = {name: getattr(row, name) for name in Unsent.__struct_fields__}
    try:
        fields["buttons"] = _BUTTONS.decode(fields["buttons"]) if fields["buttons"] else ()
        fields["picture"] = _PICTURE.decode(fields["picture"]) if fields["picture"] else None
    except msgspec.DecodeError:
        _LOG.error("What goes with an outgoing message can't be read", extra={"room": row.room, "row": row.id})
        fields |= {"buttons": (), "picture": None, "text": f"{fields['text']}\n{INCOMPLETE}"}
    return Unsent(**fields)


async def not_shown(tx: Tx, limit: int = 1) -> tuple[int, list[tuple[str, str, datetime, str]]]:
    """How many messages no room took in the end, and the newest of them: room, what it was, when it was made, why."""
    failed = outbox.c.state == "failed"
    count = (await tx.execute(select(func.count()).where(failed))).scalar_one()
    what = func.coalesce(func.nullif(outbox.c.name, ""), outbox.c.kind)
    newest = select(outbox.c.room, what, outbox.c.created_at, outbox.c.error).where(failed)
    return count, [tuple(row) for row in await tx.execute(newest.order_by(outbox.c.id.desc()).limit(limit))]
