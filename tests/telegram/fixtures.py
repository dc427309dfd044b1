"""The test server with the real python-telegram-bot talking to it over HTTP."""

import os
from collections.abc import AsyncIterator

import pytest_asyncio
from telegram import Bot

from tests.telegram.server import BotApiServer

os.environ["PTB_TIMEDELTA"] = "true"  # the client's durations as timedelta, without a warning


@pytest_asyncio.fixture
async def telegram() -> AsyncIterator[BotApiServer]:
    """A running server with nobody in it."""
    async with BotApiServer() as server:
        yield server


@pytest_asyncio.fixture
async def bot(telegram: BotApiServer) -> AsyncIterator[Bot]:
    """The real client, with the server's token."""
    async with Bot(telegram.token, base_url=f"{telegram.api}/bot", base_file_url=f"{telegram.api}/file/bot") as ready:
        yield ready
