"""Benchmarks as they are reported: stamped with the time they happened, echoed in one short line, asked back when they
can't be.

Any order is accepted but one: dispatched ≤ arrival ≤ under control ≤ terminated (the NFIRS 5.0 order edits of alarm,
arrival, controlled and last unit cleared, as quoted in published guides).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import Benchmark, Choice, IncidentKind, Question, SaidTime, WaterSource
from handlers.desk import handle, own_unit
from handlers.errors import Refusal
from handlers.events import BenchmarkReported, EventBody, IncidentClosed, UnitJoined
from handlers.incident.describing import BENCHMARK_WORDS
from handlers.incident.roles import claimed
from handlers.outcome import Answer, Dated, Notice, Outcome, Said
from handlers.rig import Rig
from handlers.rights import commander
from handlers.scene import Scene, Stamp
from handlers.times import clock, listed, minutes, stated, unit_name
from handlers.words import Words

ORDER = ("dispatched", "on_scene", "under_control", "command_terminated")
ORDER_WORDS = {
    "dispatched": "the dispatch",
    "on_scene": "the arrival",
    "under_control": "under control",
    "command_terminated": "command terminated",
}
OF_A_UNIT = frozenset({"dispatched", "en_route", "on_scene", "available", "returning", "in_quarters"})
"""What each unit reports for itself."""
AFTERWARDS = frozenset({"available", "returning", "in_quarters"})
LONG_BEFORE = timedelta(minutes=30)
"""What is stated to have happened so long before the incident opened is asked back."""
OPENS_NOTHING = AFTERWARDS | {"command_terminated"}


class BenchmarkAnswer(Answer, frozen=True):
    """Answer of `benchmark`."""

    benchmark: str
    at: datetime
    unit: str | None
    place: str | None


@handle.register
def benchmark(command: Benchmark, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A benchmark was reported: stamp it, or ask when it can't be so."""
    if said.live and command.benchmark in OPENS_NOTHING and scene.opened_at is None:
        raise Refusal("No incident is open: there is nothing to close or to leave.")
    if command.unit is None and command.benchmark in OF_A_UNIT and said.unit not in ("", own_unit(rig)):
        command = replace(command, unit=said.unit)  # another company speaks of itself
    if (claim := claimed(command, scene, said)) is not None:
        return claim
    command = _where(_when(command, scene, said), scene, said)
    at = stated(command.time, said.at, said.tz)
    known = already(command, scene, said)
    if known is not None:
        return _known(command, known, at, said)
    if not command.sure:
        question = (
            _closing(command, scene) or _order(command, at, scene, said) or _long_before(command, at, scene, said)
        )
        if question is not None:
            return Outcome(intent=command.intent, question=question)
    text = echo(command, at, said)
    return Outcome(
        intent=command.intent,
        lead=text,
        how=(*_kept(command), *_what_follows(command, scene, rig, said)),
        spoken=text,
        answer=BenchmarkAnswer(command.benchmark, at, command.unit, command.place),
        events=_events(command, at, said),
        notices=(Notice(("crew",), "notice", "benchmark", text), *_to_the_driver(command, scene, said)),
        follow_up=_follow_up(command, scene, said),
        opens=command.benchmark not in OPENS_NOTHING,
    )


def _when(command: Benchmark, scene: Scene, said: Said) -> Benchmark:
    """ "Two minutes after that": counted from the speaker's last report, as a time of day."""
    own = [stamp for stamp in scene.stamps if stamp.who == said.who]
    if command.time is None or command.time.after_s is None or not own:
        return command
    at = max(own, key=lambda stamp: stamp.seq).at + timedelta(seconds=command.time.after_s)
    local = at.astimezone(said.tz) if said.tz is not None else at
    return replace(command, time=SaidTime(local.hour, local.minute, local.second))


HERE = frozenset(("up here", "down here", "in here", "back here", "over here", "this floor", "this side", "our floor"))
"""Places that only the speaker sees."""


def _where(command: Benchmark, scene: Scene, said: Said) -> Benchmark:
    """ "Up here" is where the speaker's crew is logged; where that isn't known it stays as said, a part in any case."""
    if command.place not in HERE:
        return command
    crew, company = scene.crews.get(said.unit), scene.companies.get(said.unit)
    known = (crew.place if crew else None) or (company.place if company else None)
    return replace(command, place=known or command.place)


def echo(command: Benchmark, at: datetime, said: Said) -> str:
    """The one short line: "Water on the fire, 14:12. Logged."."""
    what = BENCHMARK_WORDS[command.benchmark]
    if command.unit is not None:
        what = f"{unit_name(command.unit)} {what[:1].lower()}{what[1:]}"
    if command.staffing:
        what += f" with {command.staffing}"
    where = f", {command.place}" if command.place else ""
    return f"{what}{where}, {clock(at, said.tz)}. Logged."


def _kept(command: Benchmark) -> tuple[str, ...]:
    """What was said beside it stands in the log, and the reply says so."""
    return (f"Kept as said: “{command.remark}”.",) if command.remark else ()


def _events(command: Benchmark, at: datetime, said: Said) -> tuple[EventBody | Dated, ...]:
    unit = command.unit or (said.unit if command.benchmark in OF_A_UNIT else None)
    body = BenchmarkReported(command.benchmark, unit=unit, place=command.place, remark=command.remark)
    events: list[EventBody | Dated] = [Dated(body, at=at, unit=command.unit)]
    if unit is not None and (command.staffing or (command.unit and command.benchmark == "on_scene")):
        events.insert(0, Dated(UnitJoined(unit, staffing=command.staffing), at=at, unit=unit))
    if command.benchmark == "command_terminated":
        events.append(Dated(IncidentClosed(), at=at))
    return tuple(events)


# --- not twice


def already(command: Benchmark, scene: Scene, said: Said) -> Stamp | None:
    """The stamp that this report would only repeat; a supply that was lost since can be established again."""
    unit = command.unit or said.unit
    for stamp in scene.stamps:
        if stamp.benchmark != command.benchmark or stamp.place != command.place:
            continue
        if command.benchmark in OF_A_UNIT and (stamp.unit or "") != unit:
            continue
        if command.benchmark == "water_supply" and _supply_lost_since(stamp, scene):
            continue
        if command.benchmark == "command_established" and command.unit not in (None, commander(scene)):
            continue  # it passes to another unit
        return stamp
    return None


def _supply_lost_since(stamp: Stamp, scene: Scene) -> bool:
    return any(
        pump.source_lost and pump.source_since is not None and pump.source_since > stamp.at
        for pump in scene.pumps.values()
    )


def _known(command: Benchmark, known: Stamp, at: datetime, said: Said) -> Outcome:
    when = clock(known.at, said.tz)
    what = echo(command, known.at, said).removesuffix(". Logged.")
    other = clock(at, said.tz) != when and command.time is not None
    events: tuple[Dated, ...] = ()
    if command.unit is not None and command.staffing:
        events = (Dated(UnitJoined(command.unit, staffing=command.staffing), unit=command.unit),)
    return Outcome(
        intent=command.intent,
        lead=f"{what}: logged already.",
        how=(f"To change its time say “correction” after it was logged; it stays {when}.",) if other else (),
        answer=BenchmarkAnswer(command.benchmark, known.at, command.unit, command.place),
        events=events,
    )


# --- asked back


def _closing(command: Benchmark, scene: Scene) -> Question | None:
    """Command terminated while lines flow or crews are inside is asked first."""
    if command.benchmark != "command_terminated":
        return None
    lines = [line.label for pump in scene.pumps.values() for line in pump.lines]
    flows = any(pump.flow_gpm > 0 for pump in scene.pumps.values())
    inside = [unit_name(crew.crew) for crew in scene.crews_inside]
    parts = []
    if lines:
        parts.append(f"{listed(lines)} logged as {'flowing' if flows else 'charged'}")
    if inside:
        parts.append(f"{listed(inside)} logged inside")
    if scene.mayday_open:
        parts.append("a Mayday open")
    if not parts:
        return None
    return Question(
        f"{'; '.join(parts)}. Terminate command?",
        (Choice("Terminate anyway", (replace(command, sure=True),)), Choice("Not yet")),
    )


def _order(command: Benchmark, at: datetime, scene: Scene, said: Said) -> Question | None:
    """A time that breaks the one fixed order is asked back."""
    if command.benchmark not in ORDER or command.place is not None:
        return None
    times = {name: stamp.at for name in ORDER if (stamp := scene.stamp(name)) is not None}
    known = times.get(command.benchmark)
    if known is not None and known <= at:
        return None
    rank = ORDER.index(command.benchmark)
    what = BENCHMARK_WORDS[command.benchmark]
    for name, other in times.items():
        broken = other > at if ORDER.index(name) < rank else other < at
        if name == command.benchmark or not broken:
            continue
        relation = "before" if at < other else "after"
        when, other_when = (clock(t, said.tz, seconds=True) for t in (at, other))
        asked = f"{what} at {when} would be {relation} {ORDER_WORDS[name]} at {other_when}. Log it?"
        return Question(asked, _log_it(command))
    return None


def _long_before(command: Benchmark, at: datetime, scene: Scene, said: Said) -> Question | None:
    """A stated time that is far (or a day) before the incident began is asked back."""
    if command.time is None or scene.opened_at is None or scene.opened_at - at < LONG_BEFORE:
        return None
    what, early = BENCHMARK_WORDS[command.benchmark], minutes((scene.opened_at - at).total_seconds())
    asked = f"{what} at {clock(at, said.tz)} would be {early} before this incident began. Log it?"
    return Question(asked, _log_it(command))


def _log_it(command: Benchmark) -> tuple[Choice, ...]:
    """Log a doubtful time, take the time of now in its place, or don't log it."""
    now = (Choice("It was now", (replace(command, time=None),)),) if command.time is not None else ()
    return (Choice("Log it anyway", (replace(command, sure=True),)), *now, Choice("Don't log it"))


# --- what follows


def _what_follows(command: Benchmark, scene: Scene, rig: Rig, said: Said) -> tuple[str, ...]:
    if command.benchmark == "under_control" and command.place is None and scene.kind == "fire" and said.live:
        return (f"Elapsed notices stop; one check follows in {rig.intervals.control_check_min:g} min.",)
    if command.benchmark == "command_terminated":
        used = sum(pump.used_at(said.at) for pump in scene.pumps.values())
        return (
            (f"Incident closed. Water used by calculation: {Words.of(rig).gal(used)}.",)
            if used
            else ("Incident closed.",)
        )
    if command.benchmark in AFTERWARDS:
        return ("Say “restore” for what is to be made ready again.",)
    return ()


def _asks_for_source(command: Benchmark, scene: Scene, said: Said) -> bool:
    return command.benchmark == "water_supply" and scene.pump(said.unit).on_tank


def _follow_up(command: Benchmark, scene: Scene, said: Said) -> Question | None:
    """ "Are you on the hydrant?", once; and whether a patient contact means a medical run."""
    if _asks_for_source(command, scene, said):
        on = WaterSource(source="hydrant")
        return Question("Are you on the hydrant?", (Choice("On the hydrant", (on,)), Choice("Still on the tank")))
    if command.benchmark == "patient_contact" and scene.kind == "fire" and scene.dispatch_text is None and said.live:
        medical, fire = IncidentKind(kind="medical"), IncidentKind(kind="fire")
        return Question("Is this a medical run?", (Choice("Medical run", (medical,)), Choice("Fire", (fire,))))
    return None


def _to_the_driver(command: Benchmark, scene: Scene, said: Said) -> tuple[Notice, ...]:
    if not _asks_for_source(command, scene, said) or said.role == "driver":
        return ()
    text = "Water supply reported. Are you on the hydrant? The tank clock runs until you say “on the hydrant”."
    return (Notice(("driver",), "notice", "source", text),)
