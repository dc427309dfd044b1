"""`crosslay telegram`: the bot with its own station, until it is told to end."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable

from bot.errors import SettingsError
from bot.pipeline import Ears
from bot.rigs import Rigs
from bot.rooms.telegram.client import open_bot
from bot.rooms.telegram.room import TelegramRoom
from bot.rooms.telegram.service import Telegram
from bot.settings import Settings
from bot.station import Station


async def serve(settings: Settings, rigs: Rigs, ears: Callable[[TelegramRoom], Ears] | None = None) -> None:
    """Run the bot until SIGINT or SIGTERM; what is at hand is finished, what is left goes on at the next start.

    Args:
        ears: makes what hears recordings, given the room that fetches them; None: they are answered with a sentence.

    Raises:
        SettingsError: no token, no rooms, or the token isn't accepted.
        StoreError: the record can't be opened.
    """
    if not settings.telegram_token:
        raise SettingsError("CROSSLAY_TELEGRAM_TOKEN", "it isn't set; ask @BotFather on Telegram for a bot's token.")
    bot = open_bot(settings.telegram_token, settings.telegram_api)
    room = TelegramRoom(bot)
    station = await Station.open(settings, rigs, [room], ears=ears(room) if ears else None)
    telegram = Telegram(bot, room, station)
    try:
        await telegram.open_rooms()
        await station.start()
        await _until_told(telegram)
    finally:
        await station.stop()
        await room.close()
        await bot.shutdown()


async def _until_told(telegram: Telegram) -> None:
    """Run until a signal ends it (returns) or it fails (raises)."""
    loop = asyncio.get_running_loop()
    running = asyncio.ensure_future(telegram.run())
    for ending in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(ending, running.cancel)
    try:
        await running
    except asyncio.CancelledError:
        if (this := asyncio.current_task()) is not None and this.cancelling():
            raise
    finally:
        for ending in (signal.SIGINT, signal.SIGTERM):
            loop.remove_signal_handler(ending)
