"""The start of an incident: the dispatch text, its short brief, and whether it is a fire or a medical run."""

from __future__ import annotations

import re
from datetime import datetime

from grammar.commands import Benchmark, Choice, Dispatch, IncidentKind, Question, Report
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import BenchmarkReported, IncidentOpened, KindSet
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, listed, stated, unit_name

KIND_WORDS = {"fire": "a fire", "medical": "a medical run"}


class DispatchAnswer(Answer, frozen=True):
    """Answer of `dispatch`."""

    at: datetime
    kind: str
    nature: str | None
    address: str | None
    units: tuple[str, ...]


class KindAnswer(Answer, frozen=True):
    """Answer of `incident_kind`."""

    kind: str


@handle.register
def dispatch(command: Dispatch, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The dispatch opens the incident, starts the duration clock, and is briefed to the crew's room and every unit."""
    if scene.open and scene.dispatch_text is not None and said.live:
        return _second(command, scene)
    at, clocks = _when(command, said)
    kind = command.kind or "fire"
    brief = brief_of(command, at, said)
    opened = IncidentOpened(
        kind=kind, nature=command.nature, address=command.address, units=command.units, text=command.text
    )
    stamp = BenchmarkReported("dispatched", unit=said.unit or None)
    return Outcome(
        intent=command.intent,
        lead=brief,
        how=(f"Taken as {KIND_WORDS[kind]}. The duration clock runs; “on scene” starts the on-scene clock.",),
        spoken=brief,
        answer=DispatchAnswer(at, kind, command.nature, command.address, command.units),
        assumed=(*clocks, *(() if command.kind else ("a fire: say “this is a medical run” if it is one",))),
        events=(Dated(opened, at=at), Dated(stamp, at=at)),
        notices=(Notice(("crew", *(unit for unit in command.units if unit != said.unit)), "notice", "brief", brief),),
        opens=True,
    )


def _when(command: Dispatch, said: Said) -> tuple[datetime, tuple[str, ...]]:
    """When it was dispatched. A time ahead of our clock loses no dispatch: when it came in counts, and it says so."""
    try:
        return stated(command.time, said.at, said.tz), ()
    except NeedsAnswer:
        return said.at, ("dispatched now: the stated time is still to come by this clock",)


def brief_of(command: Dispatch, at: datetime, said: Said) -> str:
    """Nature, address, units and the rest in one short line."""
    known = [part for part in (command.nature, command.address) if part]
    text = ", ".join((*known, *_rest(command))) if len(known) == 2 else command.text
    units = listed([unit_name(unit) for unit in command.units])
    return f"Dispatched {clock(at, said.tz)}: {text}." + (f" {units}." if units else "")


_ONLY_A_UNIT = re.compile(r"(?:(?:and |& )?(?:[A-Za-z]+ ){0,2}[A-Za-z]*\d+ ?)+")


def _rest(command: Dispatch) -> list[str]:
    """What else was said, part by part: "caller reports people inside"."""
    told = f"{command.nature}, {command.address}".casefold()
    parts = [part.strip(" .") for part in re.split(r"[,;\n]|\. ", command.text)]
    return [
        part
        for part in parts
        if part
        and part.casefold() not in told
        and not _ONLY_A_UNIT.fullmatch(part)
        and "en route" not in part.casefold()
    ]


def _second(command: Dispatch, scene: Scene) -> Outcome:
    """A dispatch while an incident is open is a new call, or more about this one: asked."""
    here = ", ".join(part for part in (scene.nature, scene.address) if part) or "an incident"
    close = Benchmark(benchmark="command_terminated")
    note = Report(kind="note", text=command.text)
    choices = (Choice("Close it, open a new one", (close, command)), Choice("More about this one", (note,)))
    return Outcome(
        intent=command.intent, question=Question(f"{here[:1].upper()}{here[1:]} is open. A new incident?", choices)
    )


@handle.register
def incident_kind(command: IncidentKind, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A fire or a medical run: decides which reminders live."""
    if said.live and not scene.open:
        raise Refusal("No incident is open: report “on scene” or paste the dispatch first.")
    off = " Fire reminders are off." if command.kind == "medical" else ""
    return Outcome(
        intent=command.intent,
        lead=f"Taken as {KIND_WORDS[command.kind]}, {clock(said.at, said.tz)}.{off}",
        answer=KindAnswer(command.kind),
        events=(KindSet(command.kind),),
    )
