"""Standstills that take their time and little else: the network gone, the program stopped, the record not writable."""

from __future__ import annotations

from collections.abc import AsyncIterator

from tests.faults.counts import Counts
from tests.faults.kills import stopped
from tests.faults.service import no_network, one_room_waits
from tests.faults.store import hindered


async def run(full: bool) -> AsyncIterator[Counts]:
    """600 s without a network, 60 s stopped, 30 s for a room that waits, 12 s for each hindrance; in short seconds."""
    yield await one_room_waits(30 if full else 2)
    for what in ("without room on its disk", "locked by another program", "read-only"):
        yield await hindered(what, 12 if full else 1.5)
    yield await stopped(60 if full else 8)
    yield await no_network(600 if full else 4)
