"""The record on a real PostgreSQL: the pipeline, the store and a restart come to what they do on SQLite."""

from __future__ import annotations

import asyncio
from datetime import UTC

import pytest
from sqlalchemy import text

from bot import rigs
from bot.clock import SimulatedClock
from bot.errors import StoreError
from bot.message import Message
from bot.message.join_codes import TOO_MANY
from bot.message.pipeline import Pipeline
from bot.message.situation import House
from bot.outbox import Outbox
from bot.rooms.scripted import ScriptedRoom
from bot.store import forgetting, inbox, log
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.schema import HEAD
from bot.store.tries import MOST
from handlers.history import fold
from tests.bot.commands.test_incidents import an_incident, where
from tests.bot.conftest import NOON
from tests.bot.message.test_pipeline import Yard
from tests.integration.postgresql import server, url

__all__ = ["server", "url"]
SAID = ("engine 12 on scene", "charge crosslay 1", "water on the fire", "engine 9 on scene with four", "PAR")


class Life:
    """One life of the program on a record."""

    def __init__(self, store: Store, clock: SimulatedClock, room: ScriptedRoom) -> None:
        self.store, self.clock, self.room = store, clock, room
        self.pipeline = Pipeline(store, House(rigs.load(), Logbook(), UTC), clock)
        self.outbox = Outbox(store, clock, UTC, [room])

    @staticmethod
    def message(number: int, words: str, clock: SimulatedClock, room: str = "crew") -> Message:
        return Message(f"yard:{room}", str(number), "kim", clock.now(), words, group=True, addressed=True)

    async def say(self, *lines: str, first: int = 0) -> None:
        for number, words in enumerate(lines, first):
            await self.pipeline.say(self.message(number, words, self.clock))
            await self.outbox.drain()

    async def end(self) -> None:
        await self.pipeline.stop()
        await self.store.close()


async def played(url: str) -> tuple[list[str], object]:
    """What a short incident tells, and the scene its log folds to."""
    clock, room = SimulatedClock(NOON), ScriptedRoom("yard")
    life = Life(await Store.open(url), clock, room)
    try:
        await life.say(*SAID, "correction, engine 9 with five", "undo")
        clock.advance(660)
        await life.pipeline.fire()
        await life.outbox.drain()
        async with life.store.begin() as tx:
            scene = fold(await log.since(tx, "2026-03-07-1"))
        return [out.text for out in room.take()], scene
    finally:
        await life.end()


async def test_the_same_incident_as_on_sqlite(url: str) -> None:
    assert await played(url) == await played("sqlite:///:memory:")


async def test_its_tables_are_brought_up_to_date(url: str) -> None:
    for _ in range(2):
        store = await Store.open(url)
        async with store.begin() as tx:
            assert (await tx.execute(text("SELECT version_num FROM alembic_version"))).scalars().all() == [HEAD]
        await store.close()


async def test_a_restart_goes_on_with_nothing_lost_and_nothing_doubled(url: str) -> None:
    clock, room = SimulatedClock(NOON), ScriptedRoom("yard")
    life = Life(await Store.open(url), clock, room)
    await life.say(*SAID)
    async with life.store.begin() as tx:  # received, and the program died before it was handled
        await inbox.receive(tx, [Life.message(50, "under control", clock)], clock.now())
    await life.end()

    life = Life(await Store.open(url), clock, room)
    try:
        assert await life.pipeline.recover() == 1
        await life.pipeline.settled()
        assert await life.pipeline.say(Life.message(1, SAID[1], clock)) is None
        await life.outbox.drain()
        clock.advance(601)
        await life.pipeline.fire()
        await life.pipeline.fire()
        await life.outbox.drain()
        told = [out.text.splitlines()[0] for out in room.told]
        assert len(told) == len(set(told))
        assert any("Under control" in line for line in told)
        assert sum(out.name == "control_check" for out in room.told) == 1
    finally:
        await life.end()


async def test_two_programs_on_one_record_number_the_events_without_a_gap(url: str) -> None:
    clock = SimulatedClock(NOON)
    first = Life(await Store.open(url), clock, ScriptedRoom("yard"))
    second = Life(await Store.open(url), clock, ScriptedRoom("yard"))
    try:
        await first.say("engine 12 on scene")
        reports = ("water on the fire", "command established", "ventilation started", "note heavy smoke")
        await asyncio.gather(
            *(
                life.pipeline.say(Life.message(100 + 10 * place + number, words, clock))
                for place, life in enumerate((first, second))
                for number, words in enumerate(reports[place::2])
            )
        )
        async with first.store.begin() as tx:
            numbers = [event.seq for event in await log.since(tx, "2026-03-07-1")]
        assert numbers == list(range(1, len(numbers) + 1))
        assert len(numbers) >= 5
    finally:
        await first.end()
        await second.end()


async def test_rooms_of_one_incident_at_once_lose_nothing_after_a_restart(url: str) -> None:
    """Twelve rooms report and set timers at the same time: no number twice, no message gets the fault reply."""
    clock, room = SimulatedClock(NOON), ScriptedRoom("yard")
    life = Life(await Store.open(url), clock, room)
    for number in range(12):
        await life.pipeline.say(Life.message(number, "how long", clock, f"room{number}"))
    await life.pipeline.say(Life.message(50, "engine 12 on scene", clock, "room0"))
    await life.end()
    lives = [Life(await Store.open(url), clock, room) for _ in range(2)]
    try:
        said = [
            (place, Life.message(100 + 10 * number + turn, words, clock, f"room{number}"))
            for number in range(12)
            for turn, words in enumerate(
                (f"remind me in {number + 5} minutes to call {number}", f"note smoke {number}")
            )
            for place in [(number + turn) % 2]
        ]
        handled = await asyncio.gather(*(lives[place].pipeline.say(message) for place, message in said))
        assert not [one for one in handled if one is not None and one.refused]
        async with lives[0].store.begin() as tx:
            count, faults = await inbox.set_aside(tx)
            events = await log.since(tx, "2026-03-07-1")
            assert await inbox.waiting(tx, NOON) == []
        assert (count, faults) == (0, [])
        assert [event.seq for event in events] == list(range(1, len(events) + 1))
        scene = fold(events)
        assert sorted(int(timer.label.split()[-1]) for timer in scene.timers) == list(range(12))
        clock.advance(3600)
        await asyncio.gather(*(life.pipeline.fire() for life in lives))
        await asyncio.gather(*(life.outbox.drain() for life in lives))
        await lives[0].outbox.drain()
        told = "\n".join(out.text for out in room.take())
        for number in range(12):
            assert told.count(f"Timer: call {number}.") == 1, number  # in the room where it was set
        assert "(sent again" not in told
    finally:
        for life in lives:
            await life.end()


async def test_what_a_dead_program_left_another_takes_up(url: str) -> None:
    clock = SimulatedClock(NOON)
    first, second = [Life(await Store.open(url), clock, ScriptedRoom("yard")) for _ in range(2)]
    assert await first.store.hold("lane/yard:crew")
    try:
        async with second.store.begin() as tx:
            await inbox.receive(tx, [Life.message(1, "crosslay 1", clock)], NOON)
        assert await second.pipeline.recover() == 1
        assert not await second.store.hold("lane/yard:crew")
        await first.end()  # its connection ends, and with it what it held
        await second.pipeline.settled()
        async with second.store.begin() as tx:
            assert await inbox.waiting(tx, NOON) == []
    finally:
        await second.end()


async def test_a_message_waits_for_an_earlier_one_of_its_room_that_another_program_has(url: str) -> None:
    """Posts of a webhook go to two programs in turn: the quicker one keeps the order; an alert waits for nothing."""
    clock = SimulatedClock(NOON)
    first, second = [Life(await Store.open(url), clock, ScriptedRoom("yard")) for _ in range(2)]
    try:
        async with first.store.begin() as tx:
            await inbox.receive(tx, [Life.message(1, "crosslay 1", clock)], NOON)
        later = [Life.message(2, "rear line", clock), Life.message(3, "mayday, second floor", clock)]
        question, alert = await second.pipeline.receive(later)
        await alert.handled
        assert not question.handled.done()
        assert await first.pipeline.recover() >= 1
        await question.handled
        async with second.store.begin() as tx:
            replies = await tx.execute(text("SELECT reply_to FROM outbox WHERE kind = 'reply' ORDER BY id"))
            assert [row.reply_to for row in replies] == ["3", "1", "2"]
    finally:
        for life in (first, second):
            await life.end()


@pytest.mark.parametrize("address", ["postgresql+asyncpg://localhost:1/nowhere"])
async def test_a_server_that_isnt_there_is_one_sentence(address: str, server: object) -> None:
    with pytest.raises(StoreError, match="can't be opened"):
        await Store.open(address)


async def test_roles_rights_and_tries_are_kept_as_on_sqlite(url: str) -> None:
    """The officer is asked of a claim, wrong codes are counted, and an incident that is forgotten is gone."""
    store = await Store.open(url)
    yard = Yard(store, SimulatedClock(NOON))
    try:
        await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
        await an_incident(yard, "marigold")
        claimed = await yard.say("I'm the driver", who="sam", name="Sam")
        assert claimed.reply.startswith("The officer (Dana) is asked whether you are the driver of Engine 12.")
        await yard.say("engine 12 on scene", "dana", who="dana", group=False)
        for number in range(MOST):
            await yard.say(f"join 1234567{number}", "ten", who="bo")
        assert (await yard.say("join 11111111", "ten", who="bo")).refused == TOO_MANY
        async with store.begin() as tx:
            await forgetting.forget(tx, "2026-03-07-1")
            await forgetting.forget_talk(tx, NOON)
            assert await forgetting.old_incidents(tx, NOON) == []
        assert await where(store, "marigold") == set()
    finally:
        await yard.pipeline.stop()
        await store.close()
