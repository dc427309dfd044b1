"""Rooms: where people say things and are told things. Each kind of room is one module with a class of this face."""

from __future__ import annotations

from typing import Protocol

from bot.message import Outgoing


class Room(Protocol):
    """A kind of room; it serves all rooms whose key is `kind` or begins with `kind:`."""

    kind: str

    async def send(self, out: Outgoing) -> str:
        """Show a message; returns the room's id of it ("" where it has none).

        Raises:
            RetryAfter: this room must wait; others go on.
            Unsure: it may have arrived; it will be sent again, marked as a repeat.
            Undeliverable: it never will; not tried again.
        """
        ...

    async def fetch(self, voice_ref: str) -> bytes:
        """The recording behind Message.voice_ref. Raises FileProblem when it can't be had."""
        ...
