"""The wake-up: one for the next reminder that is due; the reminders themselves are rows, and nothing counts them down.

It waits on the loop's steady clock and looks at the rows every second anyway, so that a machine whose clock is set, or
that was stopped for a while, is a second late at most.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Coroutine
from datetime import datetime
from typing import Any

from bot.clock import Clock
from bot.store.database import unbroken

LOOK_AGAIN_S = 1.0
"""How often the rows are looked at anyway: another program may have written some, the clock may have been set."""

_LOG = logging.getLogger(__name__)


class Timers:
    """Calls `fire`, which tells what is due and says when the next one is, at the right moments."""

    def __init__(self, fire: Callable[[], Coroutine[Any, Any, datetime | None]], clock: Clock) -> None:
        """`clock`: the one that due times are told by."""
        self._fire = fire
        self._clock = clock
        self._poked = asyncio.Event()

    def poke(self) -> None:
        """The rows may have changed."""
        self._poked.set()

    async def run(self) -> None:
        """Tell what is due, then wait for the next, for ever."""
        while True:
            self._poked.clear()
            wait_s = LOOK_AGAIN_S
            try:
                at = await unbroken(self._fire())
            except Exception:
                _LOG.exception("The reminders couldn't be told; trying again within %g s", LOOK_AGAIN_S)
            else:
                if at is not None:
                    wait_s = min(wait_s, max(0.0, (at - self._clock.now()).total_seconds()))
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(wait_s):  # wait_for can lose a cancellation that comes with the event
                    await self._poked.wait()
