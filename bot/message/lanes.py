"""Lanes: what belongs together is handled one after the other, in order; lanes run side by side."""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Awaitable, Callable
from typing import Generic, TypeVar

T = TypeVar("T")
_LOG = logging.getLogger(__name__)


class Lanes(Generic[T]):
    """A queue and a worker for each lane that has something to do.

    A room's messages stay in the lane that its earlier ones wait in, so that they can't overtake each other when the
    room enters an incident.
    """

    def __init__(
        self,
        work: Callable[[T], Awaitable[None]],
        *,
        hold: Callable[[str], Awaitable[bool]] | None = None,
        let_go: Callable[[str], Awaitable[None]] | None = None,
        refused: Callable[[T], None] | None = None,
    ) -> None:
        """`work` handles one item; what it raises is logged and ends only that item.

        A lane's worker begins with `hold` (False: the lane is another program's, its items are `refused`) and ends with
        `let_go`.
        """
        self._work = work
        self._hold = hold
        self._let_go = let_go
        self._refused = refused
        self._queues: dict[str, deque[tuple[str, T]]] = {}
        self._lane_of: dict[str, tuple[str, int]] = {}
        self._workers: set[asyncio.Task[None]] = set()

    def put(self, lane: str, room: str, item: T, *, first: bool = False) -> None:
        """Line an item of a room up in its lane, or (`first`) before all that wait there."""
        lane, waiting = self._lane_of.get(room, (lane, 0))
        self._lane_of[room] = (lane, waiting + 1)
        if (queue := self._queues.get(lane)) is not None:
            (queue.appendleft if first else queue.append)((room, item))
            return
        self._queues[lane] = deque([(room, item)])
        worker = asyncio.create_task(self._run(lane))
        self._workers.add(worker)
        worker.add_done_callback(self._workers.discard)

    def waiting(self, lane: str, room: str) -> int:
        """How many items wait in the lane that a room's next one would be put in."""
        return len(self._queues.get(self._lane_of.get(room, (lane, 0))[0], ()))

    @property
    def depth(self) -> int:
        """How many items wait in all lanes."""
        return sum(map(len, self._queues.values()))

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
        held = False
        try:
            held = self._hold is None or await self._hold(lane)
            while queue:
                room, item = queue.popleft()
                try:
                    if held:
                        await self._work(item)
                    elif self._refused is not None:
                        self._refused(item)
                except Exception:
                    _LOG.exception("An item failed; its lane goes on")
                finally:
                    self._count_off(room)
        finally:
            del self._queues[lane]
            if held and self._let_go is not None:
                await self._let_go(lane)

    def _count_off(self, room: str) -> None:
        lane, waiting = self._lane_of[room]
        if waiting == 1:
            del self._lane_of[room]
        else:
            self._lane_of[room] = (lane, waiting - 1)
