"""The Telegram room as the outbox and the ears see it: shows messages in chats and fetches recordings."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any

import httpx
from telegram import Bot
from telegram.error import ChatMigrated

from bot.errors import Unsure
from bot.message import Outgoing
from bot.rooms.telegram import downloads, sending
from bot.rooms.telegram.client import LINES
from bot.rooms.telegram.incoming import KIND, chat_id, room_key
from bot.store.database import unbroken

Moved = Callable[[str, str], Coroutine[Any, Any, None]]
"""Told of a room's old and new key when sending shows that a group has become a supergroup."""


class TelegramRoom:
    """All chats of one bot."""

    kind = KIND

    def __init__(self, bot: Bot) -> None:
        self._bot = bot
        self._http = httpx.AsyncClient(timeout=downloads.PATIENCE_S)
        self._lines = asyncio.Semaphore(LINES)
        self.moved: Moved | None = None

    async def send(self, out: Outgoing) -> str:
        """See bot.rooms.Room.send; a group that has moved is followed."""
        async with self._lines:
            return await self._send(out)

    async def _send(self, out: Outgoing) -> str:
        try:
            return await sending.send(self._bot, chat_id(out.room), out)
        except ChatMigrated as moved:
            new = moved.new_chat_id
        if self.moved is not None:
            await unbroken(self.moved(out.room, room_key(new)))
        try:
            return await sending.send(self._bot, new, out)
        except ChatMigrated as again:
            raise Unsure(str(again)) from again

    async def fetch(self, voice_ref: str) -> bytes:
        """See bot.rooms.Room.fetch."""
        return await downloads.fetch(self._bot, self._http, voice_ref)

    async def close(self) -> None:
        """End its connections."""
        await self._http.aclose()
