"""A room for drills and tests: it takes down what is told, and can be scripted to fail."""

from __future__ import annotations

from collections import deque

from bot.errors import FileProblem
from bot.message import Outgoing


class ScriptedRoom:
    """All rooms of one kind. `told` keeps everything that was shown, in the order of showing."""

    def __init__(self, kind: str = "scripted") -> None:
        self.kind = kind
        self.told: list[Outgoing] = []
        self.faults: deque[Exception | None] = deque()
        """What the next sendings raise, in order (None: that one works)."""
        self.recordings: dict[str, bytes] = {}
        self._taken = 0

    async def send(self, out: Outgoing) -> str:
        fault = self.faults.popleft() if self.faults else None
        if fault is not None:
            raise fault
        self.told.append(out)
        return str(out.id)

    async def fetch(self, voice_ref: str) -> bytes:
        if voice_ref not in self.recordings:
            raise FileProblem(voice_ref, "there is no such recording.")
        return self.recordings[voice_ref]

    def take(self) -> list[Outgoing]:
        """What was told since the last time, in the order it was written."""
        new, self._taken = self.told[self._taken :], len(self.told)
        return sorted(new, key=lambda out: out.id)
