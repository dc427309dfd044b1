"""A finished incident, or a drill, as a screen plays it: what the board showed at each moment, and what was said.

The board is the same function of the log as while it ran (`handlers.incident.glance`), at earlier moments; corrections
and what was taken back stand as they stood in the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

import msgspec
from sqlalchemy import select

from bot.commands.drill import START, Drill, ScriptLine, Told, parse_script, text_of
from bot.incident import Incident
from bot.message import Message
from bot.rigs import Rigs
from bot.rooms.page.talk import Entry, heard_in
from bot.store import log
from bot.store.connection import Tx
from bot.store.tables import inbox, outbox, rooms
from handlers.events import Event
from handlers.history import apply, effective, fold
from handlers.incident.glance import Glance, glance, times_of
from handlers.rig import Rig
from handlers.scene import Scene

EVERY = timedelta(seconds=60)
"""A board of its own at least so often: a tank's course and what is due next reach only so far ahead."""
MOST_FRAMES = 600
CAN_BE_CHOSEN = 30
AFTER_A_DRILL = timedelta(minutes=2)
"""So long a drill goes on behind its last line."""

_MESSAGE = msgspec.json.Decoder(Message)
_SHARED = select(rooms.c.room).where(rooms.c.grouped)


class Frame(msgspec.Struct, frozen=True):
    """From `at` on the board is this."""

    at: datetime
    board: Glance


class Replay(msgspec.Struct, frozen=True):
    """Everything that a screen needs to play an incident."""

    title: str
    begin: datetime
    end: datetime
    marks: tuple[tuple[str, datetime], ...]
    frames: tuple[Frame, ...]
    entries: tuple[Entry, ...]


class Choice(msgspec.Struct, frozen=True):
    """Something that can be played."""

    id: str
    title: str
    begin: datetime | None = None
    minutes: int | None = None


def frames(events: Sequence[Event], rig: Rig, unit: str, until: datetime, tz: tzinfo | None) -> list[Frame]:
    """The boards of an incident: one when something happened, and one at least every minute."""
    ordered = effective(events)
    if not ordered:
        return []
    moments = {event.at for event in ordered}
    at = ordered[0].at
    apart = max(EVERY, (until - at) / MOST_FRAMES)
    while at < until:
        moments.add(at)
        at += apart
    found, scene, left = [], Scene(), list(reversed(ordered))
    for moment in sorted(moments):
        while left and left[-1].at <= moment:
            event = left.pop()
            scene = apply(scene, event)
        found.append(Frame(moment, glance(scene, rig, unit, moment, tz)))
    return found


def of_events(
    events: Sequence[Event], entries: Iterable[Entry], title: str, rig: Rig, unit: str, tz: tzinfo | None
) -> Replay | None:
    """A replay of a log with what was said and told; None of an empty one."""
    said = sorted(entries, key=lambda entry: (entry.at, entry.kind != "said", entry.key))
    ordered = effective(events)
    if not ordered:
        return None
    begin = min(ordered[0].at, *(entry.at for entry in said[:1]))
    end = max(ordered[-1].at, *(entry.at for entry in said[-1:])) + timedelta(seconds=5)
    boards = frames(events, rig, unit, end, tz)
    scene = Scene()
    for event in ordered:
        scene = apply(scene, event)
    marks = tuple((words, at) for words, at in times_of(scene))
    if scene.mayday is not None:
        marks = (*marks, ("MAYDAY", scene.mayday.at))
    return Replay(title, begin, end, tuple(sorted(marks, key=lambda mark: mark[1])), tuple(boards), tuple(said))


async def choices(tx: Tx, company: str, drills: Sequence[Path]) -> list[Choice]:
    """What can be played: the company's finished incidents, the newest first, and the drills."""
    finished = [one for one in await log.latest_incidents(tx, 4 * CAN_BE_CHOSEN) if one.closed_at is not None]
    found = [
        Choice(one.id, one.id, one.opened_at, int((one.closed_at - one.opened_at).total_seconds() // 60))
        for one in finished
        if one.closed_at is not None and one.company == company
    ]
    return found[:CAN_BE_CHOSEN] + [Choice(f"drill:{number}", path.stem) for number, path in enumerate(drills)]


async def of_incident(tx: Tx, incident: str, company: str, known: Rigs, tz: tzinfo | None) -> Replay | None:
    """The replay of a finished incident of a company; None where there is no such one.

    Where there were patients, what was said and told in rooms of one person's own is left out: it may be for few.
    """
    found = await log.incident(tx, incident)
    if found is None or found.closed_at is None or found.company != company:
        return None
    events = await log.since(tx, incident)
    of_all = not fold(events).care.patients
    entries = [*await _heard(tx, incident, of_all=of_all), *await _told(tx, incident, of_all=of_all)]
    return of_events(events, entries, incident, known.of(company), company, tz)


async def _heard(tx: Tx, incident: str, *, of_all: bool) -> list[Entry]:
    query = select(inbox.c.id, inbox.c.body, inbox.c.sent_at, inbox.c.reply).where(inbox.c.incident == incident)
    if not of_all:
        query = query.where(inbox.c.room.in_(_SHARED))
    found = []
    for row in await tx.execute(query.order_by(inbox.c.id)):
        try:
            message = _MESSAGE.decode(row.body)
        except msgspec.DecodeError:
            continue
        who = message.name or message.who
        text = message.text or ("(a button)" if message.button else heard_in(row.reply) or "(spoken)")
        found.append(Entry(f"i{row.id}", "said", row.sent_at, text, who=who))
        if row.reply:
            found.append(Entry(f"r{row.id}", "reply", row.sent_at, row.reply))
    return found


async def _told(tx: Tx, incident: str, *, of_all: bool) -> list[Entry]:
    """Reminders, alerts and notices, each once however many rooms it went to."""
    query = select(outbox).where(outbox.c.incident == incident, outbox.c.kind != "reply").order_by(outbox.c.id)
    if not of_all:
        query = query.where(outbox.c.room.in_(_SHARED))
    found: dict[tuple[str, str, str], Entry] = {}
    for row in await tx.execute(query):
        at = row.due_at or row.created_at
        found.setdefault(
            (row.kind, row.name, row.text),
            Entry(f"o{row.id}", row.kind, at, row.text, name=row.name, due_at=row.due_at),
        )
    return list(found.values())


async def of_drill(path: Path, known: Rigs, tz: tzinfo) -> Replay | None:
    """A drill's script played through the pipeline in memory, as a replay. Raises FileProblem, ScriptError."""
    script = parse_script(text_of(str(path)), str(path))
    people = {utterance.who for utterance in script}
    async with Incident(known, tz, START, people) as incident:
        story = await Drill(incident).play(script, timedelta(seconds=script[-1].t_s) + AFTER_A_DRILL)
        events = list((await incident.history()).events)
    entries, seen = [], set()
    for number, one in enumerate(story):
        at = (START + timedelta(seconds=one.t_s)).astimezone(UTC)
        if isinstance(one, ScriptLine):
            entries.append(Entry(f"d{number}", "said", at, one.words, who=one.who))
        elif isinstance(one, Told) and (one.t_s, one.out.text) not in seen:
            seen.add((one.t_s, one.out.text))
            entries.append(Entry(f"d{number}", one.out.kind, at, one.out.text, name=one.out.name))
    return of_events(events, entries, path.stem, known.own, known.own_unit, tz)
