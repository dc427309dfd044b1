"""Who may do what in an incident: one rule, asked before any command is worked out.

The officer and the driver of the incident's company lead it, and whoever has command, whatever their department. Only
they close it, clear a Mayday, give roles, make join codes and change the rig. The rest of the company does everything
else. A guest (a company that came in) reports for its own unit, asks, and gets its brief. Raising an alarm (Mayday,
emergency traffic, evacuation, going defensive, a low-air alarm) is everybody's.

What can't be decided here asks the one who leads (`incident/roles.py`): a role that is taken while an officer is
present, and a guest's own word that it has command.
"""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import (
    AirReading,
    Assign,
    Benchmark,
    Coefficient,
    Command,
    Correction,
    Dispatch,
    Entry,
    Evacuate,
    Exit,
    IncidentKind,
    Join,
    Mayday,
    Par,
    Question,
    Readiness,
    Rehab,
    ReminderChange,
    Restore,
    SendReport,
    SetRole,
    Strategy,
)
from handlers.outcome import Said
from handlers.scene import Scene
from handlers.times import unit_name

LEADING = ("officer", "driver")
OF_COMMAND = frozenset({"under_control", "loss_stopped"})
"""Benchmarks of the whole incident that end clocks for everybody: no guest reports them."""


def is_guest(said: Said) -> bool:
    """Whether another company than the incident's own speaks."""
    return bool(said.company) and said.unit not in ("", said.company)


def commander(scene: Scene) -> str | None:
    """The unit that has command, as it was last reported ("Battalion 2 has command"); None: no unit was named."""
    units = [stamp.unit for stamp in scene.stamps if stamp.benchmark == "command_established"]
    return units[-1] if units else None


def leads(scene: Scene, said: Said) -> bool:
    """Whether the speaker may do what only the officer and the driver of the company, and who has command, may."""
    if is_guest(said):
        return commander(scene) == said.unit
    return said.role in LEADING or said.sets_up


def why_not(command: Command, scene: Scene, said: Said) -> str | None:
    """Why the speaker may not say this, in a plain sentence; None when they may."""
    if not said.live or leads(scene, said):
        return None
    if isinstance(command, Correction):
        return next((why for part in command.amended if (why := why_not(part, scene, said)) is not None), None)
    if (what := _of_who_leads(command)) is not None and not _of_its_own(command, said):
        return f"{what} {_who(said)}{_how_to_lead(said)}"
    return _of_a_guest(command, scene, said) if is_guest(said) else None


def _of_its_own(command: Command, said: Said) -> bool:
    """A guest's officer and driver give the roles of their own company."""
    own = isinstance(command, SetRole) and is_guest(said) and command.unit == said.unit
    return own and said.role in LEADING


def offered(question: Question | None, scene: Scene, said: Said) -> Question | None:
    """A question without the choices that the speaker would be refused; None when nothing is left to choose."""
    if question is None:
        return None
    kept = tuple(one for one in question.choices if not any(why_not(what, scene, said) for what in one.commands))
    if kept == question.choices:
        return question
    return replace(question, choices=kept) if any(one.commands for one in kept) else None


def _who(said: Said) -> str:
    company = unit_name(said.company) if said.company else "the company"
    return f"the officer or the driver of {company}, or who has command."


def _how_to_lead(said: Said) -> str:
    return "" if is_guest(said) else " If that is you, say “I'm the officer” or “I'm the driver”."


def _of_who_leads(command: Command) -> str | None:
    """What is for those who lead, as the beginning of a sentence that ends with who they are."""
    match command:
        case Benchmark(benchmark="command_terminated"):
            return "The incident stays open. Command is terminated by"
        case Mayday(cleared=True):
            return "The Mayday stays open. It is cleared by"
        case Join(make=True):
            return "No join code was made. One is made by"
        case SetRole(person=str()):
            return "No role was given. Roles are given by"
        case Coefficient(save=True):
            return "The rig file stays as it is. It is changed by"
    return None


def _of_a_guest(command: Command, scene: Scene, said: Said) -> str | None:
    """What a guest may not: speak for another unit or for the whole incident, or have its record."""
    own = unit_name(said.unit)
    unit = getattr(command, "unit", None)
    if _reports(command) and _is_another(unit, scene, said):
        return f"You report for {own} here: {unit_name(unit)} reports for itself, or who has command does."
    match command:
        case SetRole(unit=str(named)) if named != said.unit:
            return f"You are here with {own}: roles of {unit_name(named)} are for its own people."
        case Benchmark(benchmark=name) if name in OF_COMMAND:
            return f"That is reported by {_who(said)} You report for {own}."
        case Par(request=True):
            return f"A PAR is asked for by {_who(said)} To report yours say “{own} has PAR, 3”."
        case Strategy(strategy="offensive") | Evacuate(over=True) | Dispatch() | IncidentKind():
            return f"Not changed: that is decided by {_who(said)} You report for {own}."
        case ReminderChange():
            return f"Not changed: the incident's reminders are set by {_who(said)}"
        case SendReport():
            return f"The record goes to the company whose incident it is: ask {_who(said)}"
        case Readiness() | Restore(done=True):
            return f"That belongs to {unit_name(said.company)}'s rig: its own crew says it."
    return None


def _reports(command: Command) -> bool:
    """Whether it says of a unit how that stands. A low-air alarm is an alarm: everybody's, whoever's it is."""
    if isinstance(command, AirReading):
        return not command.low_air_alarm
    return isinstance(command, Benchmark | Assign | Par | Entry | Exit | Rehab)


def _is_another(unit: str | None, scene: Scene, said: Said) -> bool:
    """Whether a company of the incident is named that isn't the speaker's; names of crews and people are their own."""
    return unit is not None and unit != said.unit and (unit == said.company or unit in scene.companies)
