"""Crews going in, on their way out and out, and their gauges as they are called in.

Only "out" ends a crew's clocks: on the way out it is still inside. What can't be so is asked, never computed: a gauge
that rises or hardly falls, an exit before the entry, a time before the incident.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import AirReading, Choice, ComingOut, Entry, Exit, Question, SaidTime
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import AirRead, CrewComingOut, CrewEntered, CrewLeft, MaydayDetail, UnitAssigned, UnitJoined
from handlers.incident.air import (
    CAUTION,
    CrewAir,
    cylinder_for,
    cylinder_of,
    doubt,
    minutes_until,
    named,
    range_text,
    rate_from_table,
    rated,
    told_of_crew,
    turnaround_psi,
)
from handlers.outcome import Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.sections import Cylinder
from handlers.scene import Crew, Gauge, Scene
from handlers.times import clock, stated, unit_name
from handlers.words import Words

SAME_MINUTE = timedelta(minutes=1)
"""A clock time is said in whole minutes: so much earlier is still the same moment."""
NOW = "It was now"


def _when(command: Entry | Exit | AirReading | ComingOut, scene: Scene, said: Said) -> datetime:
    """When it happened.

    Raises:
        NeedsAnswer: a stated time that is still to come, or before the incident.
    """
    time: SaidTime | None = command.time
    at = stated(time, said.at, said.tz)
    opened = scene.opened_at
    if time is None or opened is None or getattr(command, "sure", False) or at > opened - SAME_MINUTE:
        return at
    options = [(NOW, replace(command, time=None))]
    if isinstance(command, Entry):
        options.insert(0, (f"At {clock(at, said.tz)}", replace(command, sure=True)))
    text = f"{clock(at, said.tz)} is before this incident, which began {clock(opened, said.tz)}. When was it?"
    raise NeedsAnswer(text, part=command, options=tuple(options))


def _cylinder(command: Entry, rig: Rig) -> Cylinder:
    """The rig's own cylinder, or one with the rating that was said and the pressure that its gauge fits."""
    minutes, gauge = command.rated_min, command.gauge_psi
    own = rig.air.cylinders[0]
    if minutes is None:
        return cylinder_for(rig, gauge)
    if gauge is not None and gauge <= 0.6 * own.pressure_psi:
        fits = [
            c
            for c in rig.air.cylinders
            if c.rated_min == minutes and 0.85 * c.pressure_psi <= gauge <= c.pressure_psi * 1.1
        ]
        if fits:
            return fits[0]
    return rated(rig, cylinder_for(rig, gauge), minutes)


@handle.register
def entry(command: Entry, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew goes in: its air clock starts with its lowest gauge."""
    words = Words.of(rig)
    unit = command.unit or said.unit
    cylinder = _cylinder(command, rig)
    at = _when(command, scene, said)
    before = scene.crews.get(unit)
    if before is not None and before.inside:
        return _inside_already(command, before, scene, rig, said)
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
    low = gauge <= cylinder.alarm_psi
    how = [
        f"Turn around at the latest at {words.gauge_up(turn)}. Alarm as early as {clock(expected, said.tz)}.",
        range_text(cylinder, gauge, rig.air.rates_lpm),
    ]
    assumed = [named(cylinder, rig)]
    cautions = [CAUTION]
    if low:
        how = []
        alarm = f"the low-air alarm ({words.gauge_bare(cylinder.alarm_psi)})"
        cautions.insert(0, f"{words.gauge(gauge)} is at or below {alarm}: on the reserve from the start.")
    if command.gauge_psi is None:
        assumed.append(f"no gauge was said: reckoned from a full {words.gauge(cylinder.pressure_psi)}")
        cautions.append(f"Say the crew's lowest gauge: “{unit or 'crew'} lowest gauge {words.gauge_bare(4300)}”.")
    joined = (
        () if unit in scene.companies or not unit else (Dated(UnitJoined(unit=unit, staffing=command.count), at=at),)
    )
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(unit)} inside{people}{where}, {clock(at, said.tz)}. Logged.",
        how=tuple(how),
        answer=CrewAir(
            unit=unit,
            count=count,
            gauge_psi=command.gauge_psi,
            turnaround_psi=turnaround_psi(gauge, cylinder.alarm_psi, 0),
            alarm_expected_at=expected,
            inside_s=0.0,
        ),
        assumed=tuple(assumed),
        cautions=tuple(cautions),
        events=(*joined, Dated(body, at=at, unit=unit)),
        opens=True,
    )


def _inside_already(command: Entry, crew: Crew, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Said of a crew that is inside: a gauge is a reading; anything else leaves its air clock as it runs."""
    if command.gauge_psi is not None:
        reading = AirReading(gauge_psi=command.gauge_psi, unit=command.unit, time=command.time, sure=command.sure)
        return air_reading(reading, scene, rig, said)
    entered = clock(crew.entered_at, said.tz) if crew.entered_at is not None else "before"
    moved = command.place is not None or command.task is not None
    again = Choice("out and in again", (Exit(unit=crew.crew), replace(command, unit=crew.crew)))
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(crew.crew)} is logged inside since {entered}: its air clock runs on.",
        answer=CrewAir(unit=crew.crew, count=crew.count),
        events=(Dated(UnitAssigned(unit=crew.crew, place=command.place, task=command.task), unit=crew.crew),)
        if moved
        else (),
        follow_up=Question("Was it out in between?", (again, Choice("no"))),
    )


@handle.register
def air_reading(command: AirReading, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A later reading of a crew inside: rate, expected alarm, turnaround."""
    words = Words.of(rig)
    unit = command.unit or _only_inside(scene) or said.unit
    crew = scene.crews.get(unit)
    if command.low_air_alarm and (not command.gauge_psi or crew is None or not crew.inside):
        return _low_air(unit, crew, _when(command, scene, said), scene, said)
    if command.gauge_psi is None:
        raise Refusal(f"What does the lowest gauge of {unit_name(unit)} read?")
    if crew is None or not crew.inside:
        raise Refusal(
            f"{unit_name(unit)} isn't logged inside. "
            f"Say “{unit or 'crew'} entering, {words.gauge_bare(command.gauge_psi)}” first."
        )
    cylinder = cylinder_of(crew, rig)
    at = _when(command, scene, said)
    if command.gauge_psi > cylinder.pressure_psi * 1.1:
        raise Refusal(f"{words.gauge(command.gauge_psi)} is more than a full cylinder holds: read the gauge again.")
    question = None if command.sure else _doubtful(command, crew, Gauge(at, command.gauge_psi), cylinder, words)
    if question is not None:
        return Outcome(intent=command.intent, question=question)
    body = AirRead(crew=unit, gauge_psi=command.gauge_psi, low_air_alarm=command.low_air_alarm)
    after = replace(crew, gauges=(*crew.gauges, Gauge(at=at, psi=command.gauge_psi)))
    told = told_of_crew(after, rig, said, command.intent)
    events = (Dated(body, at=at, unit=unit), *_for_mayday(unit, words.gauge(command.gauge_psi), at, scene))
    if not command.low_air_alarm:
        return replace(told, events=events)
    caution = f"Low-air alarm reported by {unit_name(unit)}: they are on the reserve."
    notice = Notice(("officer",), "notice", "low_air", caution)
    return replace(told, events=events, cautions=(caution, *told.cautions), notices=(notice,))


def _doubtful(
    command: AirReading | Exit, crew: Crew, gauge: Gauge, cylinder: Cylinder, words: Words
) -> Question | None:
    """A reading that no breathing person's cylinder gives, or one from before the last."""
    last = crew.gauges[-1] if crew.gauges else None
    name = unit_name(crew.crew)
    again = Choice("I read it again")
    if crew.entered_at is not None and gauge.at <= crew.entered_at - SAME_MINUTE:
        now = Choice(NOW, (replace(command, time=None),))
        return Question(f"{name} went in after that. When was {words.gauge(gauge.psi)} read?", (now, again))
    why = doubt(last, gauge, cylinder, words) if last is not None and gauge.at >= last.at else None
    if why is None or last is None:
        return None
    as_read = Choice("as read", (replace(command, sure=True),))
    if gauge.psi <= last.psi or isinstance(command, Exit):
        return Question(f"{name}: {why}. Is it right?", (as_read, again))
    changed = Entry(crew.crew, crew.count, gauge.psi, crew.place, crew.task)
    new = Choice("cylinders changed: out and in again", (Exit(crew.crew), changed))
    return Question(f"{name}: {why}. Were the cylinders changed?", (new, as_read, again))


def _low_air(unit: str, crew: Crew | None, at: datetime, scene: Scene, said: Said) -> Outcome:
    """A low-air alarm without a gauge: logged and told to the officer; it gives no rate."""
    text = f"LOW-AIR ALARM, {unit_name(unit)}, {clock(at, said.tz)}: on the reserve."
    unknown = (f"No entry of {unit_name(unit)} is on record.",) if crew is None or not crew.inside else ()
    body = AirRead(crew=unit, low_air_alarm=True)
    return Outcome(
        intent=AirReading.intent,
        lead=f"{text} Logged.",
        answer=CrewAir(unit=unit, count=crew.count if crew else None),
        cautions=(*unknown, CAUTION),
        events=(Dated(body, at=at, unit=unit), *_for_mayday(unit, "low-air alarm", at, scene)),
        notices=(Notice(to=("officer",), kind="notice", name="low_air", text=text),),
        opens=True,
    )


def _for_mayday(unit: str, air: str, at: datetime, scene: Scene) -> tuple[Dated, ...]:
    """The air of the unit in trouble stands in its Mayday too."""
    if not scene.mayday_open or scene.mayday is None or scene.mayday.unit != unit:
        return ()
    return (Dated(MaydayDetail(air=air), at=at, unit=unit),)


@handle.register
def coming_out(command: ComingOut, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew is on its way out or told to come out: still inside, its clocks go on."""
    unit = command.unit or _only_inside(scene) or said.unit
    crew = scene.crews.get(unit)
    at = _when(command, scene, said)
    name, when = unit_name(unit), clock(at, said.tz)
    inside = crew is not None and crew.inside
    if command.gauge_psi is not None and crew is not None and inside:
        question = _doubtful(
            AirReading(command.gauge_psi, unit, command.time),
            crew,
            Gauge(at, command.gauge_psi),
            cylinder_of(crew, rig),
            Words.of(rig),
        )
        if question is not None:
            return Outcome(intent=command.intent, question=question)
    what = "told to come out" if command.ordered else "coming out"
    text = f"{name} {what} at {when}: still inside until it is out."
    unknown = () if inside else (f"No entry of {name} is on record.",)
    return Outcome(
        intent=command.intent,
        lead=f"{name} {what} at {when}. Logged.",
        how=("Still inside until it is out: its clocks go on.",) if inside else (),
        answer=CrewAir(unit=unit, count=crew.count if crew else None, gauge_psi=command.gauge_psi),
        cautions=unknown,
        events=(
            Dated(CrewComingOut(crew=unit, ordered=command.ordered, gauge_psi=command.gauge_psi), at=at, unit=unit),
        ),
        notices=(Notice(to=("officer", unit), kind="notice", name="coming_out", text=text),),
    )


@handle.register
def leave(command: Exit, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew comes out."""
    unit = command.unit or _only_inside(scene) or said.unit
    crew = scene.crews.get(unit)
    at = _when(command, scene, said)
    body = CrewLeft(crew=unit, count=command.count, gauge_psi=command.gauge_psi)
    if crew is None or not crew.inside:
        return Outcome(
            intent=command.intent,
            lead=f"{unit_name(unit)} out, {clock(at, said.tz)}. Logged. (No entry of {unit_name(unit)} is on record.)",
            answer=CrewAir(unit=unit, count=command.count, gauge_psi=command.gauge_psi),
            events=(Dated(body, at=at, unit=unit),),
        )
    if crew.entered_at is not None and at < crew.entered_at:
        if at <= crew.entered_at - SAME_MINUTE:
            went, out = clock(crew.entered_at, said.tz), clock(at, said.tz)
            text = f"{unit_name(unit)} went in at {went}, after {out}. When did it come out?"
            raise NeedsAnswer(text, part=command, options=((NOW, replace(command, time=None)),))
        at = crew.entered_at
    if command.gauge_psi is not None and not command.sure:
        question = _doubtful(command, crew, Gauge(at, command.gauge_psi), cylinder_of(crew, rig), Words.of(rig))
        if question is not None:
            return Outcome(intent=command.intent, question=question)
    inside_s = (at - crew.entered_at).total_seconds() if crew.entered_at else 0.0
    short = crew.count - command.count if crew.count and command.count and command.count < crew.count else 0
    cautions = (f"{crew.count} went in, {command.count} reported out: {short} not reported out.",) if short else ()
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(unit)} out, {clock(at, said.tz)}, after {math.floor(inside_s / 60)} min. Logged.",
        answer=CrewAir(unit=unit, count=command.count, gauge_psi=command.gauge_psi, inside_s=inside_s),
        cautions=cautions,
        events=(Dated(body, at=at, unit=unit),),
    )


def _only_inside(scene: Scene) -> str | None:
    inside = scene.crews_inside
    return inside[0].crew if len(inside) == 1 else None
