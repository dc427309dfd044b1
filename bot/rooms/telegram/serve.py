"""`crosslay telegram`: the bot with its own station, until it is told to end."""

from __future__ import annotations

import asyncio
import logging
import signal
from collections.abc import Callable

from bot.clock import ServiceClock
from bot.errors import SettingsError
from bot.message.context import build
from bot.message.pipeline import Ears
from bot.message.read import read
from bot.message.recording import Listener
from bot.program.station import Station
from bot.rigs import Rigs
from bot.rooms import Room
from bot.rooms.page.address import chosen
from bot.rooms.page.serve import Page
from bot.rooms.telegram.client import open_bot
from bot.rooms.telegram.room import TelegramRoom
from bot.rooms.telegram.service import Telegram
from bot.settings import Settings
from bot.speech.apart import Apart
from handlers.errors import CrosslayError
from handlers.scene import Scene

_LOG = logging.getLogger(__name__)


async def serve(settings: Settings, rigs: Rigs, say: Callable[[str], None]) -> None:
    """Run the bot until SIGINT or SIGTERM; what is at hand is finished, what is left goes on at the next start.

    Args:
        say: is told once that it serves, and what hinders it.

    Raises:
        SettingsError: no token, no rooms, or the token isn't accepted.
        StoreError: the record can't be opened.
    """
    if not settings.telegram_token:
        raise SettingsError("CROSSLAY_TELEGRAM_TOKEN", "it isn't set; ask @BotFather on Telegram for a bot's token.")
    clock = ServiceClock()
    bot = open_bot(settings.telegram_token, settings.telegram_api, clock)
    room = TelegramRoom(bot)
    page = _page_beside(settings, say, clock, room)
    apart = Apart() if page is None else page.apart
    ears = Listener([room], settings.vosk_model, apart) if page is None else page.listener
    rooms: list[Room] = [room]
    heard: Ears = ears
    if page is not None:
        rooms.append(page.room)
        heard = page.ears
    station = await Station.open(settings, rigs, rooms, clock=clock, ears=heard)
    telegram = Telegram(bot, room, station, say)
    warming = asyncio.create_task(_warm_up(ears, rigs))
    try:
        await telegram.open_rooms()
        await station.start()  # clocks and outbox run before the service is reached
        if page is not None:
            await page.open(station)
            say(await page.invitation())
        await _until_told(telegram)
    finally:
        warming.cancel()
        if page is not None:
            await page.close()
        await station.stop()
        apart.close()
        await room.close()
        await bot.shutdown()


def _page_beside(settings: Settings, say: Callable[[str], None], clock: ServiceClock, room: Room) -> Page | None:
    """The page on the same record, where its address is named: one incident for both."""
    if not settings.page_listen or (at := chosen(settings.page_listen)) is None:
        return None
    return Page(at, settings, say, clock, others=[room])


async def _warm_up(ears: Listener, rigs: Rigs) -> None:
    """The first message isn't slower than the rest, nor the first recording; without ears, its answer says so."""
    context = build(rigs.own, rigs.own_unit, Scene())
    await asyncio.to_thread(read, "two lines, 200 feet, 1.75, second floor", context)
    try:
        await ears.warm_up(rigs.own, context)
    except CrosslayError as error:
        _LOG.warning("Recordings can't be heard: %s", error.message)


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
