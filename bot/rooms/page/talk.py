"""The conversation of a page's room, as the record has it: what was said there and what was told there."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import select

from bot.message import Button, Message, Outgoing
from bot.message.recording import HEARD
from bot.store.connection import Tx
from bot.store.tables import inbox, outbox, questions

SHOWN = 120
"""So much of the conversation a screen gets when it connects."""

_MESSAGE = msgspec.json.Decoder(Message)
_BUTTONS = msgspec.json.Decoder(tuple[Button, ...])


class Entry(msgspec.Struct, frozen=True, omit_defaults=True):
    """One thing in the conversation. `key` is its own for ever: the same one twice is one."""

    key: str
    kind: str
    """ "said", "reply", "reminder", "alert" or "notice"."""
    at: datetime
    text: str
    who: str = ""
    person: str = ""
    message: str = ""
    """The message's id (of one that was said), or that of the message that it answers."""
    name: str = ""
    buttons: tuple[Button, ...] = ()
    due_at: datetime | None = None
    file: bool = False
    """A picture or file goes with it."""
    recorded: bool = False
    """It was spoken."""


def said(number: int, message: Message, heard: str = "") -> Entry:
    """What somebody said, as soon as it is safe; `heard`: what a recording was heard as, once that is known."""
    pressed = "(a button)" if message.button else ""
    return Entry(
        f"i{number}",
        "said",
        message.at,
        message.text or heard or pressed,
        who=message.name or message.who,
        person=message.who,
        message=message.id,
        recorded=message.is_recording,
    )


def heard_in(reply: str | None) -> str:
    """The words that a reply reads back; "" where it answers typed ones."""
    first = (reply or "").partition("\n")[0]
    return first.removeprefix(HEARD) if first.startswith(HEARD) else ""


def told(out: Outgoing, at: datetime) -> Entry:
    """What the outbox hands over."""
    return Entry(
        f"o{out.id}",
        out.kind,
        at,
        out.text,
        message=out.reply_to,
        name=out.name,
        buttons=out.buttons,
        due_at=out.due_at,
        file=any(attachment.kind != "voice" for attachment in out.attachments),
    )


async def latest(tx: Tx, room: str) -> list[Entry]:
    """The last of the conversation, in the order of time; what waits to be sent comes when it is sent."""
    heard = select(inbox.c.id, inbox.c.body, inbox.c.reply, inbox.c.voice.is_not(None).label("recorded"))
    heard = heard.where(inbox.c.room == room).order_by(inbox.c.id.desc()).limit(SHOWN)
    sent = select(outbox).where(outbox.c.room == room, outbox.c.state != "waiting")
    sent = sent.order_by(outbox.c.id.desc()).limit(SHOWN)
    entries = [entry for row in await tx.execute(heard) if (entry := _said(row)) is not None]
    entries += [_told(row) for row in await tx.execute(sent)]
    return sorted(entries, key=lambda entry: (entry.at, entry.kind != "said", entry.key))[-SHOWN:]


def _said(row: Any) -> Entry | None:
    try:
        message = _MESSAGE.decode(row.body)
    except msgspec.DecodeError:
        return None
    voiced = bool(row.recorded) or not (message.text or message.button)
    return said(row.id, msgspec.structs.replace(message, recorded=voiced), heard_in(row.reply) if voiced else "")


def _told(row: Any) -> Entry:
    buttons: tuple[Button, ...] = ()
    if row.buttons:
        try:
            buttons = _BUTTONS.decode(row.buttons)
        except msgspec.DecodeError:
            buttons = ()
    return Entry(
        f"o{row.id}",
        row.kind,
        row.finished_at or row.created_at,
        row.text,
        message=row.reply_to,
        name=row.name,
        buttons=buttons,
        due_at=row.due_at,
        file=bool(row.picture),
    )


async def spoken(tx: Tx, number: int, room: str) -> tuple[str, str] | None:
    """What a told message says aloud, and whose rig's units it is in; None where the room wasn't told it."""
    query = select(outbox.c.spoken, outbox.c.text, outbox.c.unit).where(outbox.c.id == number, outbox.c.room == room)
    row = (await tx.execute(query)).first()
    return None if row is None else (row.spoken or row.text, row.unit)


async def open_questions(tx: Tx, room: str, since: datetime) -> tuple[int, ...]:
    """The numbers of the questions that are open in a room."""
    query = select(questions.c.id).where(
        questions.c.room == room, questions.c.closed_at.is_(None), questions.c.asked_at >= since
    )
    return tuple((await tx.execute(query.order_by(questions.c.id))).scalars())
