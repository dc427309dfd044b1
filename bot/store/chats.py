"""Chats beyond the settings' list: joined by a link, moved to a new id, or turned away once; and the links' codes."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal, TypeAlias

import msgspec
from sqlalchemy import insert, select, update

from bot.store.connection import Tx
from bot.store.database import new_only
from bot.store.tables import chats, join_codes

TICK = timedelta(microseconds=1)

Standing: TypeAlias = Literal["joined", "moved", "told", "member", "removed"]
"""The last two are of people on the page (bot/rooms/page): let in by a code of the house, and put out again."""


class Chat(msgspec.Struct, frozen=True):
    """A chat that the settings don't name."""

    room: str
    standing: Standing
    since: datetime
    was: str | None = None
    """The room it was before it moved."""
    incident: str | None = None
    """The incident that it joined."""


class Code(msgspec.Struct, frozen=True):
    """A one-time code of a join link."""

    code: str
    incident: str
    unit: str | None
    made_by: str
    expires_at: datetime
    used_by: str | None = None
    used_at: datetime | None = None


_CHAT = [chats.c[name] for name in Chat.__struct_fields__]
_NOTE = new_only(chats, chats.c.room)
_CODE = [join_codes.c[name] for name in Code.__struct_fields__]


async def known(tx: Tx) -> list[Chat]:
    """All of them."""
    return [Chat(*row) for row in await tx.execute(select(*_CHAT).order_by(chats.c.since))]


async def note(tx: Tx, chat: Chat) -> bool:
    """Write a chat's standing down; False when it has that standing already."""
    values = msgspec.structs.asdict(chat)
    if (await tx.execute(_NOTE(tx), values)).first() is not None:
        return True
    other = (chats.c.room == chat.room) & (chats.c.standing != chat.standing)
    return bool((await tx.execute(update(chats).where(other).values(values))).rowcount)


async def add_code(tx: Tx, code: Code) -> None:
    """Keep a new code."""
    await tx.execute(insert(join_codes).values(msgspec.structs.asdict(code)))


async def code(tx: Tx, code: str) -> Code | None:
    """The code of these characters, used or not."""
    row = (await tx.execute(select(*_CODE).where(join_codes.c.code == code))).first()
    return None if row is None else Code(*row)


async def use_code(tx: Tx, code: str, room: str, now: datetime) -> Code | None:
    """Use a code up for a room; None when there is no such code, it is over, or another room used it."""
    row = (await tx.execute(select(*_CODE).where(join_codes.c.code == code))).first()
    found = None if row is None else Code(*row)
    if found is None or now > found.expires_at or found.used_by not in (None, room):
        return None
    await tx.execute(update(join_codes).where(join_codes.c.code == code).values(used_by=room, used_at=now))
    return found


async def end_code(tx: Tx, code: str, now: datetime) -> bool:
    """A code lets nobody in from now on; False when a room has used it, or it was over before."""
    this = (join_codes.c.code == code) & join_codes.c.used_by.is_(None) & (join_codes.c.expires_at >= now)
    return bool((await tx.execute(update(join_codes).where(this).values(expires_at=now - TICK))).rowcount)
