"""The daily check's record, from the log it stands in: each item with what was answered, by whom and when.

It says what was reported at that time and no more: an item that wasn't answered stays so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from typing import Literal

import msgspec

from handlers.events import Event, ReadinessAnswered, ReadinessFinished, ReadinessStarted
from handlers.history import effective
from handlers.rig import CheckItem, Rig
from handlers.times import clock, listed

Verdict = Literal["OK", "NOT OK", "not answered"]


class CheckRow(msgspec.Struct, frozen=True):
    """One item: its value where it has one (in `unit`), and who reported it when."""

    item: str
    group: str
    verdict: Verdict
    value: float | None = None
    unit: str | None = None
    at_least: float | None = None
    remark: str | None = None
    who: str | None = None
    at: datetime | None = None


class CheckRecord(msgspec.Struct, frozen=True):
    """A daily check as it was reported. Times are UTC."""

    department: str
    rig: str
    started_at: datetime
    started_by: str
    finished_at: datetime | None
    """None: it was never ended, by hand or by its last item."""
    rows: tuple[CheckRow, ...]

    @property
    def failed(self) -> tuple[str, ...]:
        """The items that were reported as not in order."""
        return tuple(row.item for row in self.rows if row.verdict == "NOT OK")


def check_record(events: Iterable[Event], rig: Rig) -> CheckRecord | None:
    """The last daily check in a log; None where none was started. The last answer to an item counts."""
    kept = effective(events)
    starts = [place for place, event in enumerate(kept) if isinstance(event.body, ReadinessStarted)]
    if not starts:
        return None
    start, *after = kept[starts[-1] :]
    answers = {event.body.item: event for event in after if isinstance(event.body, ReadinessAnswered)}
    asked = start.body.items if isinstance(start.body, ReadinessStarted) else ()
    known = {item.key: item for item in rig.readiness}
    ends = (event.at for event in after if isinstance(event.body, ReadinessFinished))
    return CheckRecord(
        department=rig.department,
        rig=rig.name,
        started_at=start.at,
        started_by=start.role or start.who,
        finished_at=next(ends, None),
        rows=tuple(_row(key, known.get(key), answers.get(key)) for key in dict.fromkeys((*asked, *answers))),
    )


def _row(key: str, item: CheckItem | None, event: Event | None) -> CheckRow:
    name = key.replace("_", " ")
    group, unit, least = (item.group, item.unit, item.at_least) if item else ("", None, None)
    if event is None or not isinstance(event.body, ReadinessAnswered):
        return CheckRow(name, group, "not answered", unit=unit, at_least=least)
    body = event.body
    return CheckRow(
        item=name,
        group=group,
        verdict="OK" if body.ok else "NOT OK",
        value=body.value,
        unit=unit,
        at_least=least,
        remark=body.remark,
        who=event.role or event.who,
        at=event.at,
    )


def heading(made: CheckRecord, tz: tzinfo | None) -> str:
    """What the record is of: "Daily check, Engine 12, 2026-03-07 07:00, started by driver, not ended"."""
    day = (made.started_at.astimezone(tz) if tz else made.started_at).date().isoformat()
    ended = f"ended {clock(made.finished_at, tz)}" if made.finished_at else "not ended"
    return f"Daily check, {made.rig}, {day} {clock(made.started_at, tz)}, started by {made.started_by}, {ended}"


def summary(made: CheckRecord) -> str:
    """How many items were answered, and which were reported as not in order."""
    answered = sum(row.verdict != "not answered" for row in made.rows)
    failed = f" NOT OK: {listed(list(made.failed))}." if made.failed else " None was reported NOT OK."
    return f"{answered} of {len(made.rows)} items answered.{failed}"


def value_words(row: CheckRow) -> str:
    """An item's number with its unit and what it must reach, and its remark: "85 percent (at least 90)"."""
    number = "" if row.value is None else f"{row.value:g} {row.unit or ''}".strip()
    least = f"(at least {row.at_least:g})" if number and row.at_least is not None else ""
    return " ".join(part for part in (number, least, row.remark or "") if part)


def check_rows(made: CheckRecord, tz: tzinfo | None) -> list[tuple[str, ...]]:
    """The record as rows of text with a heading."""
    rows: list[tuple[str, ...]] = [("Item", "Group", "Result", "Value", "By", "Time")]
    for row in made.rows:
        at = clock(row.at, tz) if row.at else ""
        rows.append((row.item, row.group, row.verdict, value_words(row), row.who or "", at))
    return rows


def check_text(made: CheckRecord, tz: tzinfo | None) -> str:
    """The record as a plain table for a screen."""
    rows = check_rows(made, tz)
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    table = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return "\n".join((f"{made.department}: {heading(made, tz)}", summary(made), "", *table))


def last_check(events: Sequence[Event], rig: Rig, unit: str) -> CheckRecord | None:
    """The last check of one company in a log that others talk into too."""
    return check_record([event for event in events if event.unit == unit], rig)
