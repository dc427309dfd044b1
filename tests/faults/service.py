"""The messaging service at fault: refusals, resets, garbled answers, no network, and updates as they shouldn't come."""

from __future__ import annotations

import asyncio
import contextlib
import random
import tempfile
import time
from collections import Counter
from collections.abc import AsyncIterator, Sequence
from typing import Any

from tests.bot.rooms.at_work import at_work
from tests.faults.counts import Counts
from tests.faults.fire import AGAIN, BOARD
from tests.telegram.faults import Fault
from tests.telegram.objects import Chat, Message
from tests.telegram.server import BotApiServer

SEED = 30
KINDS: dict[str, dict[str, Any]] = {
    "429": {"retry_after": 1},
    "500": {"status": 500},
    "502": {"status": 502},
    "reset before the act": {"drop": True},
    "reset after the act": {"lose_answer": True},
    "slow": {"delay_s": 0.5},
    "answer that is no JSON": {"garbled": "<html>Bad Gateway</html>"},
    "answer of another shape": {"garbled": '{"ok": true, "result": {"message_id": [7]}}'},
}
POLL_KINDS = ("500", "502", "reset before the act", "reset after the act", "answer that is no JSON")


async def answered(telegram: BotApiServer, asked: Sequence[Message], timeout_s: float) -> None:
    """Waits until all are; the account says which aren't."""
    chats = {message.chat for message in asked}
    with contextlib.suppress(AssertionError):
        await telegram.until(
            lambda: {m.reply_to for chat in chats for m in chat.from_bot} >= set(asked), timeout_s=timeout_s
        )


def account(counts: Counts, what: str, asked: Sequence[Message]) -> None:
    """Lost, repeated without a word, out of order."""
    chats = dict.fromkeys(message.chat for message in asked)
    answers = [m for chat in chats for m in chat.from_bot if m.reply_to in asked]
    first = Counter(a.reply_to for a in answers if not (a.text or "").startswith(AGAIN))
    wrong: list[object] = [m for m in asked if m not in {a.reply_to for a in answers}]
    wrong += [m for m, number in first.items() if number > 1]
    for chat in chats:
        numbers = [m.message_id for m in dict.fromkeys(a.reply_to for a in chat.from_bot if a.reply_to in asked) if m]
        wrong += [chat] if numbers != sorted(numbers) else []
    counts.none(f"{what}: of {len(asked)} messages lost, doubled unmarked, out of order", wrong)


async def storm(messages: int) -> Counts:
    """A room for each kind of fault, on two of five sendings; polling faulted at random meanwhile."""
    counts, chance = Counts("the service at fault in many ways at once"), random.Random(SEED)
    async with BotApiServer() as telegram:
        rooms = {kind: telegram.person(f"P{number}") for number, kind in enumerate(KINDS)}
        asked: dict[str, list[Message]] = {kind: [] for kind in KINDS}
        async with at_work(telegram, *(person.private for person in rooms.values())):
            faults: dict[str, Fault] = {}
            for number in range(messages):
                for kind, person in rooms.items():
                    if chance.random() < 0.4 and _is_over(faults.get(kind)):
                        faults[kind] = telegram.fault("sendMessage", chat=person.private, **KINDS[kind])
                    asked[kind].append(person.says(f"tank time at {100 + number} gpm"))
                if chance.random() < 0.15 and _is_over(faults.get("poll")):
                    faults["poll"] = telegram.fault("getUpdates", **KINDS[chance.choice(POLL_KINDS)])
                await answered(telegram, [said[-4] for said in asked.values() if len(said) > 3], 60)
            await answered(telegram, [m for said in asked.values() for m in said], 60 + messages * 4)
        counts.tried("faults", sum(fault.hits for fault in telegram.faults))
        for kind, said in asked.items():
            account(counts, kind, said)
    return counts


def _is_over(fault: Fault | None) -> bool:
    """One at a time: piled up, they would only show how long the pauses between tries become."""
    return fault is None or fault.hits > 0


async def one_room_waits(seconds: int) -> Counts:
    """429 in one room; the others go on."""
    counts = Counts(f"one room is told to wait {seconds} s (429), the others go on")
    async with BotApiServer() as telegram:
        people = [telegram.person(f"P{number}") for number in range(6)]
        async with at_work(telegram, *(person.private for person in people)):
            telegram.fault("sendMessage", chat=people[0].private, retry_after=seconds)
            asked = [people[0].says("crosslay 1") for _ in range(3)]
            waits = []
            end = time.monotonic() + seconds
            while time.monotonic() < end:
                for person in people[1:]:
                    began = time.monotonic()
                    asked.append(person.says("rear line"))
                    await person.private.hears("psi")
                    waits.append(time.monotonic() - began)
                await asyncio.sleep(0.2)  # nobody is held back for sending too fast
            await answered(telegram, asked, 30)
        counts.at_most("longest wait of another room, s", max(waits), 1, timed=True)
        account(counts, "429", asked)
        counts.none("asked again before its time", list(telegram.refused))
    return counts


async def no_network(seconds: float) -> Counts:
    """Nothing listens for a while; people go on writing and timers fall due."""
    counts = Counts(f"the network gone for {seconds:g} s")
    with tempfile.TemporaryDirectory() as folder:
        async with BotApiServer() as telegram:
            dana, lee = telegram.person("Dana"), telegram.person("Lee")
            async with at_work(telegram, dana.private, lee.private, database=f"{folder}/record.sqlite"):
                asked = [dana.says("I'm the officer"), dana.says("engine 12 on scene")]
                await answered(telegram, asked, 30)
                for number in range(10):
                    seconds_left = 1 + int(number * min(seconds, 300) / 10)
                    asked.append(dana.says(f"remind me in {seconds_left} seconds to check hose {number}"))
                await answered(telegram, asked, 30)
                await telegram.goes_away()
                for number in range(20):
                    asked.append((dana, lee)[number % 2].says(f"tank time at {100 + number} gpm"))
                    await asyncio.sleep(seconds / 20)
                await telegram.comes_back()
                back = time.monotonic()
                await answered(telegram, asked, 120)
                took = time.monotonic() - back
                labels = [f"check hose {number}" for number in range(10)]
                with contextlib.suppress(AssertionError):
                    await telegram.until(lambda: all(_tellings(dana.private, label) for label in labels), timeout_s=60)
    account(counts, "gone", asked)
    counts.at_most("all answered after it came back, s", took, 35, timed=True)
    counts.none("timers not told", [label for label in labels if not _tellings(dana.private, label)])
    counts.none("timers told twice unmarked", [label for label in labels if _tellings(dana.private, label) > 1])
    return counts


def _tellings(chat: Chat, label: str) -> int:
    told = [m for m in chat.from_bot if not m.reply_to and not BOARD.match(m.text or "")]
    return sum(f"{label}." in (m.text or "") for m in told if not (m.text or "").startswith(AGAIN))


async def as_they_shouldnt_come() -> Counts:
    """Updates twice, in the wrong order, a day old; a group that becomes a supergroup; 403, 409 and 401."""
    counts = Counts("updates and refusals as they shouldn't come")
    with tempfile.TemporaryDirectory() as folder:
        record = f"{folder}/record.sqlite"
        async with BotApiServer() as telegram:
            dana, lee = telegram.person("Dana"), telegram.person("Lee")
            crew = telegram.group("Engine 12", dana, lee)
            out = telegram.group("Engine 9", dana, lee)
            served = (dana.private, lee.private, crew, out)
            async with at_work(telegram, *served, crew_room=crew, database=record) as work:
                await _updates(counts, telegram, dana, lee)
                await _supergroup(counts, telegram, dana, crew)
                await _put_out(counts, telegram, dana, lee, out)
                telegram.fault("getUpdates", status=409, times=2)
                asked = [dana.says("tank time at 150 gpm"), lee.says("rear line")]
                await answered(telegram, asked, 40)
                account(counts, "409", asked)
                counts.exactly("409: said on the screen", sum("409" in sentence for sentence in work.said), 1)
            await _token_refused(counts, telegram, dana, lee, record)
    return counts


async def _updates(counts: Counts, telegram: BotApiServer, dana: Any, lee: Any) -> None:
    asked = [dana.says(f"tank time at {100 + number} gpm") for number in range(5)]
    await answered(telegram, asked, 30)
    telegram.redelivers(5)
    asked += [lee.says("crosslay 1")]
    await answered(telegram, asked, 30)
    telegram.redelivers(3)
    await asyncio.sleep(0.3)
    account(counts, "duplicate updates", asked)
    telegram.reverses_next(4)
    asked = [
        who.says(f"tank time at {number} gpm") for number, who in ((210, dana), (220, lee), (230, dana), (240, lee))
    ]
    await answered(telegram, asked, 30)
    counts.none("reordered updates: of 4 messages lost", len(set(asked) - {m.reply_to for m in _told(dana, lee)}))
    now, telegram._clock = telegram._clock, lambda: time.time() - 23 * 3600
    asked = [dana.says("tank time at 310 gpm"), dana.says("rear line")]
    telegram._clock = now
    await answered(telegram, asked, 30)
    account(counts, "updates of a day ago", asked)


def _told(*people: Any) -> list[Message]:
    return [m for person in people for m in person.private.from_bot]


async def _supergroup(counts: Counts, telegram: BotApiServer, dana: Any, crew: Chat) -> None:
    asked = [dana.says("crosslay 1", crew)]
    await answered(telegram, asked, 30)
    new = telegram.becomes_supergroup(crew)
    after = [dana.says("rear line", new), dana.says("tank time at 150 gpm", new)]
    await answered(telegram, after, 30)
    account(counts, "supergroup", asked + after)


async def _put_out(counts: Counts, telegram: BotApiServer, dana: Any, lee: Any, out: Chat) -> None:
    """The bot is put out of one room; the officer is told once, the others go on."""
    said = [dana.says("I'm the officer"), dana.says("engine 12 on scene")]
    await answered(telegram, said, 30)
    telegram.set_bot(out, "kicked", by=dana)
    asked = [lee.says(f"mayday, second floor, number {number}") for number in range(3)]
    await answered(telegram, asked, 30)
    with contextlib.suppress(AssertionError):
        await telegram.until(lambda: _not_reached(dana) > 0, timeout_s=3)
    account(counts, "403 in another room", asked)
    counts.exactly("403: times that the officer is told that the room isn't reached", _not_reached(dana), 1)


def _not_reached(dana: Any) -> int:
    return sum("reached" in (m.text or "") and not m.reply_to for m in dana.private.from_bot)


async def _token_refused(counts: Counts, telegram: BotApiServer, dana: Any, lee: Any, record: str) -> None:
    """401: it is said on the screen; with the token put right nothing is lost."""
    served = (dana.private, lee.private)
    async with at_work(telegram, *served, database=record) as work:
        refused = telegram.fault("getUpdates", status=401)
        telegram.fault("sendMessage", status=401, chat=dana.private)
        asked = [dana.says("crosslay 1"), lee.says("rear line")]
        with contextlib.suppress(AssertionError):
            await telegram.until(lambda: refused.hits > 0)
            await telegram.until(lambda: any("TOKEN" in sentence for sentence in work.said), timeout_s=5)
        counts.exactly("401: said on the screen", sum("TOKEN" in sentence for sentence in work.said), 1)
    telegram.faults.clear()
    async with at_work(telegram, *served, database=record):
        await answered(telegram, asked, 90)
    account(counts, "401", asked)


async def run(full: bool) -> AsyncIterator[Counts]:
    """800 messages in a storm, and updates and refusals of every kind; in short 48."""
    yield await storm(100 if full else 6)
    yield await as_they_shouldnt_come()
