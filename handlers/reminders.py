"""What will be told, to whom, and when: `due` is a function of the scene alone, so a restart changes no reminder.

Each kind of reminder is a small pure function `(scene, rig, since) -> reminders` in the module of its subject; `due`
collects them, then carries out what people changed (interval, snooze, stop), what a Mayday holds, and what an end cuts
off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from msgspec.structs import replace

from handlers.incident.accountability import people_reminders
from handlers.incident.air import air_reminders
from handlers.incident.clocks import HORIZON, clock_reminders, is_before, own_timers, same_second
from handlers.incident.mayday import mayday_clock
from handlers.medical.arrest import arrest_reminders
from handlers.medical.clocks import care_reminders
from handlers.outcome import Reminder
from handlers.rig import Rig
from handlers.scene import Scene, Setting
from handlers.times import duration
from handlers.water.marks import tank_reminders

Collect = Callable[[Scene, Rig, datetime], list[Reminder]]

COLLECTED: tuple[Collect, ...] = (
    tank_reminders,
    clock_reminders,
    people_reminders,
    air_reminders,
    mayday_clock,
    arrest_reminders,
    care_reminders,
    own_timers,
)
FIRE_ONLY = frozenset(
    {
        "elapsed",
        "control_check",
        "par_due",
        "par_missing",
        "turnaround",
        "alarm_expected",
        "supply_missing",
        "rit_missing",
        "rehab_due",
    }
)
EXACT = frozenset({"timer", "mayday_clock", "rhythm_check", "epi_window", "apgar", "tourniquet"})
"""Told at their second, whatever else is said: a clock that a person runs a patient, a rescue or an errand by."""

INTERVALS = {
    "elapsed": "elapsed_min",
    "control_check": "control_check_min",
    "par_due": "par_min",
    "par_missing": "par_missing_min",
    "supply_missing": "supply_missing_min",
    "rit_missing": "rit_missing_min",
    "rhythm_check": "rhythm_check_min",
    "vitals_due": "reassess_min",
    "scene_time": "scene_time_min",
    "last_known_well": "well_min",
    "tourniquet": "tourniquet_min",
    "twelve_lead": "twelve_lead_min",
}
"""Reminders whose interval a sentence can change, and the rig's setting it stands in for."""


OF_ONE_UNIT = frozenset(
    {"tank_half", "tank_quarter", "tank_minute", "tank_empty", "turnaround", "alarm_expected", "rehab_due"}
    | {"vitals_due", "last_known_well", "tourniquet", "apgar"}
)
"""Reminders about one company or crew, which is the second part of their key."""
REPEATED = frozenset(
    {"elapsed", "par_due", "mayday_clock", "rhythm_check", "vitals_due", "scene_time", "last_known_well"}
)
"""Clocks that come again and again: each telling takes the place of the one before."""
TANK_MARKS = ("tank_half", "tank_quarter", "tank_minute", "tank_empty")

JUST_TOLD = timedelta(minutes=2)
"""So long after a notice a "snooze" without a name is taken for it too."""
PERIODIC = ("elapsed", "par_due")
"""What comes again and again at its interval."""


def is_routine(reminder: Reminder) -> bool:
    """A routine notice: held in a Mayday, at most one a minute in a room."""
    return reminder.kind == "reminder" and reminder.name not in EXACT


def series(name: str, key: str) -> tuple[str, str]:
    """What tellings of the same thing share: two crews' reminders, or two people's timers, are never one thing."""
    if name in OF_ONE_UNIT:
        return name, key.split("/")[1] if "/" in key else ""
    return (name, key) if name == "timer" else (name, "")


def overtakes(later: tuple[str, str], earlier: tuple[str, str]) -> bool:
    """Whether one series' telling makes another's, told before it, no longer true: a tank's later mark does."""
    (name, unit), (before, of) = later, earlier
    if before not in TANK_MARKS or name not in TANK_MARKS or unit != of:
        return False
    return TANK_MARKS.index(name) > TANK_MARKS.index(before)


def moved(reminder: Reminder, at: datetime) -> Reminder:
    """A routine notice that leaves later than it fell due says how long ago that was, and "now" no more."""
    fell_due = reminder.fell_due or reminder.at
    text = reminder.text.removesuffix(_ago(reminder.at - fell_due)).replace(" expected now", " was expected")
    if at - fell_due < timedelta(seconds=1):
        return replace(reminder, at=at)
    return replace(reminder, at=at, fell_due=fell_due, text=text + _ago(at - fell_due), spoken="")


def _ago(late: timedelta) -> str:
    return f" ({duration(late.total_seconds())} ago)"


def due(scene: Scene, rig: Rig, now: datetime) -> tuple[Reminder, ...]:
    """The reminders from the second of `now` on, in the order of their time; periodic ones some hours ahead.

    A reminder's key stands for one telling of it. Whoever keeps the reminders passes as `now` the present, or the time
    of the oldest reminder that is still owed if that is earlier, and leaves out the keys that were told; plan anew
    after each event and each telling.
    """
    found = _by_interval(scene, rig, now)
    if scene.kind == "medical":
        found = [reminder for reminder in found if reminder.name not in FIRE_ONLY]
    found = _as_people_changed(found, scene)
    found = _held_in_mayday(found, scene)
    second = same_second(now)
    wanted = [
        reminder
        for reminder in found
        if reminder.at >= second and (reminder.name == "timer" or is_before(reminder.at, scene.closed_at))
    ]
    return tuple(sorted(wanted, key=lambda reminder: (reminder.at, reminder.key)))


def _collected(scene: Scene, rig: Rig, since: datetime) -> list[Reminder]:
    second = same_second(since)
    found = (reminder for collect in COLLECTED for reminder in collect(scene, rig, since))
    return [reminder for reminder in found if reminder.at >= second]


def _looked_back(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """What fell due before `now`, where a snooze or a Mayday has put it off until now or later."""
    second = same_second(now)
    ends = [setting.snoozed_until for setting in scene.settings.values()]
    ends.append(scene.mayday.cleared_at if scene.mayday is not None else None)
    if scene.opened_at is None or not any(end is not None and end >= second for end in ends):
        return []
    since = max(scene.opened_at, now - HORIZON)
    return [reminder for reminder in _collected(scene, rig, since) if reminder.at < second]


def _by_interval(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """All that falls due; a changed interval counts from when it was changed, so it makes nothing due before that."""
    changed = _with_intervals(rig, scene)
    found = [*_looked_back(scene, changed, now), *_collected(scene, changed, now)]
    begun = {name: scene.settings[name].minutes_at for name in PERIODIC if name in scene.settings}
    own = _keys(scene, rig, now) if any(begun.values()) else set()
    return [r for r in found if (at := begun.get(r.name)) is None or r.at >= at or r.key in own]


def _keys(scene: Scene, rig: Rig, now: datetime) -> set[str]:
    """The keys of what is due by the rig's own intervals."""
    return {reminder.key for reminder in (*_looked_back(scene, rig, now), *_collected(scene, rig, now))}


def _with_intervals(rig: Rig, scene: Scene) -> Rig:
    changed = {
        INTERVALS[name]: setting.minutes
        for name, setting in scene.settings.items()
        if setting.minutes is not None and name in INTERVALS
    }
    return replace(rig, intervals=replace(rig.intervals, **changed)) if changed else rig


def _settings(reminder: Reminder, scene: Scene) -> list[Setting]:
    """What people changed about this reminder: by its name, and by "all" where it is routine."""
    names = (reminder.name, "all") if is_routine(reminder) else (reminder.name,)
    return [scene.settings[name] for name in names if name in scene.settings]


def _as_people_changed(found: list[Reminder], scene: Scene) -> list[Reminder]:
    """Stopped ones left out. A snooze leaves out what falls in it; its end tells the last of each series again.

    A snooze of all takes up what fell due in it or just before: what was told long ago isn't told again.
    """
    kept: list[Reminder] = []
    again: dict[tuple[tuple[str, str], datetime, tuple[str, ...]], Reminder] = {}
    for reminder in sorted(found, key=lambda reminder: reminder.at):
        settings = _settings(reminder, scene)
        if any(s.stopped_at is not None and not is_before(reminder.at, s.stopped_at) for s in settings):
            continue
        snoozed = [s for s in settings if s.snoozed_at and s.snoozed_until and reminder.at < s.snoozed_until]
        if not snoozed:
            kept.append(reminder)
            continue
        until = max(s.snoozed_until for s in snoozed if s.snoozed_until)
        begun = min(s.snoozed_at for s in snoozed if s.snoozed_at)
        if reminder.at < begun:
            kept.append(reminder)
        long_told = reminder.at < begun - JUST_TOLD and all(s.name == "all" for s in snoozed)
        if reminder.name != "elapsed" and not long_told:
            key = f"{reminder.key}/snoozed/{until.timestamp():.0f}"
            again[series(reminder.name, reminder.key), until, reminder.to] = replace(moved(reminder, until), key=key)
    return [*kept, *_still_true(again.values(), kept)]


def _held_in_mayday(found: list[Reminder], scene: Scene) -> list[Reminder]:
    """Routine ones that fall in a Mayday wait for its end: the last of each series; `elapsed` is never moved."""
    mayday = scene.mayday
    if mayday is None:
        return found
    begun = same_second(mayday.at)
    kept: list[Reminder] = []
    waiting: dict[tuple[tuple[str, str], tuple[str, ...]], Reminder] = {}
    for reminder in sorted(found, key=lambda reminder: reminder.at):
        outside = reminder.at < begun or (mayday.cleared_at is not None and reminder.at >= mayday.cleared_at)
        if outside or not is_routine(reminder):
            kept.append(reminder)
        elif mayday.cleared_at is not None and reminder.name != "elapsed":
            waiting[series(reminder.name, reminder.key), reminder.to] = moved(reminder, mayday.cleared_at)
    return [*kept, *_still_true(waiting.values(), kept)]


def _still_true(waiting: Iterable[Reminder], kept: list[Reminder]) -> list[Reminder]:
    """A tank mark that waited is left out when the next one of that tank was told meanwhile."""
    waiting = list(waiting)
    told = [(series(reminder.name, reminder.key), reminder.at) for reminder in (*kept, *waiting)]
    return [
        reminder
        for reminder in waiting
        if not any(at <= reminder.at and overtakes(later, series(reminder.name, reminder.key)) for later, at in told)
    ]
