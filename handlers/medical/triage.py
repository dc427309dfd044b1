"""Triage as it was reported: tallies by category and place; what is wanted is counted, not ordered."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from grammar.commands import Choice, Question, Triage, TriageGroup
from handlers.care import CATEGORIES, Care
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events_medical import TriageNoted
from handlers.folding.care import APPLY
from handlers.medical.patients import meant, tally_words
from handlers.medical.vitals import opens_as_medical
from handlers.outcome import Answer, Dated, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, listed, stated, unit_name


class TriageAnswer(Answer, frozen=True):
    """Answer of `triage`: how many of each category are still here, and how many were transported."""

    at: datetime
    red: int
    yellow: int
    green: int
    gray: int
    black: int
    here: int
    transported: int
    wanted: dict[str, int]


def tallies(care: Care, at: datetime) -> TriageAnswer:
    """The tallies as they stand."""
    counts = {category: care.count(category) for category in CATEGORIES}
    return TriageAnswer(at=at, **counts, here=care.here, transported=care.transported, wanted=care.wanted)


@handle.register
def triage(command: Triage, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Log what was reported, and tell the tallies that follow."""
    at = stated(command.time, said.at, said.tz)
    if command.action == "changed" and not command.groups:
        command = replace(command, patient=meant(scene, command.patient))
    named = command.groups or command.all or command.count is not None
    if command.action in ("counted", "total", "moved", "transported") and not named:
        raise Refusal("How many of which category? Say “two reds, four yellows at the bus”.")
    if (asked := _too_many(command, scene)) is not None:
        return Outcome(intent=command.intent, question=asked)
    when = clock(at, said.tz)
    body = TriageNoted(replace(command, time=None))
    after = _after(scene, body, at, said)
    text = _words(command, after)
    return Outcome(
        intent=command.intent,
        lead=f"{text}, {when}. Logged.",
        how=tuple(summary(after)),
        spoken=f"{text}. {tally_words(after)}.",
        answer=tallies(after, at),
        events=(*opens_as_medical(scene), Dated(body, at=at)),
        opens=True,
    )


def _after(scene: Scene, body: TriageNoted, at: datetime, said: Said) -> Care:
    from handlers.events import Event

    event = Event("", 0, at, at, said.who, said.unit, "", "", 0, body)
    folded: Scene = APPLY[TriageNoted](scene, body, event)
    return folded.care


def _too_many(command: Triage, scene: Scene) -> Question | None:
    """More of a category changed, moved or gone than were reported: asked."""
    if command.action not in ("changed", "moved", "transported") or command.all:
        return None
    care = scene.care
    if command.action == "changed" and not command.groups:
        if command.patient not in care.patients:
            raise Refusal("Which patient? Say “one of the yellows is a red now”, or the patient first.")
        return None
    short = [group for group in command.groups if group.count > care.count(group.category)]
    if not short or not care.tallies:
        return None
    named = listed([f"{group.count} {group.category}" for group in short])
    known = listed([f"{care.count(group.category)} {group.category}" for group in short])
    held = tuple(TriageGroup(group.category, min(group.count, care.count(group.category))) for group in command.groups)
    more = tuple(TriageGroup(group.category, group.count - care.count(group.category)) for group in short)
    return Question(
        f"{named}? Reported here: {known}.",
        (
            Choice("There were more: count them", (Triage("counted", more), command)),
            Choice(
                f"Only {listed([f'{group.count} {group.category}' for group in held])}",
                (replace(command, groups=held),),
            ),
        ),
    )


def _words(command: Triage, after: Care) -> str:
    groups = listed([f"{group.count} {group.category}" for group in command.groups])
    where = f" {command.place}" if command.place else ""
    match command.action:
        case "started":
            return "Triage started"
        case "counted" | "total":
            return f"{groups}{where}" if groups else f"{command.count} patients reported{where}"
        case "changed":
            return f"{groups or f'Patient {command.patient}'} now {command.to_category}"
        case "moved":
            return f"{groups} moved{f' to {command.place}' if command.place else ''}"
        case "transported":
            what = "All patients" if command.all else groups
            return f"{what} transported{f' with {unit_name(command.unit)}' if command.unit else ''}"
    want = command.want or "ambulances"
    return f"{command.count or 1} more {want} wanted, counted; this orders nothing: call for them"


def summary(care: Care) -> list[str]:
    """The tallies in all, by place, what is gone and what is wanted."""
    lines = []
    if care.tallies or care.gone:
        gone = f", {care.transported} transported" if care.transported else ""
        total = f"; {care.here + care.transported} in all" if care.transported else ""
        lines.append(f"{tally_words(care)}{gone}{total}.".capitalize())
    places = list(dict.fromkeys(tally.place for tally in care.tallies if tally.place))
    for place in places:
        there = [f"{tally.category} {tally.count}" for tally in care.tallies if tally.place == place]
        lines.append(f"{place[:1].upper()}{place[1:]}: {', '.join(there)}.")
    if care.total is not None and care.total != care.here + care.transported:
        lines.append(f"Patients as told: {care.total}.")
    for want, count in care.wanted.items():
        lines.append(f"Wanted so far: {count} {want}.")
    return lines
