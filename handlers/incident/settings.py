"""What people change by a sentence: reminders snoozed, stopped, their interval; own timers; companies that join."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import Choice, Join, Question, ReminderChange, Timer
from handlers.desk import handle, own_unit
from handlers.errors import Refusal
from handlers.events import (
    EventBody,
    ReminderInterval,
    ReminderResumed,
    ReminderSnoozed,
    ReminderStopped,
    TimerSet,
    UnitJoined,
)
from handlers.incident.clocks import clocks_text
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.reminders import INTERVALS
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, spoken_duration, unit_name

CODE_LASTS = timedelta(minutes=30)
"""A join code can be used for so long."""
MOST_CHOICES = 4
ALWAYS = frozenset({"tank_minute", "tank_empty", "mayday_clock"})
"""Alerts that nobody can turn off."""
NAMES = {
    "all": "Routine reminders",
    "elapsed": "Elapsed notices",
    "control_check": "The check after “under control”",
    "par_due": "PAR reminders",
    "par_missing": "The PAR follow-up",
    "turnaround": "Turnaround estimates",
    "alarm_expected": "Low-air estimates",
    "supply_missing": "The water supply reminder",
    "rit_missing": "The RIT reminder",
    "rehab_due": "Rehab reminders",
    "tank_half": "The half-tank call",
    "tank_quarter": "The quarter-tank call",
    "rhythm_check": "Rhythm-check reminders",
    "epi_window": "The epinephrine window",
}
LONGEST_MIN = 24 * 60


class ReminderAnswer(Answer, frozen=True):
    """Answer of `reminder`."""

    name: str
    action: str
    minutes: float | None = None
    until_at: datetime | None = None


class TimerAnswer(Answer, frozen=True):
    """Answer of `timer`."""

    label: str
    due_at: datetime


class JoinAnswer(Answer, frozen=True):
    """Answer of `join`; `code` where one was asked for."""

    unit: str
    code: str | None = None


@handle.register
def reminder_change(command: ReminderChange, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Snooze, stop, resume a reminder, or change how often it comes."""
    if not scene.open:
        raise Refusal("No incident is open: no reminders are running.")
    name = command.name or ("elapsed" if command.action == "interval" else "all")
    if name in ALWAYS:
        raise Refusal("Tank and Mayday alerts can't be turned off.")
    if name not in NAMES:
        raise Refusal("There is no reminder of that name: say elapsed, PAR, water supply, RIT or rehab.")
    minutes = _minutes(command, rig)
    until = said.at + timedelta(minutes=minutes) if command.action == "snooze" and minutes else None
    body: EventBody
    still: tuple[str, ...] = ()
    match command.action:
        case "snooze":
            body, what = ReminderSnoozed(name, until or said.at), f"snoozed until {clock(until or said.at, said.tz)}"
        case "stop":
            body, what = ReminderStopped(name), "stopped"
        case "resume":
            body, what = ReminderResumed(name), "on again"
        case "interval":
            if name not in INTERVALS:
                raise Refusal(f"{NAMES[name]}: there is no interval to change.")
            body, what = ReminderInterval(name, minutes or 0), f"every {minutes:g} min{_counted(name)}, from now on"
            still = _still_off(scene, said)
    return Outcome(
        intent=command.intent,
        lead=f"{NAMES[name]} {what}.",
        how=("Tank, Mayday and evacuation alerts still come.",) if command.action in ("snooze", "stop") else still,
        answer=ReminderAnswer(name, command.action, minutes, until),
        events=(body,),
    )


def _counted(name: str) -> str:
    return " on scene" if name in ("elapsed", "par_due") else ""


def _still_off(scene: Scene, said: Said) -> tuple[str, ...]:
    """All routine reminders being stopped or snoozed, one that is set comes only after that."""
    every = scene.settings.get("all")
    if every is not None and every.stopped_at is not None:
        return ("Routine reminders are stopped, so none comes until you say “turn reminders back on”.",)
    if every is not None and every.snoozed_until is not None and every.snoozed_until > said.at:
        return (f"Routine reminders are snoozed until {clock(every.snoozed_until, said.tz)}.",)
    return ()


def _minutes(command: ReminderChange, rig: Rig) -> float | None:
    if command.action in ("stop", "resume"):
        return None
    minutes = command.minutes
    if minutes is None and command.action == "snooze":
        minutes = rig.intervals.snooze_min
    if minutes is None or not 1 <= minutes <= LONGEST_MIN:
        raise Refusal("Say the minutes, from 1 up: “elapsed every 15 minutes”.")
    return minutes


@handle.register
def timer(command: Timer, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A timer of the person's own; it runs with the incident's clocks."""
    if said.live and not scene.open:
        raise Refusal("Timers run with an incident's clocks: report “on scene” first.")
    if not 0 < command.minutes <= LONGEST_MIN:
        raise Refusal("Say the minutes of the timer, from now up to a day.")
    due = said.at + timedelta(minutes=command.minutes)
    whole = float(command.minutes).is_integer()
    label = command.text or (f"{command.minutes:g} min" if whole else spoken_duration(command.minutes * 60))
    return Outcome(
        intent=command.intent,
        lead=f"Timer {clock(due, said.tz, seconds=True)}: {label}.",
        answer=TimerAnswer(label, due),
        events=(TimerSet(label, due),),
    )


@handle.register
def join(command: Join, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A company comes into the incident (its code was checked before): it gets the brief, the officer is told.

    Asked for a code, the shell has made it before; it is told here.
    """
    unit = command.unit or command.rig_unit or said.unit
    if not scene.open:
        raise Refusal("No incident is open to join: it opens with the dispatch or “on scene”.")
    if command.make:
        return _code(command, said) if command.unit else _for_whom(command, scene, said)
    if unit == own_unit(rig) and command.unit is None:
        raise Refusal("Say which unit joins: “engine 9 joining”.")
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(unit)} joined, {clock(said.at, said.tz)}.",
        how=(brief(scene, said), *_task(scene, unit)),
        answer=JoinAnswer(unit),
        events=(Dated(UnitJoined(unit), unit=unit),),
        notices=(Notice(("officer",), "notice", "joined", f"{unit_name(unit)} joined, {clock(said.at, said.tz)}."),),
    )


def _for_whom(command: Join, scene: Scene, said: Said) -> Outcome:
    """A code is for one company: which, where none was said."""
    units = companies_but(scene, said.unit)
    choices = tuple(Choice(unit_name(unit), (replace(command, unit=unit),)) for unit in units)
    return Outcome(command.intent, question=Question("A join code for which company?", choices, command, "unit"))


def companies_but(scene: Scene, own: str) -> tuple[str, ...]:
    """The companies of an incident that may want to join it."""
    return tuple(unit for unit in scene.companies if unit != own)[:MOST_CHOICES]


def _code(command: Join, said: Said) -> Outcome:
    """A new code, digit by digit, so that it can be read over the radio."""
    if command.code is None:
        raise Refusal("A join code is made in a room of the incident: ask for it there.")
    until = clock(said.at + CODE_LASTS, said.tz)
    digits = " ".join(command.code)
    return Outcome(
        intent=command.intent,
        lead=f"Join code for {unit_name(command.unit or '')}: {digits}. For one room, until {until}.",
        how=(f"In their room: “join {digits}”.",),
        answer=JoinAnswer(command.unit or "", code=command.code),
    )


def _task(scene: Scene, unit: str) -> tuple[str, ...]:
    """What a company that comes in was told to do."""
    company = scene.companies.get(unit)
    parts = [part for part in (company.place, company.task) if part] if company else []
    return (f"Your task: {', '.join(parts)}.",) if parts else ()


def brief(scene: Scene, said: Said) -> str:
    """What an incoming company needs to know, in one line."""
    what = (
        ", ".join(part for part in (scene.nature, scene.address) if part) or scene.dispatch_text or "No dispatch text"
    )
    strategy = f" Strategy: {scene.strategy}." if scene.strategy else ""
    return f"{what}. {clocks_text(scene, said.at)}.{strategy}"
