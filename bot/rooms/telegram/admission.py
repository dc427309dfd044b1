"""Which chats are served: those of the settings, those that joined by a one-time link, and what became of either."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlalchemy.ext.asyncio import AsyncConnection

from bot.joining import TRIES
from bot.rooms.telegram.incoming import KIND
from bot.situation import AFTERWARDS
from bot.store import chats, log, places
from bot.store.chats import Chat, Code
from bot.store.places import Place

CODE_LASTS = timedelta(minutes=30)


def key(chat: str) -> str:
    """Our room key of a chat as the settings and rig files name it (its id, with or without "telegram:")."""
    return f"{KIND}:{chat.removeprefix(f'{KIND}:')}"


class Admission:
    """The allow-list and what the record adds to it. `load` it before use."""

    def __init__(self, served: Iterable[str]) -> None:
        """`served`: the chats that the settings name."""
        self._named = frozenset(key(chat) for chat in served)
        self._chats: dict[str, Chat] = {}
        self._moved: dict[str, str] = {}

    async def load(self, tx: AsyncConnection) -> None:
        """Read what the record knows."""
        for chat in await chats.known(tx):
            self._keep(chat)

    def current(self, room: str) -> str:
        """The room that this one is now (a group that became a supergroup has another id)."""
        while room in self._moved:
            room = self._moved[room]
        return room

    def is_named(self, room: str) -> bool:
        """Whether the settings serve it, under this id or an earlier one."""
        chat: Chat | None
        while room not in self._named:
            chat = self._chats.get(room)
            if chat is None or chat.was is None:
                return False
            room = chat.was
        return True

    async def serves(self, tx: AsyncConnection, room: str, now: datetime) -> bool:
        """Whether it is served: named, or joined to an incident that is open or has only just closed."""
        if self.is_named(room):
            return True
        chat = self._chats.get(room)
        if chat is None or chat.incident is None:
            return False
        incident = await log.incident(tx, chat.incident)
        return incident is not None and (incident.closed_at is None or now < incident.closed_at + AFTERWARDS)

    async def turn_away(self, tx: AsyncConnection, room: str, now: datetime) -> bool:
        """Note that a chat is told that it isn't served; False when it was told before."""
        if room in self._chats:
            return False
        chat = Chat(room, "told", now)
        self._keep(chat)
        return await chats.note(tx, chat)

    async def make_code(self, tx: AsyncConnection, incident: str, unit: str, by: str, now: datetime) -> Code:
        """A one-time code that brings a chat into an incident, for a company or (unit "") for this one."""
        code = Code(secrets.token_urlsafe(9), incident, unit or None, by, now + CODE_LASTS)
        await chats.add_code(tx, code)
        return code

    async def join(self, tx: AsyncConnection, code: str, place: Place, now: datetime) -> Code | None:
        """Let a chat in by its code: it is a room of the incident from now on. None when the code isn't good."""
        used = await chats.use_code(tx, code, place.room, now)
        incident = await log.incident(tx, used.incident) if used else None
        if used is None or incident is None or incident.closed_at is not None:
            return None
        chat = Chat(place.room, "joined", now, incident=incident.id)
        await chats.note(tx, chat)
        await places.add_place(tx, place)
        await places.change_place(tx, place.room, company=incident.company, unit=used.unit, incident=incident.id)
        self._keep(chat)
        return used

    async def opens_to(self, tx: AsyncConnection, code: str, room: str, now: datetime) -> bool:
        """Whether a said join code lets a chat that isn't served come in; what it says then joins the incident."""
        if TRIES.too_many(room, now):
            return False
        found = await chats.code(tx, code)
        incident = await log.incident(tx, found.incident) if found else None
        if (
            found is None
            or found.used_by is not None
            or now > found.expires_at
            or incident is None
            or incident.closed_at
        ):
            TRIES.wrong(room, now)
            return False
        chat = Chat(room, "joined", now, incident=incident.id)
        await chats.note(tx, chat)
        self._keep(chat)
        return True

    async def move(self, tx: AsyncConnection, old: str, new: str, now: datetime) -> bool:
        """A chat has a new id: what waits for it moves along. False when that is known already."""
        if old in self._moved:
            return False
        before = self._chats.get(old)
        chat = Chat(new, "moved", now, was=old, incident=before.incident if before else None)
        await chats.note(tx, chat)
        await places.rename_room(tx, old, new)
        self._keep(chat)
        return True

    def _keep(self, chat: Chat) -> None:
        self._chats[chat.room] = chat
        if chat.was is not None:
            self._moved[chat.was] = chat.room
