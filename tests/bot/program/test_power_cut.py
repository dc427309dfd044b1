"""The power is cut in the transactions of a small fire, one after the other: nothing is lost, nothing doubled."""

from __future__ import annotations

import asyncio
import contextlib
from collections import Counter
from collections.abc import AsyncIterator, Awaitable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy.ext.asyncio import AsyncEngine

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.message.pipeline import Pipeline, Ticket
from bot.message.situation import House
from bot.outbox import Outbox
from bot.rooms.scripted import ScriptedRoom
from bot.store import log
from bot.store.connection import Sqlite, Tx
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.reminders import next_due
from tests.bot.conftest import NOON

FIRE = [
    (0, "officer", "engine 12 on scene"),
    (20, "driver", "charge crosslay 1"),
    (30, "officer", "water on the fire"),
    (60, "driver", "charge crosslay 2"),
    (160, "driver", "on the hydrant"),
    (700, "officer", "under control"),
    (1500, "officer", "command terminated"),
]
AGAIN = "(sent again: it may be here already) "


class PowerCut(BaseException):
    """The program is gone: not an error that anything could handle."""


class CutStore(Store):
    """A record that loses the power in its n-th transaction, before or just after the commit."""

    def __init__(self, engine: AsyncEngine | Sqlite) -> None:
        super().__init__(engine)
        self.left = 10**9
        self.after_commit = False
        self.gone = asyncio.Event()

    @contextlib.asynccontextmanager
    async def begin(self, *, soft: bool = False) -> AsyncIterator[Tx]:
        self.left -= 1
        async with super().begin(soft=soft) as tx:
            yield tx
            if self.left < 0 and not self.after_commit:
                self._cut()
        if self.left < 0:
            self._cut()

    def _cut(self) -> None:
        self.gone.set()
        raise PowerCut


class Program:
    """One life of the program on a record's file."""

    def __init__(self, store: CutStore, clock: SimulatedClock, room: ScriptedRoom) -> None:
        self.store, self.clock = store, clock
        self.pipeline = Pipeline(store, House(rigs.load(), Logbook(), UTC), clock)
        self.outbox = Outbox(store, clock, UTC, [room])

    async def live(self, said: list[tuple[int, str, str]]) -> None:
        """Go on where the record is, then take in what is said (again, from the first that wasn't acknowledged)."""
        await self.pipeline.recover()
        await self._settled()
        for t_s, who, words in said:
            await self.run_to(NOON + timedelta(seconds=t_s))
            message = Message(f"yard:{who}", str(t_s), who, self.clock.now(), words, role=who, addressed=True)
            for ticket in await self.pipeline.receive([message]):
                await self._handled(ticket)
            await self.outbox.drain()
        await self.run_to(NOON + timedelta(hours=1))

    async def _settled(self) -> None:
        await self._unless_gone(self.pipeline.settled())

    async def _handled(self, ticket: Ticket) -> None:
        await self._unless_gone(ticket.handled)

    async def _unless_gone(self, work: Awaitable[object]) -> None:
        done = asyncio.ensure_future(work)
        gone = asyncio.ensure_future(self.store.gone.wait())
        await asyncio.wait({done, gone}, return_when=asyncio.FIRST_COMPLETED)
        gone.cancel()
        if self.store.gone.is_set():
            raise PowerCut

    async def run_to(self, end: datetime) -> None:
        while True:
            await self.outbox.drain()
            async with self.store.begin() as tx:
                at = await next_due(tx)
            if at is None or at >= end:
                self.clock.move_to(end)
                return
            self.clock.move_to(at)
            await self.pipeline.fire()


async def lives(url: str, cut_at: int, *, after_commit: bool) -> tuple[list[object], Counter[tuple[str, str]], int]:
    """The fire with the power cut once; gives the log's bodies, what was told where, and the transactions it took."""
    clock, room = SimulatedClock(NOON), ScriptedRoom("yard")
    store = await CutStore.open(url)
    assert isinstance(store, CutStore)
    store.left, store.after_commit = cut_at, after_commit
    try:
        await Program(store, clock, room).live(list(FIRE))
    except PowerCut:
        await store.close()
        store = await CutStore.open(url)
        await Program(store, clock, room).live(
            [line for line in FIRE if NOON + timedelta(seconds=line[0]) >= clock.now()]
        )
    took, store.left = cut_at - store.left, 10**9
    async with store.begin() as tx:
        bodies = [(event.at, event.seq, event.body) for event in await log.since(tx, "2026-03-07-1")]
    await store.close()
    told = Counter((out.room, out.text.removeprefix(AGAIN)) for out in room.told if not out.text.startswith(AGAIN))
    repeats = {(out.room, out.text.removeprefix(AGAIN)) for out in room.told if out.text.startswith(AGAIN)}
    return bodies, told + Counter(dict.fromkeys(repeats - set(told), 1)), took


@pytest.mark.parametrize("after_commit", [False, True])
async def test_a_power_cut_in_any_transaction_changes_nothing(tmp_path: Path, after_commit: bool) -> None:
    url = f"sqlite:///{tmp_path}"
    whole = await lives(f"{url}/whole.sqlite", 10**6, after_commit=after_commit)
    bodies, told, transactions = whole
    assert any("Tank calculated empty" in text for _, text in told)
    assert max(told.values()) == 1
    for cut_at in range(1, transactions, 4):
        got = await lives(f"{url}/{cut_at}.sqlite", cut_at, after_commit=after_commit)
        assert got[0] == bodies, cut_at
        assert got[1] == told, cut_at
