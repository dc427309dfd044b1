"""The page as the outbox and the ears see it: what a room is told goes to every screen that shows it."""

from __future__ import annotations

import asyncio

from bot.clock import Clock
from bot.errors import FileProblem, RetryAfter, Undeliverable
from bot.message import Outgoing
from bot.rooms.page import KIND, talk
from bot.rooms.page.hub import Hub
from bot.rooms.page.protocol import NotSpoken, Shown

GRACE_S = 20.0
"""A phone that changes from one access point to another is back within that time; what is told meanwhile waits."""
LOOK_AGAIN_S = 1.0


class PageRoom:
    """All the page's rooms."""

    kind = KIND

    def __init__(self, hub: Hub, clock: Clock) -> None:
        self._hub = hub
        self._clock = clock
        self._began = asyncio.get_running_loop().time()

    async def send(self, out: Outgoing) -> str:
        """See bot.rooms.Room.send. What no screen takes is in the record all the same, and shown when one comes."""
        if not self._hub.of(out.room):
            if self.alone_s(out.room) < GRACE_S:
                raise RetryAfter(LOOK_AGAIN_S)
            raise Undeliverable("no screen shows this room")
        now = self._clock.now()
        self._hub.show(out.room, Shown(now, talk.told(out, now)))
        return str(out.id)

    def alone_s(self, room: str) -> float:
        """For so long no screen has shown a room."""
        if self._hub.of(room):
            return 0.0
        return asyncio.get_running_loop().time() - self._hub.left_at.get(room, self._began)

    async def fetch(self, voice_ref: str) -> bytes:
        raise FileProblem(voice_ref, "the page keeps no recordings.")

    def superseded(self, room: str, message: str) -> None:
        """The answer to a message isn't to be spoken: what was said went on."""
        self._hub.show(room, NotSpoken(message))
