"""Quiet: at most one routine notice a minute in a room. Pure: the reminders of one room in, what is told there out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from msgspec.structs import replace

from handlers.outcome import Reminder
from handlers.reminders import is_routine, moved, overtakes, series

FIRST = (
    "tank_quarter",
    "turnaround",
    "alarm_expected",
    "tank_half",
    "par_missing",
    "par_due",
    "supply_missing",
    "rit_missing",
    "control_check",
    "rehab_due",
)
"""Which routine notice goes first when several are due together."""


def quiet(
    reminders: Iterable[Reminder], last_routine: datetime | None = None, *, gap_s: float = 60.0
) -> tuple[Reminder, ...]:
    """The reminders of one room as they are told there, in the order of their (new) times.

    Alerts and the exact clocks go out at once, as they are. `elapsed` is never moved: a routine notice due within the
    minute before it goes out with it, in one message that keeps the name and key of `elapsed`, lists the others in its
    text and their keys in `merged`. Any other routine notice waits until a minute after the routine notice before it.

    Args:
        reminders: not yet told in this room.
        last_routine: when a routine notice was last told in it.
        gap_s: the rig's `quiet_gap_s`.
    """
    gap = timedelta(seconds=gap_s)
    waiting = list(reminders)
    told = [reminder for reminder in waiting if not is_routine(reminder)]
    fixed = sorted((r for r in waiting if is_routine(r) and r.name == "elapsed"), key=lambda r: r.at)
    others = sorted((r for r in waiting if is_routine(r) and r.name != "elapsed"), key=_order)
    with_elapsed: dict[str, list[Reminder]] = {elapsed.key: [] for elapsed in fixed}
    free = last_routine + gap if last_routine is not None else None
    for reminder in others:
        at = max(reminder.at, free) if free is not None else reminder.at
        at, carrier = _placed(at, fixed, gap)
        if carrier is not None:
            with_elapsed[carrier.key].append(reminder)
            continue
        if not _overtaken(reminder, at, told):
            told.append(moved(reminder, at))
            free = at + gap
    told += [_merged(elapsed, with_elapsed[elapsed.key]) for elapsed in fixed]
    return tuple(sorted(told, key=lambda reminder: (reminder.at, reminder.key)))


def _order(reminder: Reminder) -> tuple[datetime, int, str]:
    rank = FIRST.index(reminder.name) if reminder.name in FIRST else len(FIRST)
    return reminder.at, rank, reminder.key


def _placed(at: datetime, fixed: list[Reminder], gap: timedelta) -> tuple[datetime, Reminder | None]:
    """Where a notice that may go at `at` goes: with the `elapsed` that follows, or clear of the one before."""
    for elapsed in fixed:
        if timedelta(0) <= elapsed.at - at < gap:
            return elapsed.at, elapsed
        if timedelta(0) < at - elapsed.at < gap:
            at = elapsed.at + gap
    return at, None


def _overtaken(reminder: Reminder, at: datetime, told: list[Reminder]) -> bool:
    """A tank mark that had to wait isn't told after the last minute's alert of that tank."""
    return any(
        reminder.at <= alert.at <= at
        and alert.name in ("tank_minute", "tank_empty")
        and overtakes(series(alert.name, alert.key), series(reminder.name, reminder.key))
        for alert in told
    )


def _merged(elapsed: Reminder, others: list[Reminder]) -> Reminder:
    if not others:
        return elapsed
    return replace(
        elapsed,
        text="\n".join([elapsed.text, *(moved(other, elapsed.at).text for other in others)]),
        to=tuple(dict.fromkeys([*elapsed.to, *(to for other in others for to in other.to)])),
        question=elapsed.question or next((other.question for other in others if other.question), None),
        merged=tuple(other.key for other in others),
    )
