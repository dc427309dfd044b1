"""Lanes: what belongs together is handled one after the other, in order; lanes run side by side."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Lanes(Generic[T]):
    """A queue and a worker for each lane that has something to do.

    A room's messages stay in the lane that its earlier ones wait in, so that they can't overtake each other when the
    room enters an incident.
    """

    def __init__(self, work: Callable[[T], Awaitable[None]]) -> None:
        """`work` handles one item and raises nothing."""
        self._work = work
        self._queues: dict[str, deque[tuple[str, T]]] = {}
        self._lane_of: dict[str, tuple[str, int]] = {}
        self._workers: set[asyncio.Task[None]] = set()

    def put(self, lane: str, room: str, item: T) -> None:
        """Line an item of a room up in its lane."""
        lane, waiting = self._lane_of.get(room, (lane, 0))
        self._lane_of[room] = (lane, waiting + 1)
        if (queue := self._queues.get(lane)) is not None:
            queue.append((room, item))
            return
        self._queues[lane] = deque([(room, item)])
        worker = asyncio.create_task(self._run(lane))
        self._workers.add(worker)
        worker.add_done_callback(self._workers.discard)

    async def settled(self) -> None:
        """Wait until every lane is empty."""
        while self._workers:
            await asyncio.wait(tuple(self._workers))

    async def stop(self) -> None:
        """Stop at once; what isn't done stays in the inbox."""
        for worker in tuple(self._workers):
            worker.cancel()
        await asyncio.gather(*self._workers, return_exceptions=True)

    async def _run(self, lane: str) -> None:
        queue = self._queues[lane]
        while queue:
            room, item = queue.popleft()
            try:
                await self._work(item)
            finally:
                key, waiting = self._lane_of[room]
                if waiting == 1:
                    del self._lane_of[room]
                else:
                    self._lane_of[room] = (key, waiting - 1)
        del self._queues[lane]
