"""Keeps the reminder rows in line with the scene, and hands those whose time has come to the outbox."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, tzinfo

import msgspec
from sqlalchemy.ext.asyncio import AsyncConnection

from bot.directory import Directory
from bot.message import Button
from bot.store import outgoing, questions
from bot.store import reminders as rows
from bot.store.outgoing import Draft
from bot.store.reminders import Row
from grammar.commands import Question
from handlers.outcome import Reminder
from handlers.quiet import quiet
from handlers.reminders import EXACT, due
from handlers.rig import Rig
from handlers.scene import Scene

LATE = timedelta(seconds=5)
"""From here on a message says that it is late."""
SHOWN = 4
"""So many missed times are listed one by one."""

_QUESTION = msgspec.json.Decoder(Question)


async def bring_in_line(
    tx: AsyncConnection, incident: str, scene: Scene, rig: Rig, directory: Directory, now: datetime
) -> None:
    """Make the waiting rows what the scene asks for from `now` on, or from the oldest still owed; told stays told."""
    there = await rows.of_incident(tx, incident)
    waiting = {(row.room, row.key): row for row in there if row.sent_at is None}
    since = min((now, *(row.owed_at for row in waiting.values())))
    wanted: dict[tuple[str, str], Row] = {}
    for room, reminders in _by_room(due(scene, rig, since), directory).items():
        told = [row for row in there if row.room == room and row.sent_at is not None]
        wanted |= {(room, row.key): row for row in _planned(incident, room, reminders, told, rig)}
    await rows.drop(tx, [row for key, row in waiting.items() if key not in wanted])
    await rows.change(tx, [row for key, row in wanted.items() if key in waiting and row != waiting[key]])
    await rows.add(tx, [row for key, row in wanted.items() if key not in waiting])


def _by_room(reminders: Iterable[Reminder], directory: Directory) -> dict[str, list[Reminder]]:
    by_room: dict[str, list[Reminder]] = {}
    for reminder in reminders:
        for room in directory.rooms(reminder.to):
            by_room.setdefault(room, []).append(reminder)
    return by_room


def _planned(incident: str, room: str, reminders: list[Reminder], told: Sequence[Row], rig: Rig) -> list[Row]:
    """What one room is still to be told, quieted."""
    told_keys = {key for row in told for key in (row.key, *row.merged.splitlines())}
    owed = {reminder.key: reminder for reminder in reminders if reminder.key not in told_keys}
    routine = [_told_at(row) for row in told if row.kind == "reminder" and row.name not in EXACT]
    planned = quiet(owed.values(), max(routine, default=None), gap_s=rig.intervals.quiet_gap_s)
    return [
        Row(
            incident=incident,
            room=room,
            key=reminder.key,
            name=reminder.name,
            kind=reminder.kind,
            due_at=reminder.at,
            owed_at=min(owed[key].at for key in (reminder.key, *reminder.merged)),
            text=reminder.text,
            spoken=reminder.spoken,
            question=msgspec.json.encode(reminder.question).decode() if reminder.question else None,
            merged="\n".join(reminder.merged),
        )
        for reminder in planned
    ]


def _told_at(row: Row) -> datetime:
    """When a row was told: its due time, unless it was late."""
    return row.sent_at if row.sent_at is not None and row.sent_at - row.due_at > LATE else row.due_at


async def hand_over(tx: AsyncConnection, now: datetime, tz: tzinfo, limit: int) -> list[Row]:
    """Move the rows that are due to the outbox, in one transaction; returns what was moved.

    After a standstill several of a kind may be due: the latest is told, and it says when the others should have been.
    """
    ripe = await rows.due(tx, now, limit)
    if not ripe:
        return []
    drafts = []
    for group in _alike(ripe, now):
        last = group[-1]
        missed = [row.due_at for row in group[:-1]]
        drafts.append(
            Draft(
                room=last.room,
                incident=last.incident,
                kind=last.kind,
                name=last.name,
                text=last.text + _missed(missed, tz),
                spoken=last.spoken and last.spoken + _missed(missed, tz),
                buttons=await _buttons(tx, last, now),
                created_at=now,
                due_at=last.due_at,
            )
        )
    await outgoing.put(tx, drafts)
    await rows.told(tx, ripe, now)
    return ripe


async def to_plan_anew(tx: AsyncConnection, told: Sequence[Row], now: datetime) -> list[str]:
    """The incidents whose rows must be brought in line after a telling: it was late, or the last planned of its name.

    A telling at its time changes nothing: the rest was planned with it.
    """
    if not told:
        return []
    incidents = sorted({row.incident for row in told})
    left = await rows.names_waiting(tx, incidents)
    return sorted(
        {row.incident for row in told if now - row.due_at > LATE or (row.incident, row.room, row.name) not in left}
    )


async def _buttons(tx: AsyncConnection, row: Row, now: datetime) -> tuple[Button, ...]:
    if not row.question:
        return ()
    question = _QUESTION.decode(row.question)
    number = await questions.ask(tx, question, room=row.room, who=None, incident=row.incident, now=now)
    return questions.buttons(number, question)


def _alike(ripe: Sequence[Row], now: datetime) -> list[list[Row]]:
    """Rows of one name for one room that are late together; everything else by itself."""
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in ripe:
        late = now - row.due_at > LATE
        key = (row.incident, row.room, row.name) if late else (row.incident, row.room, row.name, row.key)
        groups.setdefault(key, []).append(row)
    return list(groups.values())


def _missed(missed: Sequence[datetime], tz: tzinfo) -> str:
    if not missed:
        return ""
    times = [at.astimezone(tz).strftime("%H:%M:%S") for at in missed]
    if len(times) > SHOWN:
        return f"\n(Not told in time: the same {len(times)} times from {times[0]} to {times[-1]}.)"
    return f"\n(Not told in time: the same at {', '.join(times)}.)"
