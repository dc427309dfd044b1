"""Breathing air of a crew inside: rate from two gauge readings, expected alarm, turnaround; and the crews' air
reminders.

Everything here is an estimate that is linear in pressure; a real cylinder departs from it by several percent. The
crew's own gauges and low-air alarms decide. Sources: rated minutes are at 40 L/min (42 CFR 84.95 with 84.88(b)); low-
air alarm at 33 % (NFPA 1981-2013 table as published); the lowest gauge of a crew rules (common practice); turnaround
(start + alarm)/2 (common practice).
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import AirTime, Choice, Question
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.outcome import Answer, Outcome, Reminder, Said
from handlers.rig import Rig
from handlers.rigfile.sections import Cylinder
from handlers.scene import Crew, Gauge, Scene
from handlers.times import clock, unit_name
from handlers.words import Words

SHORTEST_INTERVAL = timedelta(minutes=1)  # closer readings give no rate: the gauge's marks are coarser than the fall
RATED_LPM = 40.0
"""At what a cylinder's rated minutes are measured (42 CFR 84.95 with 84.88 (b)): no alarm is expected later."""
BREATHES_LPM = 20.0
"""Nobody at work in a mask breathes less (from memory): a gauge that falls slower is asked about."""
CAUTION = "Estimate: the crew's own gauges and low-air alarms decide."


class AirTimes(Answer, frozen=True):
    """Answer of `air_time`: minutes from the last reading, and the turnaround pressure."""

    minutes_to_alarm: float
    minutes_to_empty: float
    turnaround_psi: float


class CrewAir(Answer, frozen=True):
    """Answer of `entry`, `air_reading`, `coming_out` and `exit`."""

    unit: str
    count: int | None = None
    gauge_psi: float | None = None
    turnaround_psi: float | None = None
    alarm_expected_at: datetime | None = None
    rate_psi_min: float | None = None
    inside_s: float | None = None


def cylinder_for(rig: Rig, gauge_psi: float | None = None, full_psi: float | None = None) -> Cylinder:
    """The rig's own cylinder, or the known one with that full pressure (or the smallest that can show that gauge)."""
    words = Words.of(rig)
    own = rig.air.cylinders[0]
    if full_psi is not None:
        near = [c for c in rig.air.cylinders if abs(c.pressure_psi - full_psi) <= 0.02 * c.pressure_psi]
        if not near:
            known = ", ".join(f"{words.gauge_bare(c.pressure_psi)}" for c in rig.air.cylinders)
            origin = rig.origin("air.cylinders")
            raise Refusal(
                f"A {words.gauge(full_psi)} cylinder isn't known here; known are {known} {words.gauge_unit} ({origin})."
            )
        return near[0]
    if gauge_psi is not None and gauge_psi > own.pressure_psi * 1.1:
        raise Refusal(
            f"{words.gauge(gauge_psi)} is more than a full {words.gauge(own.pressure_psi)} cylinder holds: "
            "read it again."
        )
    return own


def named(cylinder: Cylinder, rig: Rig) -> str:
    words = Words.of(rig)
    full, alarm = cylinder.pressure_psi, cylinder.alarm_psi
    return f"{words.gauge(full)}, {cylinder.rated_min:.0f}-minute cylinder, alarm {words.gauge(alarm)}"


def _whole(minutes: float) -> int:
    return math.floor(minutes + 1e-9)


def turnaround_psi(start_psi: float, alarm_psi: float, step_psi: float) -> float:
    """Pressure at which to turn around at the latest: (start + alarm)/2, rounded up to `step_psi` (0: not rounded)."""
    middle = (start_psi + alarm_psi) / 2
    return math.ceil(middle / step_psi - 1e-9) * step_psi if step_psi > 0 else middle


def rate_from_table(cylinder: Cylinder, rate_lpm: float) -> float:
    """Pressure drop in psi a minute of a person who breathes `rate_lpm` litres of free air a minute."""
    return rate_lpm * cylinder.pressure_psi / cylinder.air_l


def measured_rate(gauges: tuple[Gauge, ...]) -> float | None:
    """Drop in psi a minute by this entry's gauges: the faster of the last interval and the whole; None if unknown."""
    rates = []
    earlier = [gauge for gauge in gauges[:-1] if gauges[-1].at - gauge.at >= SHORTEST_INTERVAL]
    for first in (*earlier[:1], *earlier[-1:]):
        drop = first.psi - gauges[-1].psi
        if drop > 0:
            rates.append(drop / ((gauges[-1].at - first.at).total_seconds() / 60))
    return max(rates, default=None)


def never_slower(rate_psi_min: float, cylinder: Cylinder) -> float:
    """The rate to reckon by: the measured one, or that of the cylinder's rating where the measured one is slower."""
    return max(rate_psi_min, rate_from_table(cylinder, RATED_LPM))


def doubt(first: Gauge, last: Gauge, cylinder: Cylinder, words: Words) -> str | None:
    """Why two readings can't be of one cylinder that somebody breathes from; None where they can."""
    drop, took = first.psi - last.psi, (last.at - first.at).total_seconds() / 60
    if drop < 0:
        return f"{words.gauge(last.psi)} after {words.gauge_bare(first.psi)}: a gauge doesn't rise"
    if took * 60 < SHORTEST_INTERVAL.total_seconds() or drop / took >= rate_from_table(cylinder, BREATHES_LPM) - 1e-9:
        return None
    lpm = drop / took * cylinder.air_l / cylinder.pressure_psi
    return (
        f"{words.gauge_bare(first.psi)} to {words.gauge(last.psi)} in {took:.0f} min is {lpm:.0f} L/min, slower than "
        f"people breathe ({BREATHES_LPM:.0f} L/min)"
    )


def minutes_until(psi: float, gauge_psi: float, rate_psi_min: float) -> float:
    """Minutes until the gauge falls to `psi`; 0 when it is there already."""
    return max(0.0, (gauge_psi - psi) / rate_psi_min)


def range_text(cylinder: Cylinder, gauge_psi: float, rates_lpm: tuple[float, ...]) -> str:
    """Minutes to the alarm at each breathing rate, the shortest first, rounded down."""
    parts = []
    for lpm in sorted(rates_lpm, reverse=True):
        left = minutes_until(cylinder.alarm_psi, gauge_psi, rate_from_table(cylinder, lpm))
        parts.append(f"{_whole(left)} at {lpm:.0f}")
    return "To the alarm, in minutes by breathing rate in L/min: " + ", ".join(parts) + "."


# --- a calculation by itself


@handle.register
def air_time(command: AirTime, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Air by two readings, or a range from the book's breathing rates."""
    words = Words.of(rig)
    crew = scene.crews.get(command.unit or said.unit)
    if command.gauge_psi is None and command.start_psi is None and crew is not None and crew.inside and crew.gauges:
        return told_of_crew(crew, rig, said, "air_time")
    gauge = command.gauge_psi if command.gauge_psi is not None else command.start_psi
    cylinder = cylinder_for(rig, gauge, command.cylinder_psi)
    if command.rated_min is not None:
        cylinder = rated(rig, cylinder, command.rated_min)
    start = command.start_psi if command.start_psi is not None else cylinder.pressure_psi
    assumed = [named(cylinder, rig)]
    turn = turnaround_psi(start, cylinder.alarm_psi, rig.air.turnaround_round_psi)
    if command.gauge_psi is not None and command.minutes is not None:
        if command.minutes <= 0:
            raise Refusal("The minutes between the two readings must be more than zero.")
        gauge = command.gauge_psi
        later = Gauge(said.at + timedelta(minutes=command.minutes), gauge)
        why = doubt(Gauge(said.at, start), later, cylinder, words)
        if why is not None and not command.sure:
            return Outcome(intent=command.intent, question=_asked_again(command, why, start, gauge, words))
        measured = (start - gauge) / command.minutes
        rate = never_slower(measured, cylinder)
        how = (
            f"{words.gauge_bare(start)} to {words.gauge(gauge)} in {command.minutes:g} min = "
            f"{_rate_text(measured, rate, words)}.",
        )
        if command.start_psi is None:
            assumed.append(f"first reading {words.gauge(start)} (full)")
    else:
        gauge = gauge if gauge is not None else cylinder.pressure_psi
        lpm = command.rate_lpm or max(rig.air.rates_lpm)
        rate = rate_from_table(cylinder, lpm)
        how = (range_text(cylinder, gauge, (lpm,) if command.rate_lpm else rig.air.rates_lpm),)
        assumed.append(
            f"no second reading: {lpm:.0f} L/min" + ("" if command.rate_lpm else ", the highest of the book's rates")
        )
    alarm, empty = minutes_until(cylinder.alarm_psi, gauge, rate), minutes_until(0, gauge, rate)
    lead = f"Alarm expected in about {_whole(alarm)} min, empty in about {_whole(empty)}, from the last reading."
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=(*how, f"Turn around at the latest at {words.gauge_up(turn)}."),
        spoken=f"Alarm in about {_whole(alarm)} minutes. Turn around by {words.gauge_up(turn)}.",
        answer=AirTimes(
            minutes_to_alarm=alarm,
            minutes_to_empty=empty,
            turnaround_psi=turnaround_psi(start, cylinder.alarm_psi, 0),
        ),
        assumed=tuple(assumed),
        cautions=(CAUTION,),
    )


def _asked_again(command: AirTime, why: str, start: float, gauge: float, words: Words) -> Question:
    """Two readings in doubt: taken as read, or only the later one."""
    lower = replace(command, start_psi=min(start, gauge), gauge_psi=None, minutes=None)
    as_read = (Choice("as read", (replace(command, sure=True),)),) if gauge < start else ()
    choices = (*as_read, Choice(f"from {words.gauge(min(start, gauge))} alone", (lower,)), Choice("I read them again"))
    return Question(f"{why}. How is it to be taken?", choices)


def _rate_text(measured: float, used: float, words: Words) -> str:
    """The measured rate, and that it is reckoned faster where it is slower than the cylinder's rating."""
    text = f"{words.gauge(measured)} a minute"
    return text if used <= measured else f"{text}, reckoned at {words.gauge_bare(used)} ({RATED_LPM:.0f} L/min)"


def rated(rig: Rig, cylinder: Cylinder, rated_min: float) -> Cylinder:
    """A known cylinder of the same pressure with these rated minutes, or one reckoned at 40 L/min (42 CFR 84.95)."""
    for known in rig.air.cylinders:
        if known.pressure_psi == cylinder.pressure_psi and known.rated_min == rated_min:
            return known
    return Cylinder(
        pressure_psi=cylinder.pressure_psi, rated_min=rated_min, air_l=40 * rated_min, alarm_psi=cylinder.alarm_psi
    )


# --- crews inside


def cylinder_of(crew: Crew, rig: Rig) -> Cylinder:
    """The cylinder that a crew went in with."""
    cylinder = cylinder_for(rig, None, crew.cylinder_psi)
    return cylinder if crew.rated_min is None else rated(rig, cylinder, crew.rated_min)


def told_of_crew(crew: Crew, rig: Rig, said: Said, intent: str) -> Outcome:
    """What a crew's readings say, led by the number that matters now."""
    words = Words.of(rig)
    cylinder = cylinder_of(crew, rig)
    last = crew.gauges[-1]
    turn, expected, rate, _measured = outlook(crew, rig)
    name = unit_name(crew.crew)
    if last.psi <= cylinder.alarm_psi:
        lead = f"{name} at {words.gauge(last.psi)}: at or below the alarm, on the reserve."
    elif last.psi <= turn:
        lead = f"{name} at {words.gauge(last.psi)}: at or below the turnaround of {words.gauge_up_bare(turn)}."
    else:
        alarm = f"Alarm about {clock(expected, said.tz)}"
        lead = f"{name} at {words.gauge(last.psi)}. {alarm}, turn around by {words.gauge_up_bare(turn)}."
    by_gauges = measured_rate(crew.gauges)
    basis = (
        f"{_rate_text(by_gauges, rate, words).replace(' a minute', ' a minute by the gauges')}"
        if by_gauges is not None
        else f"{max(rig.air.rates_lpm):.0f} L/min, no fall measured yet"
    )
    to_alarm = minutes_until(cylinder.alarm_psi, last.psi, rate)
    to_empty = minutes_until(0, last.psi, rate)
    how = f"At {basis}: alarm about {_whole(to_alarm)} min, empty about {_whole(to_empty)} min after it."
    exact = turnaround_psi(started_at(crew, cylinder), cylinder.alarm_psi, 0)
    answer: Answer
    if intent == "air_time":
        answer = AirTimes(minutes_to_alarm=to_alarm, minutes_to_empty=to_empty, turnaround_psi=exact)
    else:
        answer = CrewAir(
            unit=crew.crew,
            count=crew.count,
            gauge_psi=last.psi,
            turnaround_psi=exact,
            alarm_expected_at=expected,
            rate_psi_min=by_gauges,
            inside_s=(last.at - crew.entered_at).total_seconds() if crew.entered_at else None,
        )
    return Outcome(intent=intent, lead=lead, how=(how,), answer=answer, cautions=(CAUTION,))


def started_at(crew: Crew, cylinder: Cylinder) -> float:
    """The pressure at entry: the gauge said then, else a full cylinder; a later reading is no start."""
    first = crew.gauges[0] if crew.gauges else None
    at_entry = first is not None and crew.entered_at is not None and first.at <= crew.entered_at
    return first.psi if first is not None and at_entry else cylinder.pressure_psi


def outlook(crew: Crew, rig: Rig) -> tuple[float, datetime, float, bool]:
    """A crew's turnaround pressure, when its alarm is expected, its psi a minute, and whether that was measured.

    Without a reading it is reckoned from a full cylinder at entry, at the highest of the rig's breathing rates.
    """
    cylinder = cylinder_of(crew, rig)
    if crew.gauges:
        last = crew.gauges[-1]
    elif crew.entered_at is not None:
        last = Gauge(at=crew.entered_at, psi=cylinder.pressure_psi)
    else:
        raise ValueError("a crew without an entry has no air clock")
    measured = measured_rate(crew.gauges)
    highest = rate_from_table(cylinder, max(rig.air.rates_lpm))
    used = never_slower(measured, cylinder) if measured is not None else highest
    turn = turnaround_psi(started_at(crew, cylinder), cylinder.alarm_psi, rig.air.turnaround_round_psi)
    expected = last.at + timedelta(minutes=minutes_until(cylinder.alarm_psi, last.psi, used))
    return turn, expected, used, measured is not None


def air_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`turnaround` and `alarm_expected` of every crew inside, from its entry and its readings."""
    words = Words.of(rig)
    found = []
    for crew in scene.crews_inside:
        cylinder = cylinder_of(crew, rig)
        turn, alarm_at, rate, measured = outlook(crew, rig)
        last = crew.gauges[-1] if crew.gauges else Gauge(at=crew.entered_at or now, psi=cylinder.pressure_psi)
        turn_at = last.at + timedelta(minutes=minutes_until(turn, last.psi, rate))
        basis = "by its gauges" if measured else "at the highest breathing rate"
        to = ("officer", crew.crew)
        name = unit_name(crew.crew)
        entered = (crew.entered_at or now).isoformat()
        key = f"{crew.crew}/{entered}/{len(crew.gauges)}"  # a new reading plans both anew
        if last.psi > turn:
            text = (
                f"{name}: turnaround pressure {words.gauge_up(turn)} expected now, {basis}. Ask for the lowest gauge."
            )
            found.append(Reminder(key=f"turnaround/{key}", name="turnaround", at=turn_at, to=to, text=text))
        if last.psi > cylinder.alarm_psi:
            text = (
                f"{name}: low-air alarm ({words.gauge(cylinder.alarm_psi)}) expected now, {basis}. The gauges decide."
            )
            found.append(Reminder(key=f"alarm_expected/{key}", name="alarm_expected", at=alarm_at, to=to, text=text))
    return found
