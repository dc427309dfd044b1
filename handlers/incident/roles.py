"""Who is who: roles that people take or are given, a guest's word that it has command, companies that join.

The first in a room sets up: while no officer is present, a role is taken by saying so. From then on the officer
confirms who becomes officer or driver, unless the settings give the role or the one who leads takes it over. So it is
in a guest's company, by its own officer.
"""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace

from grammar.commands import Benchmark, Choice, Join, Question, SaidTime, SetRole
from handlers.desk import handle, own_unit
from handlers.errors import Refusal
from handlers.events import Noted, RoleTaken, UnitJoined
from handlers.incident.clocks import clocks_text
from handlers.incident.describing import BENCHMARK_WORDS
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.rights import LEADING, is_guest, leads
from handlers.scene import Scene
from handlers.times import clock, unit_name

OF_THE_FIRE = frozenset({"knocked_down", "suppression_complete"})
"""Benchmarks that say how the whole fire stands."""

CODE_LASTS = timedelta(minutes=30)
"""A join code can be used for so long."""
MOST_CHOICES = 4


class RoleAnswer(Answer, frozen=True):
    """Answer of `role`; `confirmed` false while the officer is asked whether it is so."""

    role: str
    unit: str
    confirmed: bool = True


class JoinAnswer(Answer, frozen=True):
    """Answer of `join`; `code` where one was asked for."""

    unit: str
    code: str | None = None


@handle.register
def set_role(command: SetRole, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The speaker's role and company, or another person's, given by who may."""
    unit = command.unit or said.unit
    if command.person is not None:
        return _given(command, command.person, unit, said)
    if _to_be_confirmed(command, unit, scene, said):
        return _asked(command, unit, said)
    told = (
        _told(f"{said.name or said.who} is the {command.role} of {unit_name(unit)} now.", unit, said)
        if command.role in LEADING and said.role != command.role and unit in (said.company, said.unit)
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
    """Officer and driver of a company, while its officer is present and is somebody else: a guest's by its own."""
    if not said.officer or command.role not in LEADING or said.given_role == command.role:
        return False
    if is_guest(said):
        return unit == said.unit and said.role not in LEADING
    return not said.guest_room and unit == said.company and not (leads(scene, said) and said.unit == unit)


def _asked(command: SetRole, unit: str, said: Said) -> Outcome:
    name = said.name or said.who
    what = f"{name} is the {command.role}"
    give = replace(command, unit=unit, person=said.who, name=name)
    question = Question(
        f"{name} says they are the {command.role} of {unit_name(unit)}. Is that so?",
        (Choice(what, (give,)), Choice("No")),
    )
    to = unit if is_guest(said) else "officer"
    return Outcome(
        intent=command.intent,
        lead=f"The officer ({said.officer}) is asked whether you are the {command.role} of {unit_name(unit)}.",
        how=("Until they confirm it, nothing changes.",),
        answer=RoleAnswer(command.role, unit, confirmed=False),
        notices=(Notice((to,), "notice", "role_asked", question.text, question=question),),
    )


def _given(command: SetRole, person: str, unit: str, said: Said) -> Outcome:
    name = command.name or person
    text = f"{name} is the {command.role} of {unit_name(unit)} now."
    return Outcome(
        intent=command.intent,
        lead=text,
        answer=RoleAnswer(command.role, unit),
        events=(RoleTaken(person, command.role, unit),),
        notices=_told(text, unit, said, person),
    )


def _told(text: str, unit: str, said: Said, *persons: str) -> tuple[Notice, ...]:
    """Their company is told; a guest's role is its own affair."""
    whom = (unit,) if is_guest(said) else ("driver", "officer", "crew")
    return (Notice((*whom, *persons), "notice", "role", text),)


def claimed(command: Benchmark, scene: Scene, said: Said) -> Outcome | None:
    """What a guest says of command or of the whole fire is confirmed by who leads; None: nothing is to be confirmed.

    Of a part of it (a named place) it reports as its own.
    """
    if not is_guest(said) or not said.live or leads(scene, said):
        return None
    if command.benchmark == "command_established":
        return _command_claimed(command, said)
    return _fire_claimed(command, said) if command.benchmark in OF_THE_FIRE and command.place is None else None


def _fire_claimed(command: Benchmark, said: Said) -> Outcome:
    words = BENCHMARK_WORDS[command.benchmark]
    local = said.at.astimezone(said.tz) if said.tz is not None else said.at
    at = command.time or SaidTime(local.hour, local.minute, local.second)
    report = replace(command, unit=None, time=at, sure=True)
    text = f"{unit_name(said.unit)} says: {words[:1].lower()}{words[1:]}, {clock(said.at, said.tz)}."
    question = Question(f"{text} Is that so for the whole fire?", (Choice(words, (report,)), Choice("No")))
    return Outcome(
        intent=command.intent,
        lead=f"Kept as {unit_name(said.unit)}'s word. {unit_name(said.company)}'s officer is asked whether it is so.",
        how=("Until they confirm it, nothing is stamped for the whole fire.",),
        events=(Noted("note", f"{words} (its own word, {clock(said.at, said.tz)})", unit=said.unit),),
        notices=(Notice(("officer",), "notice", "fire_asked", question.text, question=question),),
    )


def _command_claimed(command: Benchmark, said: Said) -> Outcome:
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
