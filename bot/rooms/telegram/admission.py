"""Which chats are served: those of the settings, those that joined by a one-time link, and what became of either."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from bot.message import join_codes
from bot.message.situation import AFTERWARDS
from bot.rooms.telegram.incoming import KIND
from bot.store import chats, log, places
from bot.store.chats import Chat, Code
from bot.store.connection import Tx
from bot.store.places import Place


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

    async def load(self, tx: Tx) -> None:
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

    async def serves(self, tx: Tx, room: str, now: datetime) -> bool:
        """Whether it is served: named, or joined to an incident that is open or has only just closed."""
        if self.is_named(room):
            return True
        chat = self._chats.get(room)
        if chat is None or chat.incident is None:
            return False
        incident = await log.incident(tx, chat.incident)
        return incident is not None and (incident.closed_at is None or now < incident.closed_at + AFTERWARDS)

    async def turn_away(self, tx: Tx, room: str, now: datetime) -> bool:
        """Note that a chat is told that it isn't served; False when it was told before."""
        if room in self._chats:
            return False
        chat = Chat(room, "told", now)
        self._keep(chat)
        return await chats.note(tx, chat)

    async def join(self, tx: Tx, code: str, place: Place, who: str, now: datetime) -> Code | str:
        """Let a chat in by a link's code: it is a room of the incident from now on. Else why it isn't."""
        used = await join_codes.tried(tx, code, place.room, who, place.company, now)
        if isinstance(used, str):
            return used
        known = await places.place(tx, place.room)
        if known is not None and known.incident == used.incident and used.used_by is None:
            return join_codes.HERE_ALREADY
        await self._let_in(tx, used, place, now)
        return used

    async def opens_to(self, tx: Tx, code: str, place: Place, who: str, now: datetime) -> str | None:
        """Why a said join code doesn't let a chat that isn't served come in; None: what it says joins the incident."""
        used = await join_codes.tried(tx, code, place.room, who, place.company, now)
        if isinstance(used, str):
            return used
        if used.unit is None:
            return join_codes.WHICH_UNIT
        await self._let_in(tx, used, place, now)
        return None

    async def _let_in(self, tx: Tx, used: Code, place: Place, now: datetime) -> None:
        """The code is used up for this room, which is in the incident from now on."""
        incident = await log.incident(tx, used.incident)
        if incident is None:
            return  # it was open a moment ago, in this transaction
        await chats.use_code(tx, used.code, place.room, now)
        chat = Chat(place.room, "joined", now, incident=incident.id)
        await chats.note(tx, chat)
        await places.add_place(tx, place)
        await places.change_place(tx, place.room, company=incident.company, unit=used.unit, incident=incident.id)
        self._keep(chat)

    async def move(self, tx: Tx, old: str, new: str, now: datetime) -> bool:
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
