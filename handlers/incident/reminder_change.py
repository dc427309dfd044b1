"""What people change of the reminders by a sentence: snoozed, stopped, their interval; and timers of their own."""

from __future__ import annotations

from datetime import datetime, timedelta

from grammar.commands import ReminderChange, Timer
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import (
    EventBody,
    ReminderInterval,
    ReminderResumed,
    ReminderSnoozed,
    ReminderStopped,
    TimerSet,
)
from handlers.outcome import Answer, Outcome, Said
from handlers.reminders import INTERVALS
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, spoken_duration

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
