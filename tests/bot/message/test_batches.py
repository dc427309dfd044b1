"""Messages that wait at the same time share a transaction, and one that fails takes no other with it."""

from __future__ import annotations

import asyncio
from contextlib import AbstractAsyncContextManager
from datetime import UTC

import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.message.batches import TOGETHER, Writer
from bot.message.recording import Listened
from bot.message.situation import House
from bot.message.transaction import Committed, Handling
from bot.store import inbox, log
from bot.store.connection import Tx
from bot.store.database import Store
from bot.store.inbox import Received
from bot.store.logbook import Logbook
from tests.bot.conftest import NOON


async def received(store: Store, *texts: str) -> list[Received]:
    """Each from a room of its own."""
    messages = [Message(f"yard:{place}", "1", "kim", NOON, text) for place, text in enumerate(texts)]
    async with store.begin() as tx:
        return await inbox.receive(tx, messages, NOON)


@pytest.fixture
def writer(store: Store, clock: SimulatedClock) -> Writer:
    return Writer(store, House(rigs.load(), Logbook(), UTC), clock)


async def test_what_waits_together_is_committed_together(
    store: Store, writer: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    waiting = await received(store, *["200 feet of 1.75 flowing 150"] * (TOGETHER + 2))
    begun: list[Store] = []
    begin = Store.begin

    def count_and_begin(opened: Store, *, soft: bool = False) -> AbstractAsyncContextManager[Tx]:
        begun.append(opened)
        return begin(opened, soft=soft)

    monkeypatch.setattr(Store, "begin", count_and_begin)
    written = await asyncio.gather(*(writer.write(one, None) for one in waiting))
    assert {one.handled.reply.splitlines()[0] for one in written} == {"170 psi, 150 gpm, 3:20 of tank"}
    assert len(begun) == 2
    async with store.begin() as tx:
        assert await inbox.waiting(tx, NOON) == []


async def test_one_that_fails_takes_no_other_with_it(
    store: Store, writer: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = Handling.run

    async def fail_at_bad(handling: Handling, listened: Listened | None = None) -> Committed:
        result = await run(handling, listened)
        if handling._message.text == "bad":
            raise RuntimeError("made to fail after all was written")
        return result

    monkeypatch.setattr(Handling, "run", fail_at_bad)
    waiting = await received(store, "water on the fire", "bad", "200 feet of 1.75 flowing 150")
    fire, bad, lay = await asyncio.gather(*(writer.write(one, None) for one in waiting), return_exceptions=True)
    assert isinstance(bad, RuntimeError)
    assert isinstance(lay, Committed)
    assert isinstance(fire, Committed)
    async with store.begin() as tx:
        assert [left.message.text for left in await inbox.waiting(tx, NOON)] == ["bad"]
        (incident,) = await log.latest_incidents(tx)
        seqs = [event.seq for event in await log.since(tx, incident.id)]
    assert seqs == list(range(1, len(seqs) + 1))


async def test_what_still_waits_at_the_end_stays_in_the_inbox(store: Store, writer: Writer) -> None:
    waiting = await received(store, *["crosslay 1"] * (2 * TOGETHER))
    writing = [asyncio.create_task(writer.write(one, None)) for one in waiting]
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    await writer.stop()
    for task in writing:
        task.cancel()
    await asyncio.gather(*writing, return_exceptions=True)
    async with store.begin() as tx:
        left = await inbox.waiting(tx, NOON)
    assert len(left) in (TOGETHER, 2 * TOGETHER)
