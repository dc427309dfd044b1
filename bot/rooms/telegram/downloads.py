"""Fetches a recording, bounded in bytes and time, whatever the server says of its size."""

from __future__ import annotations

import asyncio
from pathlib import Path

import httpx
from telegram import Bot
from telegram.error import BadRequest, TelegramError
from telegram.error import RetryAfter as Flooded

from bot.errors import FileProblem
from bot.rooms.telegram.sending import seconds

LARGEST_BYTES = 20_000_000
"""What the public service hands out (getFile); a self-hosted one is held to it too."""
_TRIES = 3
_PAUSE_S = 1.0
_WHOLE_FETCH_S = 60.0
PATIENCE_S = 10.0
"""With a server that has stopped sending."""


async def fetch(bot: Bot, http: httpx.AsyncClient, file_id: str) -> bytes:
    """The recording's bytes.

    Raises:
        FileProblem: it is too big, gone, or couldn't be had after several tries.
    """
    try:
        async with asyncio.timeout(_WHOLE_FETCH_S):
            for attempt in range(_TRIES):
                try:
                    return await _fetch_once(bot, http, file_id)
                except BadRequest as refusal:
                    raise _problem("it is too big" if "too big" in str(refusal) else "it is no longer there") from None
                except Flooded as flooded:
                    await asyncio.sleep(seconds(flooded))
                except (TelegramError, httpx.HTTPError):
                    await asyncio.sleep(_PAUSE_S * attempt)
    except TimeoutError:
        pass
    raise _problem("the connection failed")


async def _fetch_once(bot: Bot, http: httpx.AsyncClient, file_id: str) -> bytes:
    file = await bot.get_file(file_id)
    if (file.file_size or 0) > LARGEST_BYTES:
        raise _problem("it is too big")
    address = file.file_path or ""
    if not address.startswith(("http://", "https://")):  # a self-hosted server in local mode gives a path
        return await asyncio.to_thread(_read_local, Path(address))
    content = bytearray()
    async with http.stream("GET", address) as answer:
        answer.raise_for_status()
        async for piece in answer.aiter_bytes():
            content += piece
            if len(content) > LARGEST_BYTES:
                raise _problem("it is too big")
    return bytes(content)


def _read_local(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise _problem("it is too big")
        return path.read_bytes()
    except OSError:
        raise _problem("it is no longer there") from None


def _problem(why: str) -> FileProblem:
    return FileProblem("recording", f"{why}; send a short voice message, or type it.")
