"""The incident's two clocks and what they remind of: `elapsed`, `control_check`, `par_due`, `supply_missing`, timers.

*Duration of incident* runs from the dispatch, *elapsed time on scene* from the first arrival (both as in N.J.A.C.
5:75-1.5, which counts the duration from the emergency call). Notices go on until the incident is under control (Wash.
Admin. Code 296-305-05000, note after (14): until stabilization), and one check follows after it (NIOSH F2010-38: a
collapse minutes after "under control").
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import msgspec

from grammar.commands import Choice, Par, Question, ReminderChange
from handlers.outcome import Reminder
from handlers.rig import Rig
from handlers.scene import Company, Scene, Stamp
from handlers.times import listed, minutes, unit_name

HORIZON = timedelta(hours=3)
"""How far ahead periodic reminders are planned; each telling or event plans on."""


class IncidentClock(msgspec.Struct, frozen=True):
    """A clock of the incident: since when, by which event, and whether that was reported."""

    since: datetime
    seq: int
    reported: bool = True
    logged_at: datetime | None = None

    def seconds(self, at: datetime) -> float:
        return max(0.0, (at - self.since).total_seconds())


def duration_clock(scene: Scene) -> IncidentClock | None:
    """Duration of incident, from the dispatch; None when none was logged, or only after somebody was on the scene: an
    incident is no shorter than the work at it, so that time isn't when it began.
    """
    stamp = scene.stamp("dispatched", partial=True)
    return _of_stamp(stamp) if stamp is not None and not _logged_late(stamp, scene) else None


def _logged_late(dispatch: Stamp, scene: Scene) -> bool:
    there = on_scene_clock(scene)
    return there is not None and there.since < dispatch.at


def on_scene_clock(scene: Scene) -> IncidentClock | None:
    """Elapsed time on scene, from the first reported arrival; without one, from the first thing done on the scene."""
    stamp = scene.stamp("on_scene", partial=True)
    if stamp is not None:
        return _of_stamp(stamp)
    seen = min((company.seen_at for company in scene.companies.values() if company.seen_at is not None), default=None)
    return IncidentClock(since=seen, seq=0, reported=False) if seen is not None else None


def _of_stamp(stamp: Stamp) -> IncidentClock:
    return IncidentClock(since=stamp.at, seq=stamp.seq, logged_at=stamp.logged_at)


def clocks_text(scene: Scene, at: datetime) -> str:
    """Both clocks in words, always named: "20 min on scene, 26 min since the dispatch"."""
    on_scene, incident = on_scene_clock(scene), duration_clock(scene)
    if on_scene is None:
        first = "no arrival reported"
    else:
        first = f"{minutes(on_scene.seconds(at))} on scene"
        if not on_scene.reported:
            first += " (no arrival reported: from the first thing done there)"
    return f"{first}, {_since_dispatch(scene, incident, at)}"


def _since_dispatch(scene: Scene, incident: IncidentClock | None, at: datetime) -> str:
    if incident is not None:
        return f"{minutes(incident.seconds(at))} since the dispatch"
    late = scene.stamp("dispatched", partial=True) is not None
    return "the dispatch was logged later" if late else "no dispatch time logged"


def same_second(at: datetime) -> datetime:
    return at.replace(microsecond=0)


def is_before(at: datetime, stop: datetime | None) -> bool:
    """A reminder in the same second as what stops it counts as stopped (convention 12)."""
    return stop is None or at < same_second(stop)


def ticks(
    start: datetime, every_min: float, since: datetime, stop: datetime | None = None
) -> Iterator[tuple[int, datetime]]:
    """(n, start + n·interval) for n = 1, 2 … from the second of `since` on, before `stop`, up to the horizon."""
    step = timedelta(minutes=every_min)
    first, end = same_second(since), max(since, start) + HORIZON
    number = max(1, -((start - first) // step))
    while (at := start + number * step) <= end and is_before(at, stop):
        yield number, at
        number += 1


def companies_present(scene: Scene) -> tuple[Company, ...]:
    """Companies that have arrived and not left."""
    return tuple(company for company in scene.companies.values() if company.present)


def clock_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`elapsed`, `control_check`, `par_due` and `supply_missing`, from `now` on."""
    return [
        *_elapsed(scene, rig, now),
        *_control_check(scene, rig),
        *_par_due(scene, rig, now),
        *_supply_missing(scene, rig),
    ]


def _elapsed(scene: Scene, rig: Rig, now: datetime) -> Iterator[Reminder]:
    clock = on_scene_clock(scene)
    control = scene.stamp("under_control")
    if clock is None:
        return
    every = rig.intervals.elapsed_min
    since = max(now, clock.logged_at or now)
    for number, at in ticks(clock.since, every, since, control.at if control else None):
        yield Reminder(
            key=f"elapsed/{clock.seq}/{number * every:g}",
            name="elapsed",
            at=at,
            to=("crew", "officer"),
            text=f"Elapsed: {clocks_text(scene, at)}.",
            spoken=f"{minutes(clock.seconds(at))} on scene.",
        )


def _control_check(scene: Scene, rig: Rig) -> Iterator[Reminder]:
    control = scene.stamp("under_control")
    if control is None:
        return
    wait = rig.intervals.control_check_min
    inside = listed([unit_name(crew.crew) for crew in scene.crews_inside])
    at = _not_before_told(control.at + timedelta(minutes=wait), control)
    since = minutes((at - control.at).total_seconds())
    yield Reminder(
        key=f"control_check/{control.seq}",
        name="control_check",
        at=at,
        to=("officer",),
        text=f"{since} since “under control”. Check conditions and crews. Logged inside: {inside or 'no one'}.",
    )


def _par_due(scene: Scene, rig: Rig, now: datetime) -> Iterator[Reminder]:
    """Until under control; after it only while a crew is inside."""
    clock = on_scene_clock(scene)
    present = companies_present(scene)
    if clock is None or not (len(present) > 1 or scene.crews_inside):
        return
    every = rig.intervals.par_min
    asked = [company.unit for company in present]
    asked += [crew.crew for crew in scene.crews_inside if crew.crew not in asked]
    own = rig.name.casefold()
    names = listed([unit_name(unit) for unit in asked])
    control = scene.stamp("under_control")
    stop = control.at if control is not None and not scene.crews_inside else None
    for number, at in ticks(clock.since, every, max(now, clock.logged_at or now), stop):
        yield Reminder(
            key=f"par_due/{clock.seq}/{number * every:g}",
            name="par_due",
            at=at,
            to=("officer", *(unit for unit in asked if unit != own)),
            text=f"PAR due ({minutes(clock.seconds(at))} on scene): ask {names}.",
            question=Question(
                text="Request PAR?",
                choices=(Choice("Request PAR", (Par(request=True),)), _snooze("par_due", rig)),
            ),
        )


def _supply_missing(scene: Scene, rig: Rig) -> Iterator[Reminder]:
    water = scene.stamp("water_on_fire", partial=True)
    supplied = scene.stamp("water_supply", partial=True) or any(not pump.on_tank for pump in scene.pumps.values())
    if water is None or supplied:
        return
    wait = rig.intervals.supply_missing_min
    expected = [pump for pump in scene.pumps.values() if pump.supply_expected_at is not None]
    at = _not_before_told(water.at + timedelta(minutes=wait), water)
    since = minutes((at - water.at).total_seconds())
    more = f" {unit_name(expected[0].supply_unit or 'a supply')} was announced." if expected else ""
    yield Reminder(
        key=f"supply_missing/{water.seq}",
        name="supply_missing",
        at=at,
        to=("officer",),
        text=f"Water on the fire for {since}, no water supply reported.{more}",
        question=Question(text="Remind again?", choices=(_snooze("supply_missing", rig), Choice("No"))),
    )


def _not_before_told(at: datetime, stamp: Stamp) -> datetime:
    """What follows from a time that was stated late is told at once, not in the past."""
    return max(at, stamp.logged_at) if stamp.logged_at is not None else at


def _snooze(name: str, rig: Rig) -> Choice:
    wait = rig.intervals.snooze_min
    return Choice(f"Snooze {wait:g} min", (ReminderChange(action="snooze", name=name, minutes=wait),))


def own_timers(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """Timers that people set for themselves, told in the room where they were set."""
    return [
        Reminder(
            key=f"timer/{timer.seq}",
            name="timer",
            at=timer.due_at,
            to=(timer.room or timer.role or timer.who,),
            text=f"Timer: {timer.label}.",
        )
        for timer in scene.timers
    ]
