"""`crosslay` by itself: the local room, on a terminal or a message a line from standard input."""

from __future__ import annotations

import asyncio
import codecs
import os
import sys
import threading
from collections.abc import AsyncIterator

from bot import rigs
from bot.message import Outgoing
from bot.program import logs
from bot.rooms.terminal import seated, with_choices
from bot.settings import Settings


def open_room(settings: Settings) -> int:
    """Open the local room until its people leave; returns the exit status."""
    known = rigs.load(settings.rig)
    logs.write_to_file()
    if sys.stdin.isatty() and sys.stdout.isatty():
        from bot.rooms import screen

        return asyncio.run(screen.sit(settings, known))
    return asyncio.run(_take_lines(settings, known))


async def _take_lines(settings: Settings, known: rigs.Rigs) -> int:
    """A message a line from standard input."""

    def show(out: Outgoing) -> None:
        mark = {"reminder": "REMINDER ", "alert": "ALERT ", "notice": "NOTICE "}.get(out.kind, "")
        print(f"{mark}{with_choices(out)}", flush=True)

    station, room = await seated(settings, known, show)
    try:
        await station.outbox.drain()
        async for line in _lines(sys.stdin.fileno()):
            if line.strip():
                await station.pipeline.say(room.message(line))
                await station.outbox.drain()
    finally:
        await station.stop()
    return 0


async def _lines(source: int) -> AsyncIterator[str]:
    """The lines of a file descriptor, each as soon as it is there; read in a thread that may outlive the room."""
    loop = asyncio.get_running_loop()
    blocks: asyncio.Queue[bytes] = asyncio.Queue()

    def read() -> None:
        block = b"-"
        while block:
            try:
                block = os.read(source, 65536)
            except OSError:
                block = b""
            try:
                loop.call_soon_threadsafe(blocks.put_nowait, block)
            except RuntimeError:  # the loop has closed
                return

    threading.Thread(target=read, daemon=True).start()
    decoder = codecs.getincrementaldecoder("utf-8")("replace")
    rest = ""
    while block := await blocks.get():
        *whole, rest = (rest + decoder.decode(block)).split("\n")
        for line in whole:
            yield line
    if rest:
        yield rest
