"""Speed of the job on Telegram beside a bare python-telegram-bot echo bot, over HTTP, in one run.

Both bots run as processes of their own and poll the same kind of test server, which this process plays. The echo bot
keeps nothing; Crosslay writes every message down, commits it twice to a file on the disk, and keeps each chat's order.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
import tempfile
import time
from collections import deque
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from statistics import median, quantiles

import psutil

from bot.speech.voice import EspeakVoice
from tests.telegram.server import BotApiServer
from tests.telegram.world import Person

CHATS = 20
BURST = 1_000
"""Messages that are there at once: how many are answered a second."""
PACED = 400
PER_SECOND = 50
"""Messages that come one by one: how long each takes."""
ROUNDS = 2
RECORDINGS = 12
LAYS = ("two lines, 200 feet, 1.75", "150 feet of 2.5, 1 1/8 tip", "crosslay 1", "rear line, third floor")
SPOKEN = "two lines, two hundred feet, one and three quarter"


@dataclass(frozen=True)
class Speed:
    """What one bot did."""

    name: str
    per_second: float
    cpu_ms: float
    """Processor time an update; steadier than the rate on a machine with other work."""
    p50_ms: float
    p99_ms: float
    in_order: bool
    memory_mb: float


@dataclass
class Running:
    """A bot that polls, and the people who write to it."""

    telegram: BotApiServer
    people: list[Person]
    process: psutil.Process

    @property
    def written(self) -> int:
        """How many messages there are, of people and bot."""
        return sum(len(person.private.all_messages) for person in self.people)

    @property
    def worked_s(self) -> float:
        """Processor time of the bot so far."""
        times = self.process.cpu_times()
        return float(times.user + times.system)

    @property
    def memory_mb(self) -> float:
        return float(self.process.memory_info().rss) / 1e6


@contextlib.asynccontextmanager
async def running(arguments: Sequence[str]) -> AsyncIterator[Running]:
    """Starts a bot in a folder of its own and waits for its first poll."""
    with tempfile.TemporaryDirectory() as home:
        async with BotApiServer() as telegram:
            people = [telegram.person(f"Person{number}") for number in range(CHATS)]
            environment = {
                "PATH": os.environ["PATH"],
                "PYTHONPATH": os.getcwd(),
                "HOME": home,
                "CROSSLAY_TELEGRAM_API": telegram.api,
                "CROSSLAY_TELEGRAM_TOKEN": telegram.token,
                "CROSSLAY_ROOMS": ",".join(str(person.id) for person in people),
            }
            bot = await asyncio.create_subprocess_exec(
                sys.executable, "-m", *arguments, cwd=home, env=environment, stdout=asyncio.subprocess.DEVNULL
            )
            try:
                await telegram.until(lambda: telegram.polls > 0, timeout_s=60)
                yield Running(telegram, people, psutil.Process(bot.pid))
            finally:
                bot.terminate()
                await bot.wait()


async def measure(name: str, arguments: Sequence[str]) -> Speed:
    """Burst and paced messages through one bot."""
    async with running(arguments) as bot:
        await _say(bot, CHATS)  # everything is loaded
        start, worked_s = time.perf_counter(), bot.worked_s
        await _say(bot, BURST)
        per_second = BURST / (time.perf_counter() - start)
        cpu_ms = (bot.worked_s - worked_s) / BURST * 1000
        waits_ms = await _paced(bot)
        cuts = quantiles(waits_ms, n=100)
        return Speed(name, per_second, cpu_ms, median(waits_ms), cuts[98], _in_order(bot), bot.memory_mb)


async def _say(bot: Running, count: int) -> None:
    before = bot.written
    for number in range(count):
        bot.people[number % CHATS].says(LAYS[number % len(LAYS)])
    await bot.telegram.until(lambda: bot.written >= before + 2 * count, timeout_s=300)


async def _paced(bot: Running) -> list[float]:
    """Milliseconds from a message to its answer; the n-th answer of a chat answers its n-th message."""
    sent: dict[Person, deque[float]] = {person: deque() for person in bot.people}
    waits: list[float] = []

    async def watch() -> None:
        read = {person: len(person.private.all_messages) for person in bot.people}
        while len(waits) < PACED:
            await bot.telegram.next_change()
            now = time.perf_counter()
            for person in bot.people:
                new = person.private.all_messages[read[person] :]
                read[person] += len(new)
                waits.extend((now - sent[person].popleft()) * 1000 for message in new if message.sender.is_bot)

    watching = asyncio.create_task(watch())
    await asyncio.sleep(0)
    start = time.perf_counter()
    for number in range(PACED):
        await asyncio.sleep(max(0.0, start + number / PER_SECOND - time.perf_counter()))
        person = bot.people[number % CHATS]
        sent[person].append(time.perf_counter())
        person.says(LAYS[number % len(LAYS)])
    await asyncio.wait_for(watching, 120)
    return waits


def _in_order(bot: Running) -> bool:
    """Whether every chat got its answers in the order of its messages (told by what they answer)."""
    for person in bot.people:
        numbers = [m.reply_to.message_id for m in person.private.from_bot if m.reply_to]
        if numbers != sorted(numbers):
            return False
    return True


async def measure_voice() -> tuple[float, list[float], float]:
    """Seconds of sound, milliseconds from the end of upload to the reply for each, and the program's memory in MB."""
    speech = EspeakVoice().speak(SPOKEN)
    sound = speech.as_voice_message()
    async with running(("bot", "telegram")) as bot:
        dana = bot.people[0]
        dana.sends_voice(sound)
        await dana.private.hears("170 psi", timeout_s=60)
        waits = []
        for _ in range(RECORDINGS):
            start = time.perf_counter()
            dana.sends_voice(sound)
            await dana.private.hears("170 psi", timeout_s=60)
            waits.append((time.perf_counter() - start) * 1000)
        return speech.seconds, waits, bot.memory_mb


def main() -> None:
    """Prints the figures."""
    echo, ours = [], []
    for _ in range(ROUNDS):
        echo.append(asyncio.run(measure("bare echo bot", ("tests.bench.telegram_echo",))))
        ours.append(asyncio.run(measure("crosslay", ("bot", "telegram"))))
    best = [max(speeds, key=lambda speed: speed.per_second) for speeds in (echo, ours)]
    for speed in best:
        print(
            f"telegram {speed.name}: {speed.per_second:.0f} updates/s ({BURST} at once in {CHATS} chats,"
            f" {'in order' if speed.in_order else 'OUT OF ORDER'}), {speed.cpu_ms:.1f} ms of processor each;"
            f" p50 {speed.p50_ms:.1f} ms, p99 {speed.p99_ms:.1f} ms at {PER_SECOND}/s; {speed.memory_mb:.0f} MB"
        )
    ratio = best[1].per_second / best[0].per_second
    print(f"telegram ratio: {ratio:.2f} of the bare echo bot, the better of {ROUNDS} rounds each (aim ≥ 0.25)")
    seconds, waits, memory_mb = asyncio.run(measure_voice())
    print(
        f"telegram voice: {seconds:.1f} s of speech answered in {median(waits):.0f} ms, at most {max(waits):.0f} ms "
        f"({len(waits)} messages; aim ≤ 1000 ms); {memory_mb:.0f} MB with the ear loaded (aim ≤ 400 MB)"
    )


if __name__ == "__main__":
    main()
