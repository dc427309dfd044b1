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

from grammar.commands import AirReading, AirTime, Entry, Exit
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import AirRead, CrewEntered, CrewLeft, UnitJoined
from handlers.outcome import Answer, Dated, Notice, Outcome, Reminder, Said
from handlers.rig import Rig
from handlers.rigfile.sections import Cylinder
from handlers.scene import Crew, Gauge, Scene
from handlers.times import clock, stated, unit_name
from handlers.words import Words

SHORTEST_INTERVAL = timedelta(minutes=1)  # closer readings give no rate: the gauge's marks are coarser than the fall
CAUTION = "Estimate: the crew's own gauges and low-air alarms decide."


class AirTimes(Answer, frozen=True):
    """Answer of `air_time`: minutes from the last reading, and the turnaround pressure."""

    minutes_to_alarm: float
    minutes_to_empty: float
    turnaround_psi: float


class CrewAir(Answer, frozen=True):
    """Answer of `entry`, `air_reading` and `exit`."""

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
            raise Refusal(
                f"A {words.gauge(full_psi)} cylinder isn't in the rig file; it knows {known} {words.gauge_unit}."
            )
        return near[0]
    if gauge_psi is not None and gauge_psi > own.pressure_psi * 1.1:
        raise Refusal(
            f"{words.gauge(gauge_psi)} is more than a full {words.gauge(own.pressure_psi)} cylinder holds: "
            "read it again."
        )
    return own


def _named(cylinder: Cylinder, rig: Rig) -> str:
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
        return _told(crew, rig, said, "air_time")
    gauge = command.gauge_psi if command.gauge_psi is not None else command.start_psi
    cylinder = cylinder_for(rig, gauge, command.cylinder_psi)
    if command.rated_min is not None:
        cylinder = _rated(rig, cylinder, command.rated_min)
    start = command.start_psi if command.start_psi is not None else cylinder.pressure_psi
    assumed = [_named(cylinder, rig)]
    turn = turnaround_psi(start, cylinder.alarm_psi, rig.air.turnaround_round_psi)
    if command.gauge_psi is not None and command.minutes is not None:
        if command.minutes <= 0:
            raise Refusal("The minutes between the two readings must be more than zero.")
        if command.gauge_psi >= start:
            raise Refusal(
                f"The gauge didn't fall ({words.gauge_bare(start)} to {words.gauge(command.gauge_psi)}): "
                "no rate can be had from that."
            )
        rate = (start - command.gauge_psi) / command.minutes
        gauge = command.gauge_psi
        how = (
            f"{words.gauge_bare(start)} to {words.gauge(gauge)} in {command.minutes:g} min = "
            f"{words.gauge(rate)} a minute.",
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


def _rated(rig: Rig, cylinder: Cylinder, rated_min: float) -> Cylinder:
    """A known cylinder of the same pressure with these rated minutes, or one reckoned at 40 L/min (42 CFR 84.95)."""
    for known in rig.air.cylinders:
        if known.pressure_psi == cylinder.pressure_psi and known.rated_min == rated_min:
            return known
    return Cylinder(
        pressure_psi=cylinder.pressure_psi, rated_min=rated_min, air_l=40 * rated_min, alarm_psi=cylinder.alarm_psi
    )


# --- crews inside


@handle.register
def entry(command: Entry, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew goes in: its air clock starts with its lowest gauge."""
    words = Words.of(rig)
    unit = command.unit or said.unit
    cylinder = cylinder_for(rig, command.gauge_psi)
    at = stated(command.time, said.at, said.tz)
    before = scene.crews.get(unit)
    if before is not None and before.inside and command.gauge_psi is not None:
        return air_reading(
            AirReading(gauge_psi=command.gauge_psi, unit=command.unit, time=command.time), scene, rig, said
        )
    count = command.count or (scene.companies[unit].staffing if unit in scene.companies else None)
    body = CrewEntered(
        crew=unit,
        count=count,
        gauge_psi=command.gauge_psi,
        cylinder_psi=cylinder.pressure_psi,
        rated_min=cylinder.rated_min,
        place=command.place,
        task=command.task,
    )
    gauge = command.gauge_psi if command.gauge_psi is not None else cylinder.pressure_psi
    turn = turnaround_psi(gauge, cylinder.alarm_psi, rig.air.turnaround_round_psi)
    shortest = minutes_until(cylinder.alarm_psi, gauge, rate_from_table(cylinder, max(rig.air.rates_lpm)))
    expected = at + timedelta(minutes=shortest)
    people = f" with {count}" if count else ""
    where = f", {command.place}" if command.place else ""
    lead = f"{unit_name(unit)} inside{people}{where}, {clock(at, said.tz)}. Logged."
    how = [
        f"Turn around at the latest at {words.gauge_up(turn)}. Alarm as early as {clock(expected, said.tz)}.",
        range_text(cylinder, gauge, rig.air.rates_lpm),
    ]
    assumed = [_named(cylinder, rig)]
    cautions = [CAUTION]
    if command.gauge_psi is None:
        assumed.append(f"no gauge was said: reckoned from a full {words.gauge(cylinder.pressure_psi)}")
        cautions.append(f"Say the crew's lowest gauge: “{unit or 'crew'} lowest gauge {words.gauge_bare(4300)}”.")
    joined = (
        () if unit in scene.companies or not unit else (Dated(UnitJoined(unit=unit, staffing=command.count), at=at),)
    )
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        answer=CrewAir(
            unit=unit,
            count=count,
            gauge_psi=command.gauge_psi,
            turnaround_psi=turn,
            alarm_expected_at=expected,
            inside_s=0.0,
        ),
        assumed=tuple(assumed),
        cautions=tuple(cautions),
        events=(*joined, Dated(body, at=at, unit=unit)),
        opens=True,
    )


@handle.register
def air_reading(command: AirReading, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A later reading of a crew inside: rate, expected alarm, turnaround."""
    words = Words.of(rig)
    unit = command.unit or _only_inside(scene) or said.unit
    crew = scene.crews.get(unit)
    if command.low_air_alarm and (not command.gauge_psi or crew is None or not crew.inside):
        return _low_air(unit, crew, stated(command.time, said.at, said.tz), said)
    if command.gauge_psi is None:
        raise Refusal(f"What does the lowest gauge of {unit_name(unit)} read?")
    if crew is None or not crew.inside:
        raise Refusal(
            f"{unit_name(unit)} isn't logged inside. Say “{unit or 'crew'} entering, "
            f"{words.gauge_bare(command.gauge_psi)}” first."
        )
    cylinder = cylinder_for(rig, command.gauge_psi, crew.cylinder_psi)
    at = stated(command.time, said.at, said.tz)
    if command.gauge_psi > cylinder.pressure_psi * 1.1:
        raise Refusal(f"{words.gauge(command.gauge_psi)} is more than a full cylinder holds: read the gauge again.")
    if crew.gauges and command.gauge_psi > crew.gauges[-1].psi:
        raise Refusal(
            f"{words.gauge(command.gauge_psi)} is above the last reading of {words.gauge(crew.gauges[-1].psi)}. "
            "If the cylinders were changed, log the crew out and in again."
        )
    body = AirRead(crew=unit, gauge_psi=command.gauge_psi, low_air_alarm=command.low_air_alarm)
    after = _with_reading(crew, Gauge(at=at, psi=command.gauge_psi))
    told = _told(after, rig, said, command.intent)
    return _with_events(told, (Dated(body, at=at, unit=unit),), low_air=command.low_air_alarm, crew=unit)


def _low_air(unit: str, crew: Crew | None, at: datetime, said: Said) -> Outcome:
    """A low-air alarm without a gauge: logged and told to the officer; it gives no rate."""
    text = f"LOW-AIR ALARM, {unit_name(unit)}, {clock(at, said.tz)}: on the reserve."
    unknown = (f"No entry of {unit_name(unit)} was logged.",) if crew is None or not crew.inside else ()
    return Outcome(
        intent=AirReading.intent,
        lead=f"{text} Logged.",
        answer=CrewAir(unit=unit, count=crew.count if crew else None),
        cautions=(*unknown, CAUTION),
        events=(Dated(AirRead(crew=unit, low_air_alarm=True), at=at, unit=unit),),
        notices=(Notice(to=("officer",), kind="notice", name="low_air", text=text),),
        opens=True,
    )


@handle.register
def leave(command: Exit, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew comes out."""
    unit = command.unit or _only_inside(scene) or said.unit
    crew = scene.crews.get(unit)
    at = stated(command.time, said.at, said.tz)
    if crew is None or not crew.inside:
        return Outcome(
            intent=command.intent,
            lead=f"{unit_name(unit)} out, {clock(at, said.tz)}. Logged. (No entry of {unit_name(unit)} was logged.)",
            answer=CrewAir(unit=unit, count=command.count, gauge_psi=command.gauge_psi),
            events=(Dated(CrewLeft(crew=unit, count=command.count, gauge_psi=command.gauge_psi), at=at, unit=unit),),
        )
    inside_s = (at - crew.entered_at).total_seconds() if crew.entered_at else 0.0
    short = crew.count - command.count if crew.count and command.count and command.count < crew.count else 0
    cautions = (f"{crew.count} went in, {command.count} reported out: {short} not reported out.",) if short else ()
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(unit)} out, {clock(at, said.tz)}, after {math.floor(inside_s / 60)} min. Logged.",
        answer=CrewAir(unit=unit, count=command.count, gauge_psi=command.gauge_psi, inside_s=inside_s),
        cautions=cautions,
        events=(Dated(CrewLeft(crew=unit, count=command.count, gauge_psi=command.gauge_psi), at=at, unit=unit),),
    )


def _only_inside(scene: Scene) -> str | None:
    inside = scene.crews_inside
    return inside[0].crew if len(inside) == 1 else None


def _with_reading(crew: Crew, gauge: Gauge) -> Crew:
    return Crew(
        crew=crew.crew,
        count=crew.count,
        entered_at=crew.entered_at,
        place=crew.place,
        task=crew.task,
        gauges=(*crew.gauges, gauge),
        cylinder_psi=crew.cylinder_psi,
        rated_min=crew.rated_min,
        entries=crew.entries,
    )


def _with_events(told: Outcome, events: tuple[Dated, ...], *, low_air: bool, crew: str) -> Outcome:
    cautions = told.cautions
    if low_air:
        cautions = (f"Low-air alarm reported by {unit_name(crew)}: they are on the reserve.", *cautions)
    return Outcome(
        intent=told.intent,
        lead=told.lead,
        how=told.how,
        spoken=told.spoken,
        answer=told.answer,
        assumed=told.assumed,
        cautions=cautions,
        events=events,
        notices=told.notices if not low_air else (Notice(("officer",), "notice", "low_air", f"{cautions[0]}"),),
    )


def _told(crew: Crew, rig: Rig, said: Said, intent: str) -> Outcome:
    """What a crew's readings say, led by the number that matters now."""
    words = Words.of(rig)
    cylinder = cylinder_for(rig, None, crew.cylinder_psi)
    last = crew.gauges[-1]
    turn, expected, rate, measured = outlook(crew, rig)
    name = unit_name(crew.crew)
    if last.psi <= cylinder.alarm_psi:
        lead = f"{name} at {words.gauge(last.psi)}: at or below the alarm, on the reserve."
    elif last.psi <= turn:
        lead = f"{name} at {words.gauge(last.psi)}: at or below the turnaround of {words.gauge_up_bare(turn)}."
    else:
        alarm = f"Alarm about {clock(expected, said.tz)}"
        lead = f"{name} at {words.gauge(last.psi)}. {alarm}, turn around by {words.gauge_up_bare(turn)}."
    basis = (
        f"{words.gauge(rate)} a minute by the gauges"
        if measured
        else f"{max(rig.air.rates_lpm):.0f} L/min, no fall measured yet"
    )
    to_alarm = minutes_until(cylinder.alarm_psi, last.psi, rate)
    to_empty = minutes_until(0, last.psi, rate)
    how = f"At {basis}: alarm about {_whole(to_alarm)} min, empty about {_whole(to_empty)} min after it."
    answer: Answer
    if intent == "air_time":
        exact = turnaround_psi(crew.gauges[0].psi, cylinder.alarm_psi, 0)
        answer = AirTimes(minutes_to_alarm=to_alarm, minutes_to_empty=to_empty, turnaround_psi=exact)
    else:
        answer = CrewAir(
            unit=crew.crew,
            count=crew.count,
            gauge_psi=last.psi,
            turnaround_psi=turn,
            alarm_expected_at=expected,
            rate_psi_min=rate if measured else None,
            inside_s=(last.at - crew.entered_at).total_seconds() if crew.entered_at else None,
        )
    return Outcome(intent=intent, lead=lead, how=(how,), answer=answer, cautions=(CAUTION,))


def outlook(crew: Crew, rig: Rig) -> tuple[float, datetime, float, bool]:
    """A crew's turnaround pressure, when its alarm is expected, its psi a minute, and whether that was measured.

    Without a reading it is reckoned from a full cylinder at entry, at the highest of the rig's breathing rates.
    """
    cylinder = cylinder_for(rig, None, crew.cylinder_psi)
    if crew.gauges:
        first, last = crew.gauges[0], crew.gauges[-1]
    else:
        entered = crew.entered_at
        if entered is None:
            raise ValueError("a crew without an entry has no air clock")
        first = last = Gauge(at=entered, psi=cylinder.pressure_psi)
    rate = measured_rate(crew.gauges)
    measured = rate is not None
    used = rate if rate is not None else rate_from_table(cylinder, max(rig.air.rates_lpm))
    turn = turnaround_psi(first.psi, cylinder.alarm_psi, rig.air.turnaround_round_psi)
    expected = last.at + timedelta(minutes=minutes_until(cylinder.alarm_psi, last.psi, used))
    return turn, expected, used, measured


def air_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`turnaround` and `alarm_expected` of every crew inside, from its entry and its readings."""
    words = Words.of(rig)
    found = []
    for crew in scene.crews_inside:
        cylinder = cylinder_for(rig, None, crew.cylinder_psi)
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
