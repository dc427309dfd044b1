"""Reminders: rows kept in line with the scene, those whose time has come handed to the outbox, and the one wake-up.

Nothing counts them down. The wake-up waits on the loop's steady clock and looks at the rows every second anyway, so
that a machine whose clock is set, or that was stopped for a while, is a second late at most.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Coroutine, Iterable, Sequence
from datetime import datetime, timedelta, tzinfo
from typing import Any

import msgspec
from msgspec.structs import replace

from bot.clock import Clock
from bot.message import Button
from bot.message.directory import Directory
from bot.message.situation import House
from bot.store import outgoing, places, questions
from bot.store import reminders as rows
from bot.store.connection import Tx
from bot.store.database import Store, lock, unbroken
from bot.store.outgoing import Unsent
from bot.store.reminders import ReminderRow
from grammar.commands import Question
from handlers.outcome import Reminder
from handlers.quiet import quiet
from handlers.reminders import EXACT, REPEATED, due, overtakes, series
from handlers.rig import Rig
from handlers.rights import offered
from handlers.scene import Scene

LATE = timedelta(seconds=5)
"""From here on a message says that it is late."""
SHOWN = 4
"""So many missed times of one clock are listed one by one."""
TRIES = 3
"""An incident whose planning fails so often is planned by its next event."""
AT_ONCE = 500
"""Reminders moved to the outbox in one transaction."""
LOOK_AGAIN_S = 1.0
"""How often the rows are looked at anyway: another program may have written some, the clock may have been set."""

_LOG = logging.getLogger(__name__)
_QUESTION = msgspec.json.Decoder(Question)


async def bring_in_line(tx: Tx, incident: str, scene: Scene, rig: Rig, directory: Directory, now: datetime) -> bool:
    """Make the waiting rows what the scene asks for from `now` on, or from the oldest still owed; told stays told.

    Returns whether any has changed.
    """
    there = await rows.of_incident(tx, incident)
    waiting = {(row.room, row.key): row for row in there if row.sent_at is None}
    since = min((now, *(row.owed_at for row in waiting.values())))
    wanted: dict[tuple[str, str], ReminderRow] = {}
    for room, reminders in _by_room(due(scene, rig, since), scene, directory).items():
        told = [row for row in there if row.room == room and row.sent_at is not None]
        wanted |= {(room, row.key): row for row in _planned(incident, room, reminders, told, rig)}
    gone = [row for key, row in waiting.items() if key not in wanted]
    moved = [row for key, row in wanted.items() if key in waiting and row != waiting[key]]
    new = [row for key, row in wanted.items() if key not in waiting]
    await rows.drop(tx, gone)
    await rows.change(tx, moved)
    await rows.add(tx, new)
    return bool(gone or moved or new)


def _by_room(reminders: Iterable[Reminder], scene: Scene, directory: Directory) -> dict[str, list[Reminder]]:
    """What is for each room, with the buttons that somebody there may press."""
    by_room: dict[str, list[Reminder]] = {}
    for reminder in reminders:
        for room in directory.rooms(reminder.to):
            question = offered(reminder.question, scene, directory.leader_of(room, reminder.at))
            by_room.setdefault(room, []).append(replace(reminder, question=question))
    return by_room


def _planned(
    incident: str, room: str, reminders: list[Reminder], told: Sequence[ReminderRow], rig: Rig
) -> list[ReminderRow]:
    """What one room is still to be told, quieted."""
    told_keys = {key for row in told for key in (row.key, *row.merged.splitlines())}
    owed = {reminder.key: reminder for reminder in reminders if reminder.key not in told_keys}
    routine = [_told_at(row) for row in told if row.kind == "reminder" and row.name not in EXACT]
    planned = quiet(owed.values(), max(routine, default=None), gap_s=rig.intervals.quiet_gap_s)
    return [
        ReminderRow(
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


def _told_at(row: ReminderRow) -> datetime:
    """When a row was told: its due time, unless it was late."""
    return row.sent_at if row.sent_at is not None and row.sent_at - row.due_at > LATE else row.due_at


async def hand_over(tx: Tx, now: datetime, tz: tzinfo, limit: int) -> list[ReminderRow]:
    """Move the rows that are due to the outbox, in one transaction; returns what was moved.

    After a standstill each room is told of everything that is late, in one message.
    """
    ripe = await rows.due(tx, now, limit)
    if not ripe:
        return []
    drafts = [await _draft(tx, together, now, tz) for together in _together(ripe, now)]
    await outgoing.put(tx, drafts)
    await rows.told(tx, ripe, now)
    return ripe


async def _draft(tx: Tx, together: Sequence[ReminderRow], now: datetime, tz: tzinfo) -> Unsent:
    first, text, spoken = together[0], together[0].text, together[0].spoken
    if len(together) > 1:
        first, text, spoken = late_list(together, tz)
    asking = [row for row in together if row.question]
    return Unsent(
        room=first.room,
        incident=first.incident,
        kind="alert" if any(row.kind == "alert" for row in together) else first.kind,
        name=first.name,
        text=text,
        spoken=spoken,
        buttons=await _buttons(tx, asking[0], now) if len(asking) == 1 else (),
        created_at=now,
        due_at=first.due_at,
    )


def late_list(late: Sequence[ReminderRow], tz: tzinfo) -> tuple[ReminderRow, str, str]:
    """One message of several late reminders, each in its own words: what is still true, oldest first, then the rest.

    Of a clock that comes again and again the last telling stands for those before it, with their times. Gives the row
    that leads, the text, and what is said aloud.
    """
    place = {row.key: number for number, row in enumerate(late)}
    kinds = [(series(row.name, row.key), row) for row in late]
    newest = {of: row.key for of, row in kinds}
    true: list[ReminderRow] = []
    passed: list[ReminderRow] = []
    for of, row in kinds:
        if _told_by_a_later(row, newest[of]):
            continue
        over = any(overtakes(later, of) and place[key] > place[row.key] for later, key in newest.items())
        (passed if over else true).append(row)
    before = {
        of: [row.due_at for like, row in kinds if like == of and _told_by_a_later(row, newest[of])] for of in newest
    }
    lines = [f"{len(late)} reminders weren't told in time:"]
    for row in (*true, *passed):
        of = series(row.name, row.key)
        times = before[of] if newest[of] == row.key else []
        lines.append(f"{row.due_at.astimezone(tz):%H:%M:%S} {row.text}{_missed(times, tz)}")
    aloud = " ".join(row.spoken or row.text.partition("\n")[0] for row in true)
    return true[0], "\n".join(lines), aloud


def _told_by_a_later(row: ReminderRow, newest_key: str) -> bool:
    """Whether a telling of a clock is only one before the last; one that carries others with it isn't."""
    return row.name in REPEATED and row.key != newest_key and not row.merged


async def to_plan_anew(tx: Tx, told: Sequence[ReminderRow], now: datetime) -> list[str]:
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


async def _buttons(tx: Tx, row: ReminderRow, now: datetime) -> tuple[Button, ...]:
    if not row.question:
        return ()
    try:
        question = _QUESTION.decode(row.question)
    except msgspec.DecodeError:
        _LOG.exception("A reminder's buttons can't be read: it is told without", extra={"room": row.room})
        return ()
    number = await questions.ask(tx, question, room=row.room, who=None, incident=row.incident, now=now)
    return questions.buttons(number, question)


def _together(ripe: Sequence[ReminderRow], now: datetime) -> list[list[ReminderRow]]:
    """What is late in a room together; everything else by itself."""
    groups: dict[tuple[str, ...], list[ReminderRow]] = {}
    for row in ripe:
        late = now - row.due_at > LATE
        groups.setdefault((row.incident, row.room) if late else (row.incident, row.room, row.key), []).append(row)
    return list(groups.values())


def _missed(missed: Sequence[datetime], tz: tzinfo) -> str:
    if not missed:
        return ""
    times = [at.astimezone(tz).strftime("%H:%M:%S") for at in missed]
    if len(times) > SHOWN:
        return f" (Not told in time: the same {len(times)} times from {times[0]} to {times[-1]}.)"
    return f" (Not told in time: the same at {', '.join(times)}.)"


class Firing:
    """Call `fire` when something is due; a row or an incident that fails holds up no other."""

    def __init__(self, store: Store, house: House, clock: Clock, told: Callable[[str | None], None]) -> None:
        self._store = store
        self._house = house
        self._clock = clock
        self._told = told
        self._to_plan: dict[str, int] = {}
        """Incidents whose planning failed, and how often: tried again with the next firings."""

    async def fire(self) -> datetime | None:
        """Hand every reminder whose time has come to the outbox; returns when the next one is due."""
        while True:
            next_at = await unbroken(self._fire_some())
            if next_at is None or next_at > self._clock.now():
                return next_at

    async def _fire_some(self) -> datetime | None:
        """One transaction's worth of due reminders, and the rows that follow from them."""
        now = self._clock.now()
        async with self._store.begin() as tx:
            if not self._store.one_writer:
                for incident in await rows.incidents_due(tx, now):
                    await lock(tx, f"incident/{incident}")
            told = await hand_over(tx, now, self._house.tz, AT_ONCE)
            to_plan = set(await to_plan_anew(tx, told, now)) | self._to_plan.keys()
            for incident in sorted(to_plan):
                await self._plan(tx, incident, now)
            next_at = await rows.next_due(tx)
        for incident in {row.incident for row in told}:
            self._told(incident)
        return next_at

    async def _plan(self, tx: Tx, incident: str, now: datetime) -> None:
        """Plan an incident's reminders anew; where that fails they stay as they were, and no other waits for it."""
        failed = self._to_plan.pop(incident, 0)
        try:
            async with tx.begin_nested():
                company = await self._house.logbook.lead(tx, incident)
                history = await self._house.logbook.history(tx, incident)
                directory = Directory(await places.of_incident(tx, incident), company, self._house.crew_room)
                rig = self._house.rigs.of(company)
                await bring_in_line(tx, incident, history.scene, rig, directory, now)
        except Exception:
            _LOG.exception("Reminders couldn't be planned", extra={"incident": incident, "tries": failed + 1})
            if failed + 1 < TRIES:  # after that the incident's next event plans them
                self._to_plan[incident] = failed + 1


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
