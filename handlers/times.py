"""Times, durations and unit names in the words that people are told; and stated times turned into UTC."""

from __future__ import annotations

import math
from datetime import datetime, timedelta, tzinfo

from grammar.commands import SaidTime
from handlers.errors import NeedsAnswer, Refusal

DAY = timedelta(days=1)
FAST_WATCH = timedelta(minutes=1)


def clock(at: datetime, tz: tzinfo | None, *, seconds: bool = False) -> str:
    """Local 24-h clock time: "14:12", or "14:12:05"."""
    local = at.astimezone(tz) if tz is not None else at
    return local.strftime("%H:%M:%S" if seconds else "%H:%M")


def duration(seconds: float) -> str:
    """Minutes and seconds, rounded down: "1:40", "12:05", "1:02:30"."""
    whole = max(0, math.floor(seconds + 1e-6))
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


def spoken_duration(seconds: float) -> str:
    """Minutes and seconds as they are said, rounded down: "1 minute 40", "12 minutes", "45 seconds"."""
    whole = max(0, math.floor(seconds + 1e-6))
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    if hours:
        return " ".join(_counted(count, name) for count, name in ((hours, "hour"), (minutes, "minute")) if count)
    if not minutes:
        return _counted(left, "second")
    return _counted(minutes, "minute") + (f" {left}" if left else "")


def _counted(count: int, name: str) -> str:
    return f"{count} {name}{'s' * (count != 1)}"


def minutes(seconds: float) -> str:
    """Whole minutes, rounded down: "10 min", "1 h 20 min"."""
    whole = max(0, math.floor(seconds / 60 + 1e-9))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def unit_name(key: str | None) -> str:
    """A unit's key as people read it: "engine 12" → "Engine 12"; "" → "This crew"."""
    if not key:
        return "This crew"
    return key[:1].upper() + key[1:]


def listed(things: list[str] | tuple[str, ...]) -> str:
    """ "A", "A and B", "A, B and C"."""
    if len(things) < 2:
        return "".join(things)
    return ", ".join(things[:-1]) + " and " + things[-1]


def stated(time: SaidTime | None, now: datetime, tz: tzinfo | None) -> datetime:
    """When a command happened: the stated local clock time, or `now`.

    A clock time up to a minute ahead is a fast watch: `now`. Further ahead it hasn't happened (convention 2), unless
    the same time yesterday is nearer: then it is that. Times that a clock change skipped or repeated follow zoneinfo's
    `fold=0` (the first of two).

    Raises:
        NeedsAnswer: the time is still to come.
    """
    if time is None:
        return now
    if time.ago_s is not None:
        return now - timedelta(seconds=time.ago_s)
    if time.after_s is not None:
        raise Refusal("After what? Nothing of yours was reported just before: say the time of day.")
    if time.hour is None:
        return now
    local = now.astimezone(tz) if tz is not None else now
    wall = local.replace(hour=time.hour, minute=time.minute or 0, second=time.second or 0, microsecond=0, fold=0)
    at = wall.astimezone(now.tzinfo)
    if at <= now:
        return at
    yesterday = (wall - DAY).astimezone(now.tzinfo)
    if at - now <= FAST_WATCH:
        return now
    if at - now < now - yesterday:
        raise NeedsAnswer(
            f"{clock(at, tz)} is still to come (it is {clock(now, tz)}): nothing was logged. When was it?",
            part=time,
            options=(("It was now", None),),
        )
    return yesterday
