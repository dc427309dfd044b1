"""`crosslay check --live`: how a running bot is doing, as it says itself and as its record shows."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import TextIO

from bot.clock import TOLERATED
from bot.message.as_json import ANSWERED, FAULT
from bot.program.housekeeping import off_by
from bot.settings import Settings
from bot.store import inbox, outgoing, vitals
from bot.store.database import Store
from bot.store.vitals import Queues, Sign
from handlers.times import duration

ALIVE = timedelta(seconds=120)
"""It leaves a sign every half minute."""
SLOW = timedelta(seconds=30)
"""What waits longer is named as a fault."""


def report(known: Settings, out: TextIO) -> int:
    """Print it; returns the exit status: a fault where no bot runs, or something waits too long."""
    signs, queues, aside, unshown, now = asyncio.run(_look(known))
    sick = False
    for ok, line in (*_told(signs, queues, now, known.tz), *_set_aside(aside), *_not_shown(unshown)):
        print(f"{'ok     ' if ok else 'LOOK   '}  {line}", file=out)
        sick = sick or not ok
    return FAULT if sick else ANSWERED


_Aside = tuple[int, list[tuple[str, str, datetime, str]]]


async def _look(known: Settings) -> tuple[dict[str, Sign], Queues, _Aside, _Aside, datetime]:
    store = await Store.open(known.database_url)
    try:
        async with store.begin() as tx:
            aside, unshown = await inbox.set_aside(tx), await outgoing.not_shown(tx)
            return await vitals.signs(tx), await vitals.queues(tx), aside, unshown, datetime.now(UTC)
    finally:
        await store.close()


def _told(signs: dict[str, Sign], queues: Queues, now: datetime, tz: tzinfo) -> Iterator[tuple[bool, str]]:
    running = signs.get("running")
    offset = timedelta(seconds=float(signs["clock_offset_s"].value)) if "clock_offset_s" in signs else timedelta(0)
    now += offset
    if running is None:
        yield False, "bot: none has run on this record"
    else:
        ago = now - running.at
        yield ago <= ALIVE, f"bot: last sign of life {_ago(ago)} (process {running.value})"
    yield _queue("inbox", "to be handled", queues.inbox, queues.inbox_since, now)
    yield _queue("outbox", "to be sent", queues.outbox, queues.outbox_since, now)
    due = queues.next_due
    late = due is not None and now - due > SLOW
    yield not late, f"next due: {due.astimezone(tz):%Y-%m-%d %H:%M:%S}" if due is not None else "next due: nothing"
    sent = queues.last_sent
    yield True, f"last delivery: {_ago(now - sent)}" if sent is not None else "last delivery: none so far"
    speed = signs.get("recogniser")
    yield True, f"recogniser: {speed.value} s for each second of sound" if speed else "recogniser: nothing heard so far"
    agrees = abs(offset) <= TOLERATED
    yield agrees, f"clock: {'agrees with the service' if agrees else off_by(offset) + ': set it'}"
    if queues.unreached:
        yield False, f"not reached: {', '.join(queues.unreached)}"


def _queue(name: str, what: str, count: int, since: datetime | None, now: datetime) -> tuple[bool, str]:
    if since is None:
        return True, f"{name}: nothing {what}"
    return now - since <= SLOW, f"{name}: {count} {what}, the oldest {_ago(now - since)}"


def _set_aside(aside: _Aside) -> Iterator[tuple[bool, str]]:
    count, newest = aside
    if count:
        room, message, at, error = newest[0]
        yield (
            True,
            f"set aside: {count}, the newest message {message} of {room}, {at:%Y-%m-%d %H:%M} UTC ({error[:80]})",
        )


def _not_shown(unshown: _Aside) -> Iterator[tuple[bool, str]]:
    count, newest = unshown
    if count:
        room, what, at, error = newest[0]
        yield True, f"not shown: {count}, the newest a {what} in {room}, {at:%Y-%m-%d %H:%M} UTC ({(error or '')[:80]})"


def _ago(ago: timedelta) -> str:
    return f"{duration(max(0.0, ago.total_seconds()))} ago"
