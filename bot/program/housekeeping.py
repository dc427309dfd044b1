"""What a running program does beside its work: it leaves signs of life, and warns when the machine's clock is off."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
from datetime import datetime, timedelta, tzinfo

from bot.clock import TOLERATED, Clock, LocalClock, ServiceClock
from bot.message.directory import Directory
from bot.message.pipeline import Ears
from bot.message.situation import House
from bot.store import log, outgoing, places, vitals
from bot.store.connection import Tx
from bot.store.database import Store, unbroken
from bot.store.outgoing import Unsent
from handlers.times import duration

EVERY_S = 30.0
WARN_AGAIN = timedelta(minutes=10)
"""The clock is compared at least so often, and a machine that is still off is named again."""
CLOCK_OFF = "clock_off"

_LOG = logging.getLogger(__name__)


def off_by(offset: timedelta) -> str:
    """A machine's clock in words; `offset` is how far the service is ahead of it."""
    return f"{duration(abs(offset.total_seconds()))} {'slow' if offset > timedelta(0) else 'fast'}"


def behind(newest: datetime | None, now: datetime, tz: tzinfo) -> str | None:
    """What is said of a clock that is before what was written down last; None where it isn't."""
    if newest is None or newest - now <= TOLERATED:
        return None
    form = "%H:%M" if newest - now < timedelta(hours=12) else "%Y-%m-%d %H:%M"
    says, last = now.astimezone(tz).strftime(form), newest.astimezone(tz).strftime(form)
    return (
        f"The machine's clock says {says}, and the newest message in the record is of {last}: it is slow now, or was"
        " fast then. Have it set."
    )


class Housekeeping:
    """`run` it beside the work; `poke` it when the clock was found to be off."""

    def __init__(self, store: Store, house: House, clock: Clock, ears: Ears | None) -> None:
        self._store = store
        self._house = house
        self._clock = clock
        self._ears = ears
        self._poked = asyncio.Event()
        self._warned: tuple[timedelta, float] | None = None
        self._looked_back = False

    def poke(self) -> None:
        """Look at once."""
        self._poked.set()

    async def run(self) -> None:
        """Look after things, for ever."""
        while True:
            self._poked.clear()
            try:
                await unbroken(self.look())
            except Exception:
                _LOG.exception("The signs of life couldn't be written")
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(EVERY_S):
                    await self._poked.wait()

    async def look(self) -> None:
        """Leave signs of life; warn of a clock that is off."""
        now = self._clock.now()
        offset = self._clock.offset if isinstance(self._clock, ServiceClock) else timedelta(0)
        signs = {"running": str(os.getpid()), "clock_offset_s": f"{offset.total_seconds():.1f}"}
        speed: float | None = getattr(self._ears, "speed", None)
        if speed is not None:
            signs["recogniser"] = f"{speed:.2f}"
        async with self._store.begin() as tx:
            await vitals.put(tx, signs, now)
            if self._is_news(offset):
                await outgoing.put(tx, await self._warning(tx, self._off(offset)))
            if isinstance(self._clock, LocalClock) and not self._looked_back:
                self._looked_back = True
                if (text := behind(await vitals.newest(tx), now, self._house.tz)) is not None:
                    await outgoing.put(tx, await self._warning(tx, text))

    def _is_news(self, offset: timedelta) -> bool:
        """Whether the officer is to be told: off, and not said yet, or said of another time, or a while ago."""
        at = asyncio.get_running_loop().time()
        if abs(offset) <= TOLERATED:
            self._warned = None
            return False
        if self._warned is not None:
            before, told_at = self._warned
            if abs(before - offset) <= TOLERATED and at - told_at < WARN_AGAIN.total_seconds():
                return False
        self._warned = offset, at
        return True

    def _off(self, offset: timedelta) -> str:
        if isinstance(self._clock, LocalClock):
            set_by = f"{duration(abs(offset.total_seconds()))} {'back' if offset > timedelta(0) else 'forward'}"
            return (
                f"The machine's clock was set {set_by} while Crosslay runs. Times and reminders go on by the clock as"
                " it was. If it is right only now, end Crosslay and start it again."
            )
        return (
            f"The clock of the machine that runs Crosslay is {off_by(offset)}. Reminders and times go by the service's"
            " clock meanwhile: have it set."
        )

    async def _warning(self, tx: Tx, text: str) -> list[Unsent]:
        own = self._house.rigs.own_unit
        mates = await places.of_company(tx, own)
        rooms: dict[str, str] = dict.fromkeys(Directory(mates, own, self._house.crew_room).rooms(("officer",)), "")
        for incident in {mate.incident for mate in mates if mate.incident}:
            found = await log.incident(tx, incident)
            if found is not None and found.closed_at is None:
                here = Directory(await places.of_incident(tx, incident), found.company, self._house.crew_room)
                rooms |= dict.fromkeys(here.rooms(("officer",)), incident)
        now = self._clock.now()
        return [
            Unsent(room=room, incident=incident, kind="notice", name=CLOCK_OFF, text=text, created_at=now)
            for room, incident in rooms.items()
        ]
