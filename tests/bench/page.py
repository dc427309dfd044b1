"""The page: a message to the last of 100 screens, what a browser gets, its first paint, and an idle box."""

from __future__ import annotations

import asyncio
import json
import re
import ssl
import tempfile
import time
import uuid
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import httpx
import psutil
from websockets.asyncio.client import ClientConnection, connect

from bot.rooms.page.serve import EAR_AFTER_S
from tests.bench.shell import spread
from tests.bot.rooms.page.box import CHROMIUM, Box, chromium, phone

SCREENS, OF_ONE = 100, 6
SAID = 150
APART_S = 0.4
"""Between messages: more than two a second, all the time, is a busy incident."""
ANSWERS = re.compile(r'"message":"[0-9a-f]+-([0-9a-f-]{36})"')
IDLE_S = 20.0
PAINTS = 7
ANY = ssl.create_default_context()
ANY.check_hostname = False
ANY.verify_mode = ssl.CERT_NONE


class Watching:
    """A screen that notes when it was told what."""

    def __init__(self, socket: ClientConnection) -> None:
        self.socket = socket
        self.answered: dict[str, float] = {}
        self.codes: asyncio.Queue[str] = asyncio.Queue()
        self.bytes = 0
        self.task = asyncio.create_task(self._read())

    async def _read(self) -> None:
        async for text in self.socket:
            now = time.perf_counter()
            self.bytes += len(text)
            if '"kind":"reply"' in text and (found := ANSWERS.search(text)):  # parsing would take what is measured
                self.answered.setdefault(found[1], now)
            elif text.startswith('{"type":"code"'):
                self.codes.put_nowait(json.loads(text)["code"])

    async def say(self, text: str) -> tuple[str, float]:
        message_id, began = str(uuid.uuid4()), time.perf_counter()
        said = {"type": "say", "id": message_id, "at": datetime.now(UTC).isoformat(), "text": text}
        await self.socket.send(json.dumps(said))
        return message_id, began


async def _cookie(box: Box, code: str, name: str, role: str) -> str:
    origin = box.url.rstrip("/")
    async with httpx.AsyncClient(verify=ANY) as client:
        body = {"code": code, "name": name, "role": role}
        answer = await client.post(f"{box.url}join", json=body, headers={"origin": origin})
        answer.raise_for_status()
        return "; ".join(f"{key}={value}" for key, value in answer.cookies.items())


async def _screen(box: Box, cookie: str) -> Watching:
    headers = {"cookie": cookie, "origin": box.url.rstrip("/")}
    socket = await connect(f"wss://127.0.0.1:{box.port}/socket", ssl=ANY, additional_headers=headers, max_size=None)
    return Watching(socket)


async def _screens(box: Box) -> list[Watching]:
    first = await _cookie(box, box.code(), "Kim", "officer")
    screens = [await _screen(box, first)]
    cookie = first
    while len(screens) < SCREENS:
        if len(screens) % OF_ONE == 0:
            await screens[0].socket.send(json.dumps({"type": "new_code"}))
            cookie = await _cookie(box, await screens[0].codes.get(), f"Lee {len(screens)}", "crew")
        screens.append(await _screen(box, cookie))
    return screens


async def _told(box: Box) -> None:
    screens = await _screens(box)
    process = psutil.Process(box.process.pid)
    await asyncio.sleep(EAR_AFTER_S + 25)  # the ear is loaded by then
    _idle(f"{len(screens)} screens connected, no incident", await _used(process))
    talker = screens[0]
    sent: list[tuple[str, float]] = []
    words = ("charge crosslay 1", "two lines, 200 feet, 1.75, second floor", "how long have we been here",
             "shut down crosslay 1")  # fmt: skip
    await talker.say("on scene")
    await asyncio.sleep(1)
    for number in range(SAID):
        sent.append(await talker.say(words[number % len(words)]))
        await asyncio.sleep(APART_S)
    await asyncio.sleep(2)
    last = [(max(screen.answered.get(key, float("inf")) for screen in screens) - began) * 1000 for key, began in sent]
    own = [(talker.answered.get(key, float("inf")) - began) * 1000 for key, began in sent]
    print(f"message to its answer on the last of {len(screens)} screens: {spread(last)}; aim p99 ≤ 100 ms")
    print(f"  … on the screen that asked: {spread(own)}")
    each_kb = sum(one.bytes for one in screens) / len(screens) / SAID / 1000
    print(f"  {each_kb:.1f} kB a screen and message, before deflate")
    _idle(f"{len(screens)} screens, an incident open", await _used(process))
    for screen in screens:
        await screen.socket.close()
    await asyncio.sleep(3)
    _idle("nobody connected, an incident open", await _used(process))


async def _used(process: psutil.Process) -> float:
    """The share of a core that the program takes, its children with it."""

    def seconds() -> float:
        every = [process, *process.children(recursive=True)]
        return sum(sum(one.cpu_times()[:2]) for one in every if one.is_running())

    before, began = seconds(), time.perf_counter()
    await asyncio.sleep(IDLE_S)
    return (seconds() - before) / (time.perf_counter() - began)


def _idle(what: str, share: float) -> None:
    print(f"{what}: {share:.1%} of a core; aim idle ≤ 2 %")


def _weight() -> None:
    static: Any = files("bot.rooms.page").joinpath("static")
    sizes = {one.name: len(one.read_bytes()) for one in static.iterdir() if one.is_file()}
    print(
        f"all that a browser gets: {sum(sizes.values()) / 1000:.0f} kB in {len(sizes)} files, before gzip; aim ≤ 150 kB"
    )


def _paint(box: Box) -> None:
    from playwright.sync_api import sync_playwright

    entry = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"
    with sync_playwright() as playing, chromium(playing) as browser, phone(browser, box) as kim:
        kim.join("Kim", "driver")
        times = []
        for _ in range(PAINTS):
            kim.page.goto(box.url)
            kim.until(lambda: kim.page.evaluate(entry) is not None, "a first paint")
            times.append(kim.page.evaluate(entry))
        middle = sorted(times)[PAINTS // 2]
    print(f"first paint in Chromium: median {middle:.0f} ms, slowest {max(times):.0f} ms; aim ≤ 500 ms")


def main() -> None:
    """Prints the figures."""
    _weight()
    with tempfile.TemporaryDirectory() as folder:
        box = Box(Path(folder))
        try:
            asyncio.run(_told(box))
            if CHROMIUM:
                _paint(box)
            else:
                print("first paint: not measured, no Chromium here")
        finally:
            box.stop()


if __name__ == "__main__":
    main()
