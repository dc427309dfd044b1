"""What one person sends too fast: written down, and then looked at beside what all others say.

Only an alert in it goes on. One look at a time, with a pause after it, so that no room waits for a flood.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Sequence

from bot.message import Message
from bot.message.alerts import is_alert
from bot.message.pipeline import Pipeline
from bot.message.read import names_mayday
from bot.message.ticket import Ticket
from bot.rooms.telegram.door import Door
from bot.rooms.throttle import Throttle
from bot.store.database import unbroken

PAUSE_S = 0.002
"""After each look; a look takes a millisecond or two."""
TOGETHER = 100
"""So many are ticked off in one transaction."""

_LOG = logging.getLogger(__name__)


class Floods:
    """Hand it what the throttle holds; `stop` it with the program."""

    def __init__(self, pipeline: Pipeline, door: Door, throttle: Throttle) -> None:
        self._pipeline = pipeline
        self._door = door
        self._throttle = throttle
        self._left: deque[Ticket] = deque()
        self._looking: asyncio.Task[None] | None = None

    async def take(self, messages: Sequence[Message]) -> None:
        """Write them down; the rest is done beside. A Mayday that says so goes on at once."""
        for ticket in await self._pipeline.keep(messages):
            if names_mayday(ticket.received.message.text):
                await self._go_on(ticket)
            else:
                self._left.append(ticket)
        if self._left and self._looking is None:
            self._looking = asyncio.create_task(self._look())

    async def stop(self) -> None:
        """What wasn't looked at stays in the inbox, and is handled after the next start."""
        if self._looking is not None:
            self._looking.cancel()
            await asyncio.gather(self._looking, return_exceptions=True)

    async def _look(self) -> None:
        try:
            while self._left:
                await self._some([self._left.popleft() for _ in range(min(TOGETHER, len(self._left)))])
        finally:
            self._looking = None

    async def _some(self, flood: Sequence[Ticket]) -> None:
        held: list[Ticket] = []
        for ticket in flood:
            if is_alert(ticket.received.message.text):
                await self._go_on(ticket)
            else:
                held.append(ticket)
            await asyncio.sleep(PAUSE_S)
        try:
            await unbroken(self._door.hold_back([ticket.received for ticket in held], self._throttle))
        except Exception:
            _LOG.exception("A flood couldn't be held back: it is handled")
            for ticket in held:
                await self._go_on(ticket)
        else:
            for ticket in held:
                self._pipeline.over(ticket)

    async def _go_on(self, ticket: Ticket) -> None:
        try:
            await self._pipeline.go_on(ticket)
        except Exception:
            _LOG.exception("A held message couldn't be lined up: it stays in the inbox")
            self._pipeline.over(ticket)
