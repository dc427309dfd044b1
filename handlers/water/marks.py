"""The tank's marks: when it passes half, a quarter, its last minute and calculated empty, by the true flow history."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import msgspec
from msgspec.structs import replace

from handlers.incident.clocks import is_before
from handlers.outcome import Audience, Kind, Reminder
from handlers.rig import Rig
from handlers.scene import Pump, Reach, Scene
from handlers.times import duration, spoken_duration, unit_name
from handlers.words import Words


class Passing(msgspec.Struct, frozen=True):
    """A level that the tank passes (or will, as things flow now)."""

    at: datetime
    left_s: float | None
    """Seconds of tank left then; None when nothing flows."""
    reach: Reach
    """The reach in which it happens."""

    @property
    def flow_gpm(self) -> float:
        return self.reach.flow_gpm

    @property
    def known_late(self) -> bool:
        """Whether it had passed already when the reach was told (a past time, a correction)."""
        return self.at < self.reach.logged_at

    def when_told(self) -> Passing:
        """The same, at the moment from which it can be told: what was told late is never told in the past."""
        if not self.known_late:
            return self
        late_s = (self.reach.logged_at - self.at).total_seconds()
        left = max(0.0, self.left_s - late_s) if self.left_s is not None else None
        return replace(self, at=self.reach.logged_at, left_s=left)


def _with_next(course: tuple[Reach, ...]) -> Iterator[tuple[Reach, Reach | None]]:
    yield from zip(course, (*course[1:], None), strict=False)


def passing(course: tuple[Reach, ...], level_gal: float) -> Passing | None:
    """The first time in this tankful that the tank falls to `level_gal`; None when it doesn't (or began below)."""
    for reach, following in _with_next(course):
        if reach.before_gal > level_gal >= reach.gal:
            return Passing(reach.at, reach.left_s, reach)
        if reach.gal <= level_gal or reach.flow_gpm <= 0:
            continue
        if following is None or following.before_gal <= level_gal:
            at = reach.at + timedelta(minutes=(reach.gal - level_gal) / reach.flow_gpm)
            if following is not None and following.flow_gpm <= 0 and not is_before(at, following.at):
                continue  # stopped in the same second
            return Passing(at, level_gal / reach.flow_gpm * 60.0, reach)
    return None


def last_minutes(course: tuple[Reach, ...], minute_s: float) -> list[Passing]:
    """Each time the time left falls to `minute_s`, by pumping or as a line opens; armed again when it rises."""
    found = []
    under = False
    for reach, following in _with_next(course):
        left = reach.left_s
        if left is None or left > minute_s:
            under = False
        if left is None or left <= 0 or under:
            continue
        wait = max(0.0, left - minute_s)
        at = reach.at + timedelta(seconds=wait)
        stops = following is not None and following.flow_gpm <= 0
        if following is None or (is_before(at, following.at) if stops else at < following.at):
            found.append(Passing(at, left - wait, reach))
            under = True
    return found


def tank_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`tank_half`, `tank_quarter`, `tank_minute` and `tank_empty` of every pump; none while it is on another source."""
    return [reminder for pump in scene.pumps.values() for reminder in _of_pump(pump, rig, scene.amended)]


def _of_pump(pump: Pump, rig: Rig, amended: tuple[datetime, ...]) -> Iterator[Reminder]:
    own = pump.unit == rig.name.casefold()
    driver: Audience = ("driver",) if own else (pump.unit,)
    everyone = (*driver, "crew")
    whose = "Tank" if own else f"{unit_name(pump.unit)}'s tank"
    words = Words.of(rig)
    marks = rig.intervals

    def reminder(
        name: str, passed: Passing, to: Audience, text: str, kind: Kind = "reminder", spoken: str = ""
    ) -> Reminder:
        key = f"{name}/{pump.unit}/{pump.tankful}"
        if name == "tank_minute":
            key += f"/{passed.reach.seq}"
        before = sum(at <= passed.at for at in amended)
        return Reminder(
            key=f"{key}/{before}" if before else key,
            name=name,
            at=passed.at,
            to=to,
            text=text,
            kind=kind,
            spoken=spoken,
        )

    levels = (
        ("tank_half", "half", marks.tank_half_share, driver),
        ("tank_quarter", "a quarter", marks.tank_quarter_share, everyone),
    )
    for name, word, share, to in levels:
        level = share * pump.usable_gal
        passed = passing(pump.course, level)
        if (
            passed is not None
            and not passed.known_late
            and (passed.left_s is None or passed.left_s >= marks.tank_skip_under_s)
        ):
            left = f" {spoken_duration(passed.left_s)} left." if passed.left_s is not None else ""
            yield reminder(
                name,
                passed,
                to,
                f"{whose} at {word}: {words.gal(level)}{_left(passed, words)}.",
                spoken=f"{whose} at {word}.{left}",
            )
    for passed in (mark.when_told() for mark in last_minutes(pump.course, marks.tank_minute_s)):
        if not passed.left_s:
            continue
        left = f"{whose}: {duration(passed.left_s)} left at {words.gpm(passed.flow_gpm)}."
        yield reminder(
            "tank_minute", passed, everyone, left, "alert", f"{whose}: {spoken_duration(passed.left_s)} left."
        )
    empty = passing(pump.course, 0.0)
    if empty is not None:
        yield reminder(
            "tank_empty", empty.when_told(), everyone, f"{whose} calculated empty: check the gauge.", "alert"
        )


def _left(passed: Passing, words: Words) -> str:
    return f", {duration(passed.left_s)} left at {words.gpm(passed.flow_gpm)}" if passed.left_s is not None else ""
