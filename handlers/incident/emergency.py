"""Orders and events that everyone must hear at once: evacuation, change of strategy, collapse, emergency traffic, a
missing member.

The program relays what a person ordered or reported; it orders nothing. Each of these proposes a PAR (two
departments' PAR SOPs as study cards: change of strategy, sudden hazardous event, missing member). "Emergency traffic"
clears the air: Wash. Admin. Code 296-305-05000 (14)(b).
"""

from __future__ import annotations

from datetime import datetime

from grammar.commands import Choice, Emergency, Evacuate, Mayday, Question, Report, Strategy
from handlers.desk import handle
from handlers.events import (
    EmergencyDeclared,
    EmergencyOver,
    EvacuationLifted,
    EvacuationOrdered,
    Noted,
    StrategySet,
)
from handlers.incident.accountability import propose_par
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, unit_name

RADIO = "This room doesn't transmit: order it by radio too."
WORDS = {
    "emergency_traffic": "EMERGENCY TRAFFIC",
    "collapse": "COLLAPSE",
    "flashover": "FLASHOVER",
    "missing_member": "MEMBER MISSING",
    "downed_member": "MEMBER DOWN",
}
REPORTS = {
    "victim_found": "Victim found",
    "victim_removed": "Victim removed",
    "can": "Conditions, actions, needs",
    "alarm": "Further alarm",
    "cancel_incoming": "Incoming cancelled",
    "fire_out": "Fire out reported",
    "rit_deployed": "RIT deployed",
    "transfer_of_command": "Command transferred",
    "size_up": "Size-up",
    "note": "Noted",
}


class Alerted(Answer, frozen=True):
    """Answer of `evacuate`, `strategy`, `emergency`."""

    at: datetime
    kind: str
    unit: str | None = None
    place: str | None = None


class NoteAnswer(Answer, frozen=True):
    """Answer of `note`."""

    at: datetime
    kind: str
    text: str
    unit: str | None = None
    place: str | None = None
    count: int | None = None


def _by(said: Said) -> str:
    return f"reported by {said.role or said.name or said.who}, {clock(said.at, said.tz)}"


@handle.register
def evacuate(command: Evacuate, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Everybody out was ordered, or the order was lifted."""
    where = f" ({command.place})" if command.place else ""
    if command.over:
        text = f"Evacuation order lifted, {_by(said)}."
        return Outcome(
            intent=command.intent,
            lead=f"{text} Logged, everyone is being told.",
            answer=Alerted(at=said.at, kind="evacuation_lifted", place=command.place),
            events=(EvacuationLifted(),),
            notices=(Notice(to=("all",), kind="alert", name="evacuate", text=text),),
        )
    why = f" “{command.text}”" if command.text else ""
    text = f"EVACUATE{where}: everybody out, {_by(said)}.{why}"
    inside = [unit_name(crew.crew) for crew in scene.crews_inside]
    how = (f"Logged inside: {', '.join(inside)}.",) if inside else ()
    return Outcome(
        intent=command.intent,
        lead=f"EVACUATE{where} {clock(said.at, said.tz)}: everyone is being told. {RADIO}",
        how=how,
        spoken="Evacuate. Everyone is being told.",
        answer=Alerted(at=said.at, kind="evacuate", place=command.place),
        events=(EvacuationOrdered(place=command.place, text=command.text),),
        notices=(Notice(to=("all",), kind="alert", name="evacuate", text=text),),
        follow_up=propose_par("evacuation"),
        opens=True,
    )


@handle.register
def strategy(command: Strategy, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Offensive or defensive: logged, told to everyone; a change proposes a PAR."""
    changed = scene.strategy is not None and scene.strategy != command.strategy
    defensive = command.strategy == "defensive"
    text = f"{command.strategy.upper()} strategy, {_by(said)}."
    return Outcome(
        intent=command.intent,
        lead=f"{command.strategy.capitalize()}, {clock(said.at, said.tz)}. Logged, everyone is being told.",
        answer=Alerted(at=said.at, kind=command.strategy),
        events=(StrategySet(strategy=command.strategy),),
        notices=(Notice(to=("all",), kind="alert" if defensive or changed else "notice", name="strategy", text=text),),
        follow_up=propose_par("change of strategy") if defensive or changed else None,
        opens=True,
    )


@handle.register
def emergency(command: Emergency, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Emergency traffic, collapse, flashover, a member missing or down: everyone hears it at once."""
    word = WORDS[command.kind]
    if command.over:
        text = f"{word.capitalize()} over, {_by(said)}."
        return Outcome(
            intent=command.intent,
            lead=f"{text} Logged, everyone is being told.",
            answer=Alerted(at=said.at, kind=f"{command.kind}_over", unit=command.unit),
            events=(EmergencyOver(kind=command.kind),),
            notices=(Notice(to=("all",), kind="alert", name="emergency", text=text),),
        )
    who = f" {unit_name(command.unit)}" if command.unit else ""
    place = command.parts.location if command.parts is not None else None
    where = f" ({place})" if place else ""
    more = f" “{command.text}”" if command.text else ""
    return Outcome(
        intent=command.intent,
        lead=f"{word}{who}{where} {clock(said.at, said.tz)}: logged, everyone is being told. {RADIO}",
        answer=Alerted(at=said.at, kind=command.kind, unit=command.unit, place=place),
        events=(EmergencyDeclared(kind=command.kind, unit=command.unit, text=command.text),),
        notices=(Notice(to=("all",), kind="alert", name="emergency", text=f"{word}{who}{where}, {_by(said)}.{more}"),),
        follow_up=_is_it_a_mayday(command, scene) or propose_par(word.lower()),
        opens=True,
    )


def _is_it_a_mayday(command: Emergency, scene: Scene) -> Question | None:
    """Somebody of ours in it: everyone is told, and it is asked whether it is a Mayday."""
    ours = command.parts is not None or command.kind in ("missing_member", "downed_member")
    if not ours or scene.mayday_open:
        return None
    parts = command.parts or Mayday(unit=command.unit, text=command.text)
    par = propose_par("").choices[0]
    return Question("Is that a Mayday? PAR proposed.", (Choice("Mayday", (parts,)), par, Choice("no")))


@handle.register
def report(command: Report, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Something for the log that is no benchmark; the crew hears what concerns it."""
    what = REPORTS[command.kind]
    where = f", {command.place}" if command.place else ""
    number = f" ({command.count})" if command.count else ""
    text = f"{what}{number}{where}, {clock(said.at, said.tz)}."
    body = Noted(kind=command.kind, text=command.text, unit=command.unit, place=command.place, count=command.count)
    told = command.kind in (
        "victim_found",
        "victim_removed",
        "alarm",
        "cancel_incoming",
        "rit_deployed",
        "transfer_of_command",
    )
    quoted = "" if told and not command.text else f" “{command.text}”"
    cautions: tuple[str, ...] = ()
    if command.kind == "fire_out":
        cautions = ("No benchmark stamped: say “under control” or “suppression complete” when it is.",)
    return Outcome(
        intent=command.intent,
        lead=f"{text} Logged.",
        how=(f"“{command.text}”",) if command.kind in ("can", "size_up", "note") and command.text else (),
        answer=NoteAnswer(
            at=said.at,
            kind=command.kind,
            text=command.text,
            unit=command.unit,
            place=command.place,
            count=command.count,
        ),
        cautions=cautions,
        events=(Dated(body, unit=command.unit),),
        notices=(Notice(to=("officer", "crew"), kind="notice", name=command.kind, text=f"{text}{quoted}"),)
        if told
        else (),
    )
