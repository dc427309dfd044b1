"""Too much at once: one person flooding, and many rooms talking for minutes; how long the answers of others take."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import tempfile
import time
from collections import Counter
from collections.abc import AsyncIterator
from pathlib import Path
from statistics import quantiles

import psutil

from tests.bot.rooms.program import Program
from tests.faults.counts import Counts
from tests.faults.fire import recording
from tests.telegram.objects import Message
from tests.telegram.server import BotApiServer
from tests.telegram.world import Person

FLOOD = 400
TOO_FAST = "You send faster than can be answered"


class Watch:
    """When each message was said, and how long its first answer took."""

    def __init__(self, telegram: BotApiServer) -> None:
        self._telegram = telegram
        self.said_at: dict[tuple[int, int], float] = {}

    def said(self, message: Message) -> None:
        self.said_at[message.chat.id, message.message_id] = time.monotonic()

    def waits_s(self) -> list[float]:
        """Seconds from each message to the answer to it, as the service took it; unanswered ones left out."""
        waits: dict[tuple[int, int], float] = {}
        for call in self._telegram.called("sendMessage"):
            if call.status == 200 and (replied := call.given.get("reply_parameters")):
                key = call.given["chat_id"], replied["message_id"]
                if key in self.said_at:
                    waits.setdefault(key, call.at - self.said_at[key])
        return list(waits.values())


@contextlib.asynccontextmanager
async def serving(telegram: BotApiServer, people: list[Person]) -> AsyncIterator[Program]:
    """The program with these people's private chats."""
    with tempfile.TemporaryDirectory() as home:
        program = Program(telegram, Path(home), *(person.private for person in people))
        await program.start()
        try:
            people[0].sends_voice(recording())
            await people[0].private.hears("170 psi", timeout_s=120)  # everything is loaded
            yield program
        finally:
            await program.kill()


async def flooded(rooms: int) -> Counts:
    """One person sends 400 messages at once while others ask."""
    counts = Counts(f"one person sends {FLOOD} messages at once, {rooms} others ask meanwhile")
    async with BotApiServer() as telegram:
        people = [telegram.person(f"Person{number}") for number in range(rooms + 1)]
        flooder, *others = people
        async with serving(telegram, people):
            for person in people:
                person.says("crosslay 1")
                await person.private.hears("psi", timeout_s=60)
            watch = Watch(telegram)
            for number in range(FLOOD):
                flooder.says(f"tank time at {100 + number} gpm")
            alarm = flooder.says("mayday mayday, trapped on the second floor")
            asked = 0
            for _ in range(3):
                for person in others:
                    watch.said(person.says("rear line"))
                    asked += 1
                await asyncio.sleep(0.3)
            with contextlib.suppress(AssertionError):
                await telegram.until(lambda: len(watch.waits_s()) >= asked, timeout_s=60)
                await telegram.until(lambda: any(m.reply_to is alarm for m in flooder.private.from_bot), timeout_s=60)
            await telegram.until(lambda: telegram.confirmed, timeout_s=60)
            waits, told = watch.waits_s(), flooder.private.from_bot
            counts.exactly("answers to the others", len(waits), asked)
            counts.at_most("longest wait of another room, s", max(waits, default=0.0), 1, timed=True)
            counts.exactly("times that the person is told", sum(TOO_FAST in (m.text or "") for m in told), 1)
            counts.exactly("a Mayday in the flood is answered", sum(m.reply_to is alarm for m in told), 1)
    return counts


async def steady(rooms: int, per_second: float, seconds: float) -> Counts:
    """Many rooms, one message after the other at a steady pace."""
    counts = Counts(f"{rooms} rooms, {per_second:g} messages/s for {seconds:g} s")
    chance = random.Random(20)
    async with BotApiServer() as telegram:
        people = [telegram.person(f"Person{number}") for number in range(rooms)]
        async with serving(telegram, people) as program:
            process = psutil.Process(program.pid)
            watch, said, start = Watch(telegram), list[Message](), time.monotonic()
            memory_mb = process.memory_info().rss / 1e6
            for number in range(int(per_second * seconds)):
                await asyncio.sleep(max(0.0, start + number / per_second - time.monotonic()))
                said.append(chance.choice(people).says(f"tank time at {chance.randrange(60, 400)} gpm"))
                watch.said(said[-1])
            with contextlib.suppress(AssertionError):
                await telegram.until(lambda: _answered(people) >= len(said) + 1, timeout_s=60)
            grown_mb = process.memory_info().rss / 1e6 - memory_mb
            waits = watch.waits_s()
            answers = Counter(m.reply_to for person in people for m in person.private.from_bot)
            counts.tried("messages", len(said))
            counts.none("messages lost (no answer)", [m for m in said if m not in answers])
            counts.none("answers repeated", [m for m, number in answers.items() if number > 1])
            counts.none("answered out of order in their room", sum(not _in_order(person) for person in people))
            cuts = quantiles(waits, n=100) if len(waits) > 1 else [0.0] * 99
            counts.tried("half of the answers within, ms", cuts[49] * 1000)
            counts.at_most("99 of 100 answers within, s", cuts[98], 1, timed=True)
            counts.at_most("memory grown by, MB", grown_mb, 40 + len(said) / 100)
            counts.tried("processors here", os.cpu_count() or 1)
    return counts


def _answered(people: list[Person]) -> int:
    return sum(len(person.private.from_bot) for person in people)


def _in_order(person: Person) -> bool:
    numbers = [m.reply_to.message_id for m in person.private.from_bot if m.reply_to]
    return numbers == sorted(numbers)


async def run(full: bool) -> AsyncIterator[Counts]:
    """200 rooms × 20 messages/s × 5 min; in short 20 rooms × 20 messages/s × 3 s."""
    yield await flooded(20 if full else 5)
    yield await (steady(200, 20, 300) if full else steady(20, 20, 3))
