"""A message on its way through the pipeline."""

from __future__ import annotations

import asyncio

from bot.message.recording import Listened
from bot.message.reply import Handled
from bot.store.inbox import Received
from grammar.commands import Reading


class Ticket:
    """A received message; `await ticket.handled` gives what it came to."""

    def __init__(self, received: Received, held_s: float) -> None:
        """`held_s`: so long what comes after a recording waits for it."""
        loop = asyncio.get_running_loop()
        self.received = received
        self.handled: asyncio.Future[Handled] = loop.create_future()
        self.hearing: asyncio.Task[Listened] | None = None
        """Its recording being listened to, beside the lane."""
        self.lane = ""
        self.wait_until = loop.time() + held_s
        self.aside = False
        """Its lane has gone on without it: it comes back first when it was heard."""
        self.taken = False
        """Being handled, or handled."""
        self.elsewhere = False
        """Left to another program on the same record, unless it leaves it too."""

    @property
    def is_recording(self) -> bool:
        return self.received.message.is_recording

    def settle(self, handled: Handled | None = None) -> None:
        """It has come to an end (None: another program handled it)."""
        if not self.handled.done():
            text = self.received.message.text
            self.handled.set_result(handled or Handled(text, Reading(text=text, ignored=True)))
