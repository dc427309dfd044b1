"""Accountability: assignments, PAR requests and answers, rehab; and their reminders.

Nothing here ever says that people are safe or all found: it says who was asked, what was reported, by whom and when.
Form of a PAR answer: unit + "PAR of" + number (Fresno Fire Department SOP 203.003a, 2017, rev. 2019). Rehab after two
30-minute cylinders, one of 45 or 60 minutes, or 40 minutes of work (Wash. Admin. Code 296-305-05004, quoting NFPA
1584).
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import Assign, Choice, Command, Par, Question, Rehab
from handlers.desk import handle
from handlers.events import ParAnswered, ParRequested, RehabChanged, UnitAssigned
from handlers.incident.air import cylinder_of, rate_from_table
from handlers.outcome import Answer, Dated, Notice, Outcome, Reminder, Said
from handlers.rig import Rig
from handlers.rigfile.sections import Cylinder
from handlers.scene import Crew, Gauge, ParCheck, Scene, Spell
from handlers.times import clock, listed, unit_name
from handlers.words import Words

LONG_CYLINDER_MIN = 45
"""From this rating on, one cylinder used up is due for rehab (NFPA 1584, as quoted by the code above)."""


class ParAnswer(Answer, frozen=True):
    """Answer of `par`: who, how many were reported, how many of the known number were not (None: number not known)."""

    unit: str | None
    count: int | None
    missing: int | None


class Assignment(Answer, frozen=True):
    """Answer of `assign` and `rehab`."""

    unit: str
    place: str | None = None
    task: str | None = None
    staffing: int | None = None


def propose_par(why: str) -> Question:
    """The closed follow-up after an event that calls for a PAR; nothing is requested until a person says so."""
    return Question(
        text=f"PAR proposed ({why}). Request it now?",
        choices=(Choice(label="Request PAR", commands=(Par(request=True),)), Choice(label="Not now")),
    )


# --- assignments


@handle.register
def assign(command: Assign, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A unit gets an assignment."""
    task = _task(command, scene, rig, said)
    parts = [part for part in (command.place, task) if part]
    what = ", ".join(parts) or "assigned"
    crew = f" with {command.staffing}" if command.staffing else ""
    text = f"{unit_name(command.unit)}{crew}: {what}, {clock(said.at, said.tz)}. Logged."
    body = UnitAssigned(unit=command.unit, place=command.place, task=task, staffing=command.staffing)
    return Outcome(
        intent=command.intent,
        lead=text,
        answer=Assignment(unit=command.unit, place=command.place, task=task, staffing=command.staffing),
        events=(Dated(body, unit=command.unit),),
        notices=(Notice(to=(command.unit,), kind="notice", name="assignment", text=text),),
        opens=True,
    )


def _task(command: Assign, scene: Scene, rig: Rig, said: Said) -> str | None:
    """The task; of a company that is to supply another, with its lay and what it must pump, where the flow is known."""
    supply = command.supply
    if supply is None:
        return command.task
    words = Words.of(rig)
    feet = [words.feet(part.length_ft) for part in supply.hose if part.length_ft is not None]
    to = f"supply {unit_name(supply.to_unit)}" if supply.to_unit else None
    pressure = None
    supplied = scene.pump(supply.to_unit or said.unit).flow_gpm
    if supply.flow_gpm is None and supplied > 0:
        supply = replace(supply, flow_gpm=supplied)
    if supply.flow_gpm is not None:
        pressure = f"pump {handle(supply, scene, rig, said).lead.partition(' to ')[0]}"
    return ", ".join(part for part in (command.task, *feet, to, pressure) if part)


# --- PAR


@handle.register
def par(command: Par, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A PAR is requested of everyone, or one unit answers."""
    if command.request:
        return _request(command, scene, rig, said)
    return _answered(command, scene, rig, said)


def who_is_asked(scene: Scene, own_unit: str = "") -> dict[str, int | None]:
    """Units on the scene and crews inside, with the number each is known to have."""
    asked: dict[str, int | None] = {}
    for key, company in scene.companies.items():
        if company.present or (company.left_at is None and (company.place or company.task)):
            asked[key] = company.staffing
    for crew in scene.crews_inside:
        asked[crew.crew] = asked.get(crew.crew) or crew.count
    if not asked and own_unit:
        asked[own_unit] = None
    return asked


def _request(command: Par, scene: Scene, rig: Rig, said: Said) -> Outcome:
    units = [command.unit] if command.unit else list(who_is_asked(scene, said.unit))
    asked = {unit: known_number(unit, scene, rig) for unit in units}
    names = [unit_name(key) + (f" ({count})" if count else "") for key, count in asked.items()]
    text = f"PAR requested {clock(said.at, said.tz)}: {listed(names) or 'every crew'}."
    return Outcome(
        intent=command.intent,
        lead=text,
        how=("Each answers by unit and number: “engine 9 PAR of 4”. By sight first; a rescue isn't delayed for it.",),
        answer=ParAnswer(unit=command.unit, count=None, missing=None),
        events=(ParRequested(expected=asked, why="requested"),),
        notices=(Notice(to=("officer", "crew", *asked), kind="notice", name="par_request", text=text),),
        opens=True,
    )


def known_number(unit: str, scene: Scene, rig: Rig) -> int | None:
    """How many people a unit is known to have: as it reported, as the last PAR had it, or by its own rig file."""
    company = scene.companies.get(unit)
    if company is not None and company.staffing:
        return company.staffing
    asked = dict(scene.par.expected) if scene.par else {}
    if asked.get(unit):
        return asked[unit]
    if unit == rig.name.casefold():
        return len(rig.crew) or None
    return scene.crews[unit].count if unit in scene.crews else None


def _answered(command: Par, scene: Scene, rig: Rig, said: Said) -> Outcome:
    unit = command.unit or said.unit
    expected = known_number(unit, scene, rig)
    short = command.missing
    if short is None and expected is not None and command.count is not None:
        short = max(0, expected - command.count)
    body = ParAnswered(unit=unit, count=command.count, missing=short or 0, no_par=command.no_par)
    answer = ParAnswer(unit=command.unit or (unit or None), count=command.count, missing=short)
    name = unit_name(unit)
    when = clock(said.at, said.tz)
    if short or command.no_par:
        who = f"{short} of {expected}" if short and expected else (str(short) if short else "someone")
        text = f"{name}: {who} NOT REPORTED in the PAR, {when}."
        how: tuple[str, ...] = () if command.count is None else (f"{name} reported {command.count}.",)
        return Outcome(
            intent=command.intent,
            lead=text,
            how=how,
            spoken=f"{name}: {who} not reported.",
            answer=answer,
            cautions=("Command decides: call them by radio.",),
            events=(Dated(body, unit=unit),),
            notices=(Notice(to=("officer",), kind="notice", name="par_short", text=text),),
            opens=True,
        )
    of = f"PAR of {command.count}" if command.count is not None else "PAR reported, no number said"
    lead = f"{name}, {of}, {when}. Logged."
    how = tuple(_waiting(scene, unit, command.count, expected))
    cautions = () if command.count is not None else (f"Ask {name} for the number.",)
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=how,
        answer=answer,
        cautions=cautions,
        events=(Dated(body, unit=unit),),
        opens=True,
    )


def outstanding(check: ParCheck) -> tuple[list[str], list[str]]:
    """Units that have not answered a PAR, and units whose answer was short (by their last answer)."""
    last: dict[str, tuple[int | None, int]] = {}
    for unit, count, missing, _at in check.answered:
        last[unit] = (count, missing)
    silent, short = [], []
    for unit, expected in check.expected:
        if unit not in last:
            silent.append(unit)
        else:
            count, missing = last[unit]
            if missing or (expected and count is not None and count < expected):
                short.append(unit)
    return silent, short


def _waiting(scene: Scene, just_answered: str, count: int | None, known: int | None) -> list[str]:
    """Who still has to answer; "every unit" only where each one's number is known and was reported."""
    if scene.par is None or not scene.par.expected:
        return []
    silent, short = outstanding(scene.par)
    silent = [unit for unit in silent if unit != just_answered]
    short = [unit for unit in short if unit != just_answered]
    lines = []
    if silent:
        lines.append(f"No answer yet: {listed([unit_name(unit) for unit in silent])}.")
    if short:
        lines.append(f"Short: {listed([unit_name(unit) for unit in short])}.")
    expected = {**dict(scene.par.expected), just_answered: known}
    counts = {unit: told for unit, told, _missing, _at in scene.par.answered} | {just_answered: count}
    unsure = [unit for unit, number in expected.items() if not number or counts.get(unit) is None]
    if unsure and not silent:
        lines.append(
            f"Not known how many should be there, or no number was said: {listed([unit_name(u) for u in unsure])}."
        )
    if not lines and just_answered in dict(scene.par.expected):
        lines.append("Every unit asked has answered with the number it was known to have.")
    return lines


# --- rehab


@handle.register
def rehab(command: Rehab, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A crew goes to rehab, or is back from it."""
    unit = command.unit or said.unit
    when = clock(said.at, said.tz)
    if command.back:
        lead = f"{unit_name(unit)} back from rehab, {when}. Logged."
        crew = scene.crews.get(unit)
        cautions: tuple[str, ...] = ()
        if crew is not None and crew.rehab_since is not None:
            rested = (said.at - crew.rehab_since).total_seconds()
            if rested < rig.rehab.rest_min * 60:
                cautions = (
                    f"{math.floor(rested / 60)} min of rest, not {rig.rehab.rest_min:.0f} (rig file). Command decides.",
                )
        how: tuple[str, ...] = ()
    else:
        release = said.at + timedelta(minutes=rig.rehab.rest_min)
        lead = f"{unit_name(unit)} in rehab, {when}. Logged."
        how = (
            f"Rest of {rig.rehab.rest_min:.0f} min ends {clock(release, said.tz)} ({rig.source('rehab.rest_min')}).",
        )
        cautions = ()
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=how,
        answer=Assignment(unit=unit, task="rehab"),
        cautions=cautions,
        events=(Dated(RehabChanged(crew=unit, back=command.back), unit=unit),),
    )


def rehab_due_at(crew: Crew, rig: Rig, now: datetime) -> datetime | None:
    """When a crew is due for rehab: its cylinders used up (two of 30 min, one of 45 or more), or the work limit.

    Work counts as time inside. A cylinder counts by what was breathed from it: down to its alarm by the gauges, else by
    the time inside against the earliest alarm; so a minute inside uses none up.
    """
    if crew.rehab_since is not None or crew.entered_at is None:
        return None
    by_work = crew.entered_at + timedelta(minutes=rig.rehab.work_min) - timedelta(seconds=crew.worked_s)
    used_up = _used_up_at(crew, rig)
    if crew.inside:
        return max(min(by_work, used_up) if used_up is not None else by_work, crew.entered_at)
    if used_up is not None:
        return used_up
    if crew.left_at is not None:
        worked = timedelta(seconds=crew.worked_s)
        return crew.left_at if worked >= timedelta(minutes=rig.rehab.work_min) else None
    return None


def _used_up_at(crew: Crew, rig: Rig) -> datetime | None:
    """The end of the entry with which its cylinders were used up; None when they aren't."""
    used = 0.0
    for spell in crew.spells:
        cylinder = cylinder_of(replace(crew, cylinder_psi=spell.cylinder_psi, rated_min=spell.rated_min), rig)
        limit = rig.rehab.cylinders_45 if cylinder.rated_min >= LONG_CYLINDER_MIN else rig.rehab.cylinders_30
        used += _share_used(spell, cylinder, rig) / limit
        if used >= 1 - 1e-9:
            return spell.left_at
    return None


def _share_used(spell: Spell, cylinder: Cylinder, rig: Rig) -> float:
    """How much of the air above the alarm an entry used, 0 … 1."""
    if spell.low_air:
        return 1.0
    start = spell.gauges[0].psi if spell.gauges and spell.gauges[0].at <= spell.entered_at else cylinder.pressure_psi
    last = spell.gauges[-1] if spell.gauges else Gauge(spell.entered_at, start)
    above = max(cylinder.pressure_psi - cylinder.alarm_psi, 1.0)
    since = (spell.left_at - last.at).total_seconds() / 60
    breathed = since * rate_from_table(cylinder, max(rig.air.rates_lpm))
    return min(1.0, max(0.0, start - last.psi + breathed) / above) if last.psi - breathed > cylinder.alarm_psi else 1.0


# --- reminders


def people_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """`par_missing`, `rit_missing` and `rehab_due`."""
    return [*_par_missing(scene, rig), *_rit_missing(scene, rig), *_rehab_due(scene, rig, now)]


def _par_missing(scene: Scene, rig: Rig) -> list[Reminder]:
    check = scene.par
    if check is None or not check.expected:
        return []
    silent, short = outstanding(check)
    if not silent and not short:
        return []
    parts = []
    if silent:
        parts.append(f"no answer from {listed([unit_name(unit) for unit in silent])}")
    if short:
        parts.append(f"short: {listed([unit_name(unit) for unit in short])}")
    minutes = rig.intervals.par_missing_min
    text = f"PAR asked {minutes:g} min ago: {'; '.join(parts)}."
    return [
        Reminder(
            key=f"par_missing/{check.at.isoformat()}",
            name="par_missing",
            at=check.at + timedelta(minutes=minutes),
            to=("officer", *silent, *short),
            text=text,
            question=_ask_again((*silent, *short)),
        )
    ]


def _ask_again(units: tuple[str, ...]) -> Question:
    commands: tuple[Command, ...] = tuple(Par(request=True, unit=unit) for unit in units)
    return Question(text="Ask again?", choices=(Choice(label="Ask again", commands=commands), Choice(label="Not now")))


def _rit_missing(scene: Scene, rig: Rig) -> list[Reminder]:
    """Once: a crew is inside and neither a rapid intervention team nor two outside has been reported."""
    if scene.stamp("rit_in_place", partial=True) or scene.stamp("two_out_in_place", partial=True):
        return []
    entered = [crew.entered_at for crew in scene.crews_inside if crew.entered_at is not None]
    if not entered:
        return []
    minutes = rig.intervals.rit_missing_min
    return [
        Reminder(
            key="rit_missing",
            name="rit_missing",
            at=min(entered) + timedelta(minutes=minutes),
            to=("officer",),
            text=f"Crew inside for {minutes:g} min: no RIT and no two out reported yet.",
        )
    ]


def _rehab_due(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    found = []
    for crew in scene.crews.values():
        at = rehab_due_at(crew, rig, now)
        if at is not None:
            found.append(
                Reminder(
                    key=f"rehab_due/{crew.crew}/{crew.rehabs}",
                    name="rehab_due",
                    at=at,
                    to=("officer",),
                    text=f"{unit_name(crew.crew)}: due for rehab by cylinders or time worked ({rig.source('rehab')}).",
                )
            )
    return found
