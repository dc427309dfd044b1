"""The inbox: every message is written here before its sender is told that it came, then ticked off with the outcome."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from datetime import datetime

import msgspec
from sqlalchemy import bindparam, func, or_, select, update

from bot.message import Message
from bot.store import outgoing
from bot.store.connection import Tx
from bot.store.database import new_only
from bot.store.outgoing import Unsent
from bot.store.tables import inbox
from grammar.commands import Command

UNREADABLE = "This message was kept but can't be read any more: say it again."

_MESSAGE = msgspec.json.Decoder(Message)
_COMMANDS = msgspec.json.Decoder(tuple[Command, ...])
_LOG = logging.getLogger(__name__)
_encode = msgspec.json.Encoder().encode

_RECEIVE = new_only(inbox, inbox.c.id)
_WAITING = (
    select(inbox.c.id, inbox.c.room, inbox.c.message, inbox.c.body, inbox.c.voice.is_not(None).label("recorded"))
    .where(inbox.c.done_at.is_(None))
    .order_by(inbox.c.id)
)
_RECORDING = select(inbox.c.voice, inbox.c.tries).where(inbox.c.id == bindparam("_id"))
_TRY = update(inbox).where(inbox.c.id == bindparam("_id")).values(tries=inbox.c.tries + 1)
_IS_DONE = select(inbox.c.done_at).where(inbox.c.id == bindparam("_id")).with_for_update()
_BEFORE = select(inbox.c.body, inbox.c.voice.is_not(None)).where(
    inbox.c.room == bindparam("_room"), inbox.c.id < bindparam("_id"), inbox.c.done_at.is_(None)
)
_DONE = update(inbox).where(inbox.c.id == bindparam("_id"))
_LAST = (
    select(inbox.c.room, inbox.c.message, inbox.c.sent_at, inbox.c.commands)
    .where(
        inbox.c.who == bindparam("who"),
        inbox.c.commands.is_not(None),
        inbox.c.sent_at >= bindparam("since"),
        inbox.c.message != bindparam("but"),
        or_(inbox.c.incident == bindparam("incident"), inbox.c.room == bindparam("room")),
    )
    .order_by(inbox.c.id.desc())
    .limit(20)
)
_LAST_TOLD = (
    select(inbox.c.room, inbox.c.message, inbox.c.reply, inbox.c.commands, inbox.c.sent_at)
    .where(inbox.c.who == bindparam("who"), inbox.c.room == bindparam("room"), inbox.c.reply.is_not(None))
    .order_by(inbox.c.id.desc())
    .limit(1)
)


_ANSWERED = select(inbox.c.body).where(
    inbox.c.room == bindparam("room"), inbox.c.message == bindparam("message"), inbox.c.reply.is_not(None)
)


_KNOWN = select(inbox.c.id).where(inbox.c.room == bindparam("room"), inbox.c.message == bindparam("message"))


class Received(msgspec.Struct, frozen=True):
    """A message that is safe in the inbox."""

    id: int
    message: Message


class LastTold(msgspec.Struct, frozen=True):
    """What a person was last told, and the commands that it answered."""

    message: str
    reply: str
    at: datetime
    commands: tuple[Command, ...]


class Last(msgspec.Struct, frozen=True):
    """What a person last said that can be corrected."""

    message: str
    at: datetime
    commands: tuple[Command, ...]


async def receive(tx: Tx, messages: Sequence[Message], now: datetime) -> list[Received]:
    """Write messages down; returns those that were new, in order."""
    new = []
    for message in messages:
        body = msgspec.structs.replace(message, voice=b"")
        values = {
            "room": message.room,
            "message": message.id,
            "who": message.who,
            "sent_at": message.at,
            "received_at": now,
            "body": _encode(body).decode(),
            "voice": message.voice or None,
        }
        if (row := (await tx.execute(_RECEIVE(tx), values)).first()) is not None:
            new.append(Received(row.id, message))
    return new


async def waiting(tx: Tx, now: datetime) -> list[Received]:
    """Messages that were received and not yet handled, in order, without their recordings: what a restart goes on with.

    A row that can't be read is set aside, and its room is told.
    """
    found = []
    for row in (await tx.execute(_WAITING)).all():
        try:
            message = _MESSAGE.decode(row.body)
            found.append(Received(row.id, msgspec.structs.replace(message, recorded=bool(row.recorded))))
        except msgspec.DecodeError as error:
            _LOG.error("A message in the record can't be read", extra={"room": row.room, "row": row.id})
            told = Unsent(room=row.room, kind="reply", text=UNREADABLE, reply_to=row.message, created_at=now)
            await outgoing.put(tx, [told])
            await done(tx, row.id, now, reply=UNREADABLE, fault=repr(error))
    return found


async def recording(tx: Tx, inbox_id: int) -> tuple[bytes, int]:
    """A message's recording (b"" where it has only a reference), and how often it was tried; this try counts."""
    row = (await tx.execute(_RECORDING, {"_id": inbox_id})).one()
    await tx.execute(_TRY, {"_id": inbox_id})
    return row.voice or b"", row.tries


async def is_done(tx: Tx, inbox_id: int) -> bool:
    """Whether a message was handled already, by another program on the same record; waits for one that is at it."""
    row = (await tx.execute(_IS_DONE, {"_id": inbox_id})).first()
    return row is None or row.done_at is not None


async def waits_for_another(tx: Tx, inbox_id: int, room: str) -> bool:
    """Whether a typed message came to the room before this one and isn't handled. A recording may be overtaken."""
    earlier = await tx.execute(_BEFORE, {"_id": inbox_id, "_room": room})
    return any(not _is_recording(body, recorded) for body, recorded in earlier)


def _is_recording(body: str, recorded: bool) -> bool:
    try:
        return recorded or _MESSAGE.decode(body).is_recording
    except msgspec.DecodeError:
        return True  # it is set aside when it is looked at again; nothing waits for it


async def set_aside(tx: Tx, limit: int = 5) -> tuple[int, list[tuple[str, str, datetime, str]]]:
    """How many messages failed inside, and the newest of them: room, message, when it was received, what went wrong."""
    failed = inbox.c.fault.is_not(None)
    count = (await tx.execute(select(func.count()).where(failed))).scalar_one()
    newest = (
        select(inbox.c.room, inbox.c.message, inbox.c.received_at, inbox.c.fault)
        .where(failed)
        .order_by(inbox.c.id.desc())
        .limit(limit)
    )
    return count, [tuple(row) for row in await tx.execute(newest)]


async def done(
    tx: Tx,
    inbox_id: int,
    now: datetime,
    *,
    incident: str | None = None,
    commands: Sequence[Command] = (),
    reply: str | None = None,
    fault: str | None = None,
) -> None:
    """Tick a message off; its recording is deleted."""
    values = {
        "done_at": now,
        "incident": incident,
        "commands": _encode(tuple(commands)).decode() if commands else None,
        "reply": reply,
        "fault": fault,
        "voice": None,
    }
    await tx.execute(_DONE, {"_id": inbox_id, **values})


async def answered(tx: Tx, room: str, message: str) -> Message | None:
    """A message by its id, if it got a reply."""
    body = (await tx.execute(_ANSWERED, {"room": room, "message": message})).scalar()
    return None if body is None else _MESSAGE.decode(body)


async def known(tx: Tx, room: str, message: str) -> bool:
    """Whether a message is in the inbox."""
    return (await tx.execute(_KNOWN, {"room": room, "message": message})).first() is not None


async def last_commands(
    tx: Tx,
    who: str,
    room: str,
    incident: str | None,
    since: datetime,
    of: Callable[[Sequence[Command]], tuple[Command, ...]] = tuple,
    but: str = "",
) -> Last | None:
    """The person's last commands since then, in the room or elsewhere in the incident; those of them that `of` picks,
    from the last message in which it picks any; not those of message `but`.
    """
    here = {"who": who, "room": room, "incident": incident, "since": since, "but": but}
    for row in await tx.execute(_LAST, here):
        if commands := of(_COMMANDS.decode(row.commands)):
            return Last(f"{row.room}/{row.message}", row.sent_at, commands)
    return None


async def last_told(tx: Tx, who: str, room: str) -> LastTold | None:
    """What the person was last told in this room."""
    row = (await tx.execute(_LAST_TOLD, {"who": who, "room": room})).first()
    if row is None:
        return None
    commands = _COMMANDS.decode(row.commands) if row.commands else ()
    return LastTold(f"{row.room}/{row.message}", row.reply, row.sent_at, commands)
