"""The whole program in this process, at work on Telegram against the test server."""

import asyncio
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any

from bot import rigs
from bot.clock import Clock, ServiceClock
from bot.message.recording import Listener
from bot.program.station import Station
from bot.rooms.telegram.client import open_bot
from bot.rooms.telegram.room import TelegramRoom
from bot.rooms.telegram.service import Telegram
from bot.settings import Settings
from bot.store.database import MEMORY
from tests.telegram.objects import Chat
from tests.telegram.server import BotApiServer


@dataclass
class AtWork:
    """What a test may look into while it runs."""

    station: Station
    service: Telegram
    room: TelegramRoom
    said: list[str]
    """What was said on its screen."""


@asynccontextmanager
async def at_work(
    telegram: BotApiServer,
    *served: Chat,
    crew_room: Chat | None = None,
    database: str = MEMORY,
    clock: Clock | None = None,
    hearing: bool = False,
    webhook: bool = False,
) -> AsyncIterator[AtWork]:
    """Runs the bot for these chats until the block ends; it is served when the block begins.

    `hearing`: with its ears. `webhook`: the service posts to it, in place of its polling.
    """
    given: dict[str, Any] = {
        "telegram_token": telegram.token,
        "telegram_api": telegram.api,
        "rooms": tuple(str(chat.id) for chat in served),
        "crew_room": str(crew_room.id) if crew_room else "",
        "database": database,
        "timezone": "UTC",
    }
    if webhook:
        given["telegram_listen"] = listen = f"127.0.0.1:{free_port()}"
        given["telegram_webhook"] = f"http://{listen}/updates"
    settings = Settings(**given)
    told_the_time = clock if isinstance(clock, ServiceClock) else None
    bot = open_bot(settings.telegram_token, settings.telegram_api, told_the_time)
    room = TelegramRoom(bot)
    ears = Listener([room]) if hearing else None
    station = await Station.open(settings, rigs.load(), [room], clock=clock, ears=ears)
    said: list[str] = []
    service = Telegram(bot, room, station, said.append)
    await service.open_rooms()
    await station.start()
    polls = telegram.polls
    running = asyncio.create_task(service.run())
    try:
        served = (lambda: bool(telegram.webhook)) if webhook else (lambda: telegram.polls > polls)
        await telegram.until(lambda: served() or running.done(), what=lambda: "the first poll, or the webhook")
        yield AtWork(station, service, room, said)
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        await station.stop()
        await room.close()
        await bot.shutdown()


def free_port() -> int:
    """A port that nobody uses just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def all_read(telegram: BotApiServer, work: AtWork) -> None:
    """Waits until every update was taken in and handled, and everything that can be sent was sent."""
    await telegram.until(lambda: telegram.confirmed, what=lambda: "every update confirmed")
    await work.station.pipeline.settled()
    await work.station.outbox.drain()
