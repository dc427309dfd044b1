"""Handles messages in transactions: those that wait at the same time share one, and so one wait for the disk."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from bot.clock import Clock
from bot.message.recording import Listened
from bot.message.situation import House
from bot.message.transaction import Committed, Handling, Sender
from bot.store.connection import Tx
from bot.store.database import Store, lost_to_another, unbroken
from bot.store.inbox import Received

TOGETHER = 8
"""At most so many messages share a transaction; the first one's answer waits for the last."""
TRIES = 3
"""Another program may have logged an event with the same number: look again and work it out anew."""


@dataclass(frozen=True)
class _Waiting:
    received: Received
    listened: Listened | None
    written: asyncio.Future[Committed]


class Writer:
    """Takes at most one message of a lane at a time, so that each lane keeps its order."""

    def __init__(self, store: Store, house: House, clock: Clock, sender: Sender | None = None) -> None:
        """`sender`: takes replies as soon as they are committed."""
        self._store = store
        self._sender = sender
        self._house = house
        self._clock = clock
        self._waiting: deque[_Waiting] = deque()
        self._writing: asyncio.Task[None] | None = None

    async def write(self, received: Received, listened: Listened | None, *, urgent: bool = False) -> Committed:
        """Handle a message and write down everything that follows from it; raises what its handling raises.

        `urgent`: before those that wait.
        """
        if not self._store.one_writer:
            return await unbroken(self._alone(received, listened, urgent=urgent))
        written: asyncio.Future[Committed] = asyncio.get_running_loop().create_future()
        waiting = _Waiting(received, listened, written)
        (self._waiting.appendleft if urgent else self._waiting.append)(waiting)
        if self._writing is None:
            self._writing = asyncio.create_task(self._write_all())
        return await written

    async def stop(self) -> None:
        """Finish the open transaction; what still waits stays in the inbox."""
        self._waiting.clear()
        if self._writing is not None:
            await self._writing

    async def _write_all(self) -> None:
        try:
            while self._waiting:
                batch = [self._waiting.popleft() for _ in range(min(TOGETHER, len(self._waiting)))]
                if len(batch) == 1 or not await self._together(batch):
                    for one in batch:
                        await self._by_itself(one)
        finally:
            self._writing = None

    async def _together(self, batch: Sequence[_Waiting]) -> bool:
        """All in one transaction; False, and nothing done, when any of them fails."""
        handlings: list[Handling] = []
        results: list[Committed] = []
        try:
            async with self._store.begin() as tx:
                for one in batch:
                    handlings.append(self._handling(tx, one.received))
                    results.append(await handlings[-1].run(one.listened))
        except BaseException as error:
            for handling in handlings:
                handling.failed()
            if not isinstance(error, Exception):
                raise
            return False
        for handling in handlings:
            handling.committed()
        for one, result in zip(batch, results, strict=True):
            if not one.written.done():
                one.written.set_result(result)
        return True

    async def _by_itself(self, one: _Waiting) -> None:
        try:
            result = await self._alone(one.received, one.listened)
        except Exception as error:
            if not one.written.done():
                one.written.set_exception(error)
        else:
            if not one.written.done():
                one.written.set_result(result)

    async def _alone(self, received: Received, listened: Listened | None, *, urgent: bool = False) -> Committed:
        for attempt in range(1, TRIES + 1):
            handling = None
            try:
                async with self._store.begin() as tx:
                    handling = self._handling(tx, received, urgent=urgent)
                    written = await handling.run(listened)
            except BaseException as error:
                if handling:
                    handling.failed()
                if not lost_to_another(error) or attempt == TRIES:
                    raise
            else:
                handling.committed()
                return written
        raise AssertionError("unreachable")

    def _handling(self, tx: Tx, received: Received, *, urgent: bool = False) -> Handling:
        return Handling(self._house, tx, received, self._clock.now(), urgent=urgent, sender=self._sender)
