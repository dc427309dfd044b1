"""The screens that are connected, by room: what one is shown, all of its room are, each at its own pace."""

from __future__ import annotations

import asyncio
import contextlib
from collections import defaultdict, deque
from collections.abc import Awaitable, Callable, Iterable

import msgspec

from bot.rooms.page.passes import Pass

MOST = 200
"""Screens at a time."""
MOST_OF_ONE = 6
"""… of one person."""
MOST_WAITING = 400
"""A screen that is so far behind is let go: it comes back and is shown everything anew."""

_encode = msgspec.json.Encoder().encode

Send = Callable[[str], Awaitable[None]]


class Screen:
    """One connection."""

    def __init__(self, one: Pass, send: Send) -> None:
        self.of = one
        self._send = send
        self._line: deque[str] = deque()
        self._there = asyncio.Event()
        self._over = False

    def show(self, text: str) -> None:
        """Put something in its line."""
        if len(self._line) >= MOST_WAITING:
            self.let_go()
            return
        self._line.append(text)
        self._there.set()

    def tell(self, what: msgspec.Struct) -> None:
        """Put something in its line, as JSON."""
        self.show(as_text(what))

    def let_go(self) -> None:
        """End the connection: it can't keep up, sends too much, or is let in no more."""
        self._over = True
        self._there.set()

    async def run(self) -> None:
        """Send what is in its line until it is let go, or breaks."""
        while not self._over:
            await self._there.wait()
            self._there.clear()
            while self._line and not self._over:
                await self._send(self._line.popleft())


class Hub:
    """All screens."""

    def __init__(self) -> None:
        self._screens: defaultdict[str, set[Screen]] = defaultdict(set)
        self.left_at: dict[str, float] = {}
        """When the last screen of a room went, on the loop's clock."""

    def add(self, screen: Screen) -> bool:
        """A screen is connected; False where there are too many."""
        everybody = [one for screens in self._screens.values() for one in screens]
        of_one = sum(one.of.person == screen.of.person for one in everybody)
        if len(everybody) >= MOST or of_one >= MOST_OF_ONE:
            return False
        self._screens[screen.of.room].add(screen)
        self.left_at.pop(screen.of.room, None)
        return True

    def remove(self, screen: Screen) -> None:
        """A screen has gone."""
        self._screens[screen.of.room].discard(screen)
        if not self._screens[screen.of.room]:
            with contextlib.suppress(RuntimeError):
                self.left_at[screen.of.room] = asyncio.get_running_loop().time()

    def of(self, room: str) -> frozenset[Screen]:
        """The screens of a room."""
        return frozenset(self._screens.get(room, ()))

    @property
    def rooms(self) -> Iterable[str]:
        """Rooms with a screen."""
        return [room for room, screens in self._screens.items() if screens]

    @property
    def people(self) -> frozenset[str]:
        """Who has a screen that is connected."""
        return frozenset(screen.of.person for screens in self._screens.values() for screen in screens)

    def show(self, room: str, what: msgspec.Struct) -> int:
        """Show something on every screen of a room, written once; returns how many there are."""
        screens = self.of(room)
        if screens:
            text = as_text(what)
            for screen in screens:
                screen.show(text)
        return len(screens)

    def put_out(self, person: str) -> None:
        """End a person's connections."""
        for screens in self._screens.values():
            for screen in screens:
                if screen.of.person == person:
                    screen.let_go()


def as_text(what: msgspec.Struct) -> str:
    """JSON as it goes to a screen."""
    return _encode(what).decode()
