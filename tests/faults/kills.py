"""The program killed (SIGKILL) at any moment, again and again, while two companies talk and set timers.

It polls, or is posted to; `stopped` stops it for a while instead (SIGSTOP).
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import signal
import tempfile
import time
from collections.abc import AsyncIterator
from pathlib import Path

from tests.bot.rooms.at_work import free_port
from tests.bot.rooms.program import Program
from tests.faults.counts import Counts
from tests.faults.fire import Fire
from tests.telegram.server import BotApiServer

SEED = 12
MESSAGES_A_LIFE = 30
TIMERS_A_LIFE = 4
LONG_DOWN_S = 7.0
"""Every fourth time it stays down so long that what fell due is told late, and says so."""
PATIENCE_S = 40.0
"""With a program that answers nothing any more."""
LONGEST_LIFE_S = 20.0


class Lives:
    """The program from start to kill, and when it served."""

    def __init__(self, fire: Fire, program: Program) -> None:
        self.fire, self.program = fire, program
        self.up: list[tuple[float, float]] = []
        """From the first poll to the kill of each life, in Unix time."""
        self._since = 0.0

    async def start(self) -> None:
        """Until it serves: it has polled, or is listening for the webhook's posts."""
        listen = self.program.environment.get("CROSSLAY_TELEGRAM_LISTEN", "")
        await self.program.start(polls=not listen)
        if listen:
            await _listens(listen)
        self._since = time.time()

    async def kill(self) -> None:
        self.up.append((self._since, time.time()))
        await self.program.kill()

    async def finish(self) -> None:
        """Wait until everything is answered and told."""
        fire = self.fire
        done = -1
        while done < (done := len(fire.answers)) or not fire.telegram.confirmed:  # as long as it goes on
            with contextlib.suppress(AssertionError):  # the account says what is missing
                await fire.telegram.until(lambda: fire.all_answered and fire.all_told, timeout_s=PATIENCE_S)
                break
        self.up.append((self._since, time.time()))
        await self.program.end()


async def _listens(address: str) -> None:
    host, _, port = address.rpartition(":")
    async with asyncio.timeout(PATIENCE_S):
        while True:
            with contextlib.suppress(OSError):
                _, writer = await asyncio.open_connection(host, int(port))
                writer.close()
                return
            await asyncio.sleep(0.01)


@contextlib.asynccontextmanager
async def at_the_fire(seed: int, database: str = "", *, webhook: bool = False) -> AsyncIterator[Lives]:
    """Two companies, and the program that isn't started yet. `database`: its address; "" = a file."""
    with tempfile.TemporaryDirectory() as home:
        rigs = Path(home, "rigs")
        os.mkdir(rigs)
        async with BotApiServer() as telegram:
            fire = Fire.begin(telegram, rigs, seed)
            program = Program(telegram, Path(home), *fire.chats)
            program.environment |= {"CROSSLAY_RIG": str(rigs), "CROSSLAY_DATABASE": database}
            if webhook:
                listen = f"127.0.0.1:{free_port()}"
                program.environment |= {
                    "CROSSLAY_TELEGRAM_WEBHOOK": f"http://{listen}/updates", "CROSSLAY_TELEGRAM_LISTEN": listen,
                    "CROSSLAY_TELEGRAM_SECRET": "s" * 32,
                }  # fmt: skip
            lives = Lives(fire, program)
            try:
                yield lives
            finally:
                await program.kill()


async def killed(kills: int, database: str = "", *, webhook: bool = False) -> Counts:
    """At least 30 messages, a recording and four timers a life; each life ends at a moment drawn by lot."""
    counts = Counts(f"killed {kills} times while two companies talk{', by webhook' if webhook else ''}")
    chance = random.Random(SEED)
    async with at_the_fire(SEED, database, webhook=webhook) as lives:
        fire = lives.fire
        await lives.start()
        fire.open_incidents()
        await fire.telegram.until(lambda: fire.all_answered, timeout_s=60)
        for number in range(kills):
            done, lot = len(fire.answers), chance.randrange(MESSAGES_A_LIFE)
            await talk(fire, chance, MESSAGES_A_LIFE // 2)
            await _some_answers(fire, done + lot)
            await asyncio.sleep(chance.random() * 0.3)
            await lives.kill()
            await talk(fire, chance, MESSAGES_A_LIFE // 2)
            if number % 4 == 2:
                await asyncio.sleep(LONG_DOWN_S)
            await lives.start()
        await lives.finish()
        counts.at_least("kills", len(lives.up) - 1, kills)
        fire.count_answers(counts)
        fire.count_timers(counts, lives.up)
        fire.count_refused(counts)
    return counts


async def talk(fire: Fire, chance: random.Random, messages: int) -> None:
    """So many messages in a lot's order: mostly typed questions, timers for the next seconds, one or no recording."""
    timers = TIMERS_A_LIFE // 2
    acts = ["timer"] * timers + ["record"] * chance.randrange(2) + ["ask"] * messages
    acts = acts[:messages]
    chance.shuffle(acts)
    for act in acts:
        match act:
            case "timer":
                fire.set_timer(chance.randrange(1, 8))
            case "record":
                fire.record()
            case _:
                fire.ask()
        if chance.random() < 0.2:
            await asyncio.sleep(chance.random() * 0.02)


async def _some_answers(fire: Fire, number: int) -> None:
    with contextlib.suppress(AssertionError):  # a moment like any other
        await fire.telegram.until(lambda: len(fire.answers) >= number, timeout_s=LONGEST_LIFE_S)


async def stopped(seconds: float) -> Counts:
    """SIGSTOP while messages and timers come due, then SIGCONT."""
    counts = Counts(f"stopped for {seconds:g} s (SIGSTOP) and let go on")
    chance = random.Random(SEED + 1)
    async with at_the_fire(SEED + 1) as lives:
        fire, program = lives.fire, lives.program
        await lives.start()
        fire.open_incidents()
        await fire.telegram.until(lambda: fire.all_answered, timeout_s=60)
        await talk(fire, chance, 20)
        for _ in range(10):
            fire.set_timer(chance.randrange(1, max(2, int(seconds))))
        await fire.telegram.until(lambda: fire.telegram.confirmed, timeout_s=60)
        program.signal(signal.SIGSTOP)
        lives.up.append((lives._since, time.time()))
        await talk(fire, chance, 20)
        await asyncio.sleep(seconds)
        await talk(fire, chance, 10)
        program.signal(signal.SIGCONT)
        lives._since = time.time()
        await lives.finish()
        fire.count_answers(counts)
        fire.count_timers(counts, lives.up)
        fire.count_refused(counts)
    return counts


async def run(full: bool) -> AsyncIterator[Counts]:
    """≥ 100 kills over ≥ 3,000 messages and ≥ 300 timers, 15 more by webhook. In short: 3 and 2."""
    yield await killed(105 if full else 3)
    yield await killed(15 if full else 2, webhook=True)
