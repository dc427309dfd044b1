"""Holds back what one person sends faster than anybody talks, so that nobody else waits for it.

Counted by when it was sent, so that what piled up while the network was gone isn't taken for a flood.
"""

from __future__ import annotations

from collections import OrderedDict
from datetime import datetime, timedelta

from bot.message import Message

MOST = 100
WITHIN = timedelta(seconds=10)
"""So many messages of one person within so long are taken; nobody types or says that many."""
QUIET = timedelta(minutes=1)
"""Told once; again only after nothing was held back for so long."""
REMEMBERED = 1_000
"""People kept in mind."""


class Throttle:
    """What each person sent lately. A message that comes again (the network) is not counted again."""

    def __init__(self, most: int = MOST, within: timedelta = WITHIN) -> None:
        self._most = most
        self._within = within
        self._passed: OrderedDict[str, dict[tuple[str, str], datetime]] = OrderedDict()
        self._held: dict[str, datetime] = {}

    def holds(self, message: Message) -> bool:
        """Whether this one is too many."""
        passed = self._passed.get(message.who, {})
        key = message.room, message.id
        if key in passed:
            return False
        recent = {other: at for other, at in passed.items() if message.at - at < self._within}
        too_many = len(recent) >= self._most
        if not too_many:
            recent[key] = message.at
        self._passed[message.who] = recent
        self._passed.move_to_end(message.who)
        if len(self._passed) > REMEMBERED:
            self._held.pop(self._passed.popitem(last=False)[0], None)
        return too_many

    def tells(self, message: Message) -> bool:
        """Whether the person is to be told of this one that is held back: once a flood."""
        last = self._held.get(message.who)
        self._held[message.who] = max(message.at, last or message.at)
        return last is None or message.at - last >= QUIET
