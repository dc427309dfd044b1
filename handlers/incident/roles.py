"""Who is who: roles that people take, roles that are given them, and a guest's word that it has command.

The first in a room sets up: while no officer is present, a role is taken by saying so. From then on the officer
confirms who becomes officer or driver, unless the settings give the role or the one who leads takes it over.
"""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Benchmark, Choice, Question, SetRole
from handlers.desk import handle
from handlers.events import RoleTaken
from handlers.outcome import Answer, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.rights import LEADING, is_guest, leads
from handlers.scene import Scene
from handlers.times import unit_name


class RoleAnswer(Answer, frozen=True):
    """Answer of `role`; `confirmed` false while the officer is asked whether it is so."""

    role: str
    unit: str
    confirmed: bool = True


@handle.register
def set_role(command: SetRole, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The speaker's role and company, or another person's, given by who may."""
    unit = command.unit or said.unit
    if command.person is not None:
        return _given(command, command.person, unit, said)
    if _to_be_confirmed(command, unit, scene, said):
        return _asked(command, unit, said)
    told = (
        _told(f"{said.name or said.who} is the {command.role} of {unit_name(unit)} now.")
        if command.role in LEADING and said.role != command.role and unit == said.company
        else ()
    )
    return Outcome(
        intent=command.intent,
        lead=f"You are {command.role if command.role != 'unit' else 'the crew'} of {unit_name(unit)}.",
        answer=RoleAnswer(command.role, unit),
        events=(RoleTaken(said.who, command.role, unit),),
        notices=told,
    )


def _to_be_confirmed(command: SetRole, unit: str, scene: Scene, said: Said) -> bool:
    """Officer and driver of the company, while its officer is present and is somebody else."""
    if not said.officer or command.role not in LEADING or said.given_role == command.role:
        return False
    return not said.guest_room and unit == said.company and not (leads(scene, said) and said.unit == unit)


def _asked(command: SetRole, unit: str, said: Said) -> Outcome:
    name = said.name or said.who
    what = f"{name} is the {command.role}"
    give = replace(command, unit=unit, person=said.who, name=name)
    question = Question(
        f"{name} says they are the {command.role} of {unit_name(unit)}. Is that so?",
        (Choice(what, (give,)), Choice("No")),
    )
    return Outcome(
        intent=command.intent,
        lead=f"The officer ({said.officer}) is asked whether you are the {command.role} of {unit_name(unit)}.",
        how=("Until they confirm it, nothing changes.",),
        answer=RoleAnswer(command.role, unit, confirmed=False),
        notices=(Notice(("officer",), "notice", "role_asked", question.text, question=question),),
    )


def _given(command: SetRole, person: str, unit: str, said: Said) -> Outcome:
    name = command.name or person
    text = f"{name} is the {command.role} of {unit_name(unit)} now."
    return Outcome(
        intent=command.intent,
        lead=text,
        answer=RoleAnswer(command.role, unit),
        events=(RoleTaken(person, command.role, unit),),
        notices=_told(text, person),
    )


def _told(text: str, *persons: str) -> tuple[Notice, ...]:
    return (Notice(("driver", "officer", "crew", *persons), "notice", "role", text),)


def command_claimed(command: Benchmark, scene: Scene, said: Said) -> Outcome | None:
    """A guest's own word that it has command is confirmed by who leads; None where nothing is to be confirmed."""
    if command.benchmark != "command_established" or not is_guest(said) or not said.live or leads(scene, said):
        return None
    named = command.unit or said.unit
    unit = unit_name(named)
    passed = replace(command, unit=named, time=None, sure=True)
    claim = "it" if named == said.unit else unit
    question = Question(
        f"{unit_name(said.unit)} says {claim} has command. Is that so?",
        (Choice(f"{unit} has command", (passed,)), Choice("No")),
    )
    return Outcome(
        intent=command.intent,
        lead=f"{unit_name(said.company)}'s officer is asked whether {unit} has command.",
        how=("Until they confirm it, nothing is logged.",),
        notices=(Notice(("officer",), "notice", "command_asked", question.text, question=question),),
    )
