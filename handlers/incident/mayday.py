"""Mayday: stamp it, alert every room, keep its clock, ask for the missing parts of LUNAR. It never answers for
command.

LUNAR = Location, Unit, Name, Assignment and Air, Resources needed (Montgomery County (MD) drill, in a trade journal).
Clear text, all units: Wash. Admin. Code 296-305-05000 (13)–(14).
"""

from __future__ import annotations

import re
from datetime import datetime
from itertools import islice

from grammar.commands import Mayday, Question
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import MaydayCleared, MaydayDeclared, MaydayDetail
from handlers.incident.clocks import ticks
from handlers.out_of_incident import RADIO
from handlers.outcome import Answer, Dated, Notice, Outcome, Reminder, Said
from handlers.rig import Rig
from handlers.rights import leads
from handlers.scene import MaydayState, Scene
from handlers.times import clock, duration, spoken_duration, unit_name

PROPOSED = "Proposed to command: PAR, rapid intervention, hold routine traffic."
LUNAR = ("location", "unit", "name", "assignment", "air", "resources")
ASK = {
    "location": "Mayday: where are they?",
    "unit": "Mayday: which unit?",
    "name": "Mayday: who?",
    "assignment": "Mayday: what was their assignment?",
    "air": "Mayday: how much air?",
    "resources": "Mayday: what do they need?",
}
MINUTES_SHOWN = 90  # the clock is planned this far ahead; a later event plans it on


MISSING = {
    "location": "where",
    "unit": "unit",
    "name": "who",
    "assignment": "assignment",
    "air": "air",
    "resources": "needs",
}


class MaydayAnswer(Answer, frozen=True):
    """Answer of `mayday`: LUNAR as far as known, and when it was first reported."""

    at: datetime
    location: str | None = None
    unit: str | None = None
    name: str | None = None
    assignment: str | None = None
    air: str | None = None
    resources: str | None = None
    cleared: bool = False


@handle.register
def mayday(command: Mayday, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A Mayday was heard, a part of LUNAR came, or the officer cleared it."""
    if command.cleared:
        return _cleared(scene, said)
    open_one = scene.mayday if scene.mayday_open else None
    again = command.text is None or "mayday" in command.text.casefold().replace(" ", "")
    parts = {part: getattr(command, part) for part in LUNAR}
    if parts["unit"] is None and again and said.role in ("unit", "guest"):
        parts["unit"] = said.unit or None
    text = command.text if command.text is not None else "Mayday"
    begun = said.asked_at or said.at
    state = (open_one or MaydayState(at=begun)).with_parts(parts)
    known = {part: getattr(state, part) for part in LUNAR}
    body = MaydayDeclared(text=text, **parts) if open_one is None else MaydayDetail(text=text, **parts)
    events = (Dated(body, at=begun if open_one is None else None, unit=known["unit"]),)
    since = state.at
    follow = next((Question(text=ASK[p], fills=Mayday(text=""), slot=p) for p in LUNAR if not known.get(p)), None)
    answer = MaydayAnswer(
        at=since,
        location=known["location"],
        unit=known["unit"],
        name=known["name"],
        assignment=known["assignment"],
        air=known["air"],
        resources=known["resources"],
    )
    summary = _summary(known)
    if open_one is not None and not again:
        return Outcome(
            intent=command.intent,
            lead=f"{RADIO} Mayday: {summary if any(parts.values()) else text}. Logged.",
            answer=answer,
            events=events,
            follow_up=follow,
            notices=(Notice(to=("all",), kind="alert", name="mayday", text=_more(parts, summary, text)),),
        )
    when = clock(since if open_one is None else said.at, said.tz, seconds=True)
    alert = f"MAYDAY reported {when} by {_speaker(said)}: “{text}”."
    if summary:
        alert += f" {summary}."
    return Outcome(
        intent=command.intent,
        lead=f"{RADIO} MAYDAY stamped {clock(begun, said.tz, seconds=True)}, every room is being alerted.",
        how=tuple(line for line in (summary, PROPOSED) if line),
        spoken=f"{RADIO} Mayday logged.",
        answer=answer,
        events=events,
        follow_up=follow,
        notices=(
            Notice(
                to=("all",),
                kind="alert",
                name="mayday",
                text=f"{alert} {RADIO}",
                spoken=f"Mayday, Mayday. {_short(known) or _beside(text)}. {RADIO}",
            ),
        ),
        opens=True,
    )


def _more(parts: dict[str, str | None], summary: str, text: str) -> str:
    """What everyone hears of a Mayday that goes on: its parts, or what was told of it as it was said."""
    if any(parts.values()) or not text:
        return f"MAYDAY, more is known: {summary or text}."
    return f"MAYDAY goes on: “{text}”." + (f" {summary}." if summary else "")


def told_of(mayday: MaydayState) -> tuple[str, str]:
    """What is known of a Mayday in one line, and what isn't."""
    known = {part: getattr(mayday, part) for part in LUNAR}
    return _summary(known), ", ".join(MISSING[part] for part in LUNAR if not known[part])


def _speaker(said: Said) -> str:
    if said.role in ("driver", "officer", "crew"):
        return f"{said.role}, {unit_name(said.unit)}" if said.unit else said.role
    return unit_name(said.unit) if said.unit else said.name or said.who


def _summary(known: dict[str, str | None]) -> str:
    labels = {
        "location": "Location",
        "unit": "Unit",
        "name": "Name",
        "assignment": "Assignment",
        "air": "Air",
        "resources": "Needs",
    }
    return "; ".join(f"{labels[p]}: {unit_name(v) if p == 'unit' else v}" for p, v in known.items() if v)


def _short(known: dict[str, str | None]) -> str:
    """Who and where, for the ear, once both are known; the rest stands in the text."""
    unit, location = known["unit"], known["location"]
    return f"{unit_name(unit)}, {location}" if unit and location else ""


_CALL = re.compile(r"^(?:\W*may\s?day\b)+\W*", re.IGNORECASE)


def _beside(text: str) -> str:
    """What was said beside the word itself, which goes before it aloud."""
    return _CALL.sub("", text) or text


def _cleared(scene: Scene, said: Said) -> Outcome:
    if not scene.mayday_open or scene.mayday is None:
        raise Refusal("No Mayday is open in this incident's log.")
    if not leads(scene, said):
        raise Refusal("The Mayday stays open: only the officer, the driver or who has command clears it.")
    lasted = duration((said.at - scene.mayday.at).total_seconds())
    text = f"Mayday cleared by {_speaker(said)}, {clock(said.at, said.tz)}, {lasted} after it was reported."
    return Outcome(
        intent=Mayday.intent,
        lead=f"{RADIO} {text} Logged.",
        answer=MaydayAnswer(at=scene.mayday.at, cleared=True),
        events=(Dated(MaydayCleared()),),
        notices=(Notice(to=("all",), kind="alert", name="mayday_cleared", text=text),),
    )


def mayday_clock(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """Every minute of an open Mayday, to every room."""
    if not scene.mayday_open or scene.mayday is None:
        return []
    start = scene.mayday.at
    known, missing = told_of(scene.mayday)
    found = []
    for count, at in islice(ticks(start, rig.intervals.mayday_clock_min, now), MINUTES_SHOWN):
        lasted = (at - start).total_seconds()
        text = f"MAYDAY, {duration(lasted)} since it was reported. {known}".strip(" .") + "."
        if missing:
            text += f" Not known: {missing}."
        found.append(
            Reminder(
                key=f"mayday_clock/{start.isoformat()}/{count}",
                name="mayday_clock",
                at=at,
                to=("all",),
                text=text,
                kind="alert",
                spoken=f"Mayday, {spoken_duration(lasted)}." + (f" Not known: {missing}." if missing else ""),
            )
        )
    return found
