"""The record on a real PostgreSQL: one program killed again and again, and two on one record, killed in turn."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterator, Sequence
from itertools import count
from pathlib import Path
from typing import Any

from aiohttp import ClientError, ClientSession, ClientTimeout, web
from sqlalchemy import text
from sqlalchemy.ext.asyncio import create_async_engine

from bot.store.database import Store
from tests.bot.rooms.at_work import free_port
from tests.bot.rooms.program import Program
from tests.faults import kills
from tests.faults.counts import Counts
from tests.faults.fire import AGAIN, Fire
from tests.integration.postgresql import new_database, running
from tests.telegram.server import BotApiServer

SEED = 53
ROOT = Path(__file__).parents[2]
LINES_A_LIFE = 8
PATIENCE_S = 60.0


class Screen:
    """A local room fed through a pipe, on a record of several."""

    def __init__(self, url: str, home: str) -> None:
        self._environment = {
            **os.environ, "CROSSLAY_DATABASE": url, "CROSSLAY_TIMEZONE": "UTC", "HOME": home, "XDG_STATE_HOME": home,
            "PYTHONPATH": str(ROOT),
        }  # fmt: skip
        self._shown = Path(home, f"shown-{id(self)}").open("a+b")  # noqa: SIM115 - as long as its lives
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "bot"], stdin=subprocess.PIPE, stdout=self._shown, stderr=self._shown,
            env=self._environment,
        )  # fmt: skip

    def say(self, *lines: str) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write("".join(f"{line}\n" for line in lines).encode())
            self._process.stdin.flush()

    def kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            with contextlib.suppress(BrokenPipeError):
                self._process.communicate()  # closes its pipe too

    def finish(self) -> int:
        """Its input ends; gives the exit status."""
        assert self._process is not None
        self._process.communicate(timeout=PATIENCE_S)
        return self._process.returncode

    def shown(self) -> str:
        """Everything that its lives showed."""
        return Path(self._shown.name).read_text("utf-8", "replace")

    def close(self) -> None:
        self.kill()
        self._shown.close()


async def rows(url: str, query: str) -> list[Any]:
    engine = create_async_engine(url)
    try:
        async with engine.connect() as connection:
            return list(await connection.execute(text(query)))
    finally:
        await engine.dispose()


async def two(url: str, lives: int) -> Counts:
    """Two programs in one incident; one of them killed at a time, by lot."""
    counts, chance = Counts(f"two programs on one PostgreSQL, one of them killed {lives} times"), random.Random(SEED)
    await (await Store.open(url)).close()
    with tempfile.TemporaryDirectory() as home:
        screens = [Screen(url, home), Screen(url, home)]
        try:
            screens[0].start()
            screens[0].say("officer: engine 12 on scene")
            await _until(url, "SELECT count(*) FROM outbox WHERE state = 'sent'", 1)
            screens[1].start()
            await _talk(screens, chance, lives)
            for screen in screens:
                screen.say(LAST)
            await _until(url, f"SELECT count(*) FROM inbox WHERE done_at IS NOT NULL AND body LIKE '%{LAST}%'", 2)
            await _until(url, "SELECT count(*) FROM inbox WHERE done_at IS NULL", 0)
            await asyncio.sleep(TIMER_S)
            await _until(url, "SELECT count(*) FROM reminders WHERE sent_at IS NULL AND name = 'timer'", 0)
            await _until(url, "SELECT count(*) FROM outbox WHERE state != 'sent'", 0)
            ended = [await asyncio.to_thread(screen.finish) for screen in screens]
        finally:
            for screen in screens:
                screen.close()
        counts.none("programs that didn't end by themselves with 0", [status for status in ended if status])
        await _count(counts, url, "".join(screen.shown() for screen in screens))
    return counts


TIMER_S = 3
LAST = "tank time at 999 gpm"
"""Said last on each screen: what was said before it has been read."""


async def _talk(screens: list[Screen], chance: random.Random, lives: int) -> None:
    number = 0
    for life in range(lives + 1):
        for _ in range(LINES_A_LIFE):
            for screen in screens:
                number += 1
                match chance.randrange(4):
                    case 0:
                        screen.say(f"remind me in {chance.randrange(1, TIMER_S)} seconds to check hose {number}")
                    case 1:
                        screen.say(f"officer: note number {number} seen")
                    case _:
                        screen.say(f"tank time at {60 + number} gpm")
            await asyncio.sleep(chance.random() * 0.1)
        await asyncio.sleep(0.6 + chance.random())
        if life < lives:
            unlucky = chance.choice(screens)
            unlucky.kill()
            unlucky.start()


async def _until(url: str, query: str, wanted: int) -> None:
    """Until a count is (at least) so much, or 0; the account says what is missing."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        found = (await rows(url, query))[0][0]
        if found == wanted or (wanted and found > wanted):
            return
        await asyncio.sleep(0.1)


async def _count(counts: Counts, url: str, shown: str) -> None:
    received = await rows(url, "SELECT body, reply FROM inbox")
    counts.tried("messages received", len(received))
    counts.none("messages not handled", (await rows(url, "SELECT count(*) FROM inbox WHERE done_at IS NULL"))[0][0])
    faults = await rows(url, "SELECT fault FROM inbox WHERE fault IS NOT NULL")
    counts.none("messages that got a fault reply", [row[0] for row in faults])
    seqs: dict[str, list[int]] = {}
    for incident, seq in await rows(url, "SELECT incident, seq FROM events ORDER BY incident, seq"):
        seqs.setdefault(incident, []).append(seq)
    counts.tried("events", sum(map(len, seqs.values())))
    counts.none("incidents with a gap in the numbers of their events", [
        incident for incident, numbers in seqs.items() if numbers != list(range(1, len(numbers) + 1))
    ])  # fmt: skip
    asked = [row[0] for row in await rows(url, "SELECT body FROM events WHERE body LIKE '%TimerSet%'")]
    query = "SELECT room, created_at, text FROM outbox WHERE kind IN ('reminder', 'alert') AND text LIKE '%check hose%'"
    counts.tried("timers set", len(asked))
    labels = [body[body.index("check hose") :].split('"')[0] for body in asked]
    wanted = set(labels)
    counts.none("timers set twice by one message", [label for label in wanted if labels.count(label) > 1])
    told: dict[str, list[str]] = {label: [] for label in wanted}
    for room, at, words in await rows(url, query):
        for line in words.splitlines():
            if "check hose" in line:
                label = line[line.index("check hose") :].split(".")[0]
                told.setdefault(label, []).append(f"{room} {at:%H:%M:%S.%f} {line}")
    counts.none("timers not told", sorted(label for label in wanted if not told[label]))
    twice = [lines for lines in told.values() if len({line.partition(" ")[0] for line in lines}) < len(lines)]
    counts.none("timers told twice in a room", list(twice))
    counts.none("not sent", [row[0] for row in await rows(url, "SELECT text FROM outbox WHERE state != 'sent'")])
    replies = [row[0] for row in await rows(url, "SELECT text FROM outbox WHERE kind = 'reply' AND state = 'sent'")]
    counts.none("answers that no screen showed", [reply for reply in replies if reply.splitlines()[0] not in shown])
    counts.none("tracebacks on the screen", shown.count("Traceback"))


# --- by webhook


@contextlib.asynccontextmanager
async def _front(ports: Sequence[int]) -> AsyncIterator[str]:
    """What a department puts before several programs: hands each post to the next one, or to another that answers."""
    turn = count()

    async def post(request: web.Request) -> web.Response:
        first = next(turn)
        body = await request.read()
        async with ClientSession(timeout=ClientTimeout(total=10)) as http:
            for number in range(len(ports)):
                address = f"http://127.0.0.1:{ports[(first + number) % len(ports)]}{request.path}"
                with contextlib.suppress(ClientError, TimeoutError):
                    async with http.post(address, data=body, headers=request.headers) as answer:
                        return web.Response(status=answer.status)
        return web.Response(status=502)

    app = web.Application()
    app.router.add_post("/updates", post)
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
    await runner.setup()
    try:
        await web.TCPSite(runner, "127.0.0.1", port := free_port()).start()
        yield f"http://127.0.0.1:{port}/updates"
    finally:
        await runner.cleanup()


async def two_by_webhook(url: str, kills_: int) -> Counts:
    """Posts go to two programs in turn; now and then one of them is killed."""
    counts = Counts(f"two programs on one PostgreSQL get the posts of a webhook in turn, one killed {kills_} times")
    chance, ports = random.Random(SEED), (free_port(), free_port())
    await (await Store.open(url)).close()
    with tempfile.TemporaryDirectory() as folder:
        rigs = Path(folder, "rigs")
        os.mkdir(rigs)
        async with BotApiServer() as telegram, _front(ports) as address:
            fire = Fire.begin(telegram, rigs, SEED)
            programs = [Program(telegram, Path(folder), *fire.chats) for _ in ports]
            for program, port in zip(programs, ports, strict=True):
                program.environment |= {
                    "CROSSLAY_RIG": str(rigs), "CROSSLAY_DATABASE": url, "CROSSLAY_TELEGRAM_WEBHOOK": address,
                    "CROSSLAY_TELEGRAM_LISTEN": f"127.0.0.1:{port}", "CROSSLAY_TELEGRAM_SECRET": "s" * 32,
                }  # fmt: skip
            try:
                await _served(fire, programs, chance, kills_)
            finally:
                for program in programs:
                    await program.kill()
        fire.count_answers(counts)
        told = fire.told_at()
        counts.tried("timers", len(told))
        counts.none("timers not told", [label for label, times in told.items() if not times])
        twice = [label for label, times in told.items() if sum(AGAIN not in text for _, text in times) > 1]
        counts.none("timers told twice unmarked", list(twice))
    return counts


async def _served(fire: Fire, programs: Sequence[Program], chance: random.Random, kills_: int) -> None:
    for program in programs:
        await program.start(polls=False)
    await fire.telegram.until(lambda: bool(fire.telegram.webhook), timeout_s=PATIENCE_S)
    fire.open_incidents()
    await fire.telegram.until(lambda: fire.all_answered, timeout_s=PATIENCE_S)
    for _ in range(kills_ + 1):
        for _ in range(4):
            await kills.talk(fire, chance, 8)
            await asyncio.sleep(chance.random() * 0.3)
        if kills_:
            unlucky = chance.choice(programs)
            await unlucky.kill()
            await kills.talk(fire, chance, 8)
            await unlucky.start(polls=False)
            await asyncio.sleep(2)
    with contextlib.suppress(AssertionError):  # the account says what is missing
        await fire.telegram.until(lambda: fire.all_answered and fire.all_told, timeout_s=3 * PATIENCE_S)


@contextlib.contextmanager
def _server() -> Iterator[Any | None]:
    """A PostgreSQL of our own; None, with the reason said, where it can't be had."""
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as stack:
        try:
            started = stack.enter_context(running(Path(folder)))
        except Exception as reason:
            print(f"PostgreSQL isn't tried here: {reason}")
            started = None
        yield started


async def run(full: bool) -> AsyncIterator[Counts]:
    """One program killed 25 times, two killed 12 times, two by webhook 8 times; in short once, twice, once."""
    with _server() as server:
        if server is None:
            return
        one = await kills.killed(25 if full else 1, new_database(server))
        one.title += ", on PostgreSQL"
        yield one
        yield await two(new_database(server), 12 if full else 2)
        yield await two_by_webhook(new_database(server), 8 if full else 1)
