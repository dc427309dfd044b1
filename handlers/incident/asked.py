"""Questions about the incident, answered from the log: how long, what was reported, what is on. It judges nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import get_args

from msgspec.structs import replace

from grammar.commands import BenchmarkName, Elapsed, Status
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.incident.accountability import outstanding, rehab_due_at
from handlers.incident.clocks import clocks_text, duration_clock, on_scene_clock
from handlers.incident.describing import BENCHMARK_WORDS
from handlers.incident.mayday import told_of
from handlers.medical.patients import counts_line, tally_words
from handlers.outcome import Answer, Outcome, Said
from handlers.reminders import due
from handlers.rig import Rig
from handlers.scene import Crew, Scene, Stamp
from handlers.times import clock, duration, listed, minutes, unit_name
from handlers.water.state import tank_line
from handlers.words import Words

NOT_OPEN = "No incident is open."
BENCHMARKS: tuple[str, ...] = get_args(BenchmarkName)
SEARCHES = {
    "search": "primary_search_complete",
    "primary": "primary_search_complete",
    "secondary": "secondary_search_complete",
}


class ElapsedAnswer(Answer, frozen=True):
    """Answer of `elapsed`: both clocks, and the time since a benchmark where that was asked."""

    on_scene_s: float | None
    duration_s: float | None
    since: str | None = None
    since_s: float | None = None
    until: str | None = None


class StatusAnswer(Answer, frozen=True):
    """Answer of `status`: whether a benchmark was reported and when; the lines that were told."""

    about: str
    reported: bool | None
    reported_at: datetime | None
    told: tuple[str, ...]


@handle.register
def elapsed(command: Elapsed, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Asked: how long. Both clocks, always named."""
    if not scene.open:
        raise Refusal(NOT_OPEN)
    on_scene, incident = on_scene_clock(scene), duration_clock(scene)
    both = clocks_text(scene, said.at)
    since = scene.stamp(command.since, partial=True) if command.since else None
    if command.since is not None and since is None:
        raise Refusal(f"{BENCHMARK_WORDS[command.since]}: not reported so far. {both[:1].upper()}{both[1:]}.")
    lead, how = f"{both[:1].upper()}{both[1:]}.", ""
    since_s = None
    until = scene.stamp(command.until, partial=True) if command.until else None
    if command.until is not None and until is None:
        raise Refusal(f"{BENCHMARK_WORDS[command.until]}: not reported so far. {both[:1].upper()}{both[1:]}.")
    if since is not None and until is not None:
        since_s = (until.at - since.at).total_seconds()
        lead, how = _between(since, until, said), lead
    elif since is not None:
        since_s = (said.at - since.at).total_seconds()
        lead, how = (
            f"{minutes(since_s)} since {BENCHMARK_WORDS[since.benchmark].lower()} ({clock(since.at, said.tz)}).",
            lead,
        )
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=(how,) if how else (),
        answer=ElapsedAnswer(
            on_scene.seconds(said.at) if on_scene else None,
            incident.seconds(said.at) if incident else None,
            command.since,
            since_s,
            command.until,
        ),
    )


def _between(since: Stamp, until: Stamp, said: Said) -> str:
    """ "4 min from water on the fire (14:02) to under control (14:06)."; the earlier one first."""
    first, second = sorted((since, until), key=lambda stamp: stamp.at)
    ends = [f"{BENCHMARK_WORDS[stamp.benchmark].lower()} ({clock(stamp.at, said.tz)})" for stamp in (first, second)]
    return f"{minutes((second.at - first.at).total_seconds())} from {ends[0]} to {ends[1]}."


@handle.register
def status(command: Status, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Asked: how things stand, from the log alone."""
    if scene.opened_at is None:
        raise Refusal(NOT_OPEN)
    if scene.closed_at is not None and said.at > scene.closed_at:
        said = replace(said, at=scene.closed_at)  # nothing runs on in a closed incident
    about = command.about or "everything"
    about = SEARCHES.get(about, about)
    if about in BENCHMARKS:
        return _of_benchmark(about, scene, said)
    ask = ABOUT.get(about)
    if ask is None:
        raise Refusal("Ask about lines, water, crews, PAR, air, rehab, benchmarks, units or reminders.")
    told = ask(scene, rig, said)
    if command.unit is not None:
        name = unit_name(command.unit)
        told = [line for line in told if name in line] or [f"{name}: nothing logged on that."]
    return Outcome(
        intent=command.intent,
        lead=told[0],
        how=tuple(told[1:]),
        answer=StatusAnswer(about, None, None, tuple(told)),
    )


def _of_benchmark(name: str, scene: Scene, said: Said) -> Outcome:
    """Whether a benchmark was reported: when and by whom; for parts only where it was for parts."""
    whole = scene.stamp(name)
    parts = [stamp for stamp in scene.stamps if stamp.benchmark == name and stamp.place is not None]
    what = BENCHMARK_WORDS[name]
    told = [f"{what}: reported {_when(whole, said)}."] if whole else [f"{what}: not reported so far."]
    told += [f"{what}, {stamp.place}: reported {_when(stamp, said)}." for stamp in parts]
    if whole is None and parts:
        told = [f"{what}: not reported for the whole.", *told[1:]]
    return Outcome(
        intent=Status.intent,
        lead=told[0],
        how=tuple(told[1:]),
        answer=StatusAnswer(name, whole is not None, whole.at if whole else None, tuple(told)),
    )


def _when(stamp: Stamp, said: Said) -> str:
    by = unit_name(stamp.unit) if stamp.unit else f"the {stamp.role}" if stamp.role else stamp.who
    return f"{clock(stamp.at, said.tz)} by {by}" if by else clock(stamp.at, said.tz)


# --- about what: each gives the lines that are told, the most important first


def _lines(scene: Scene, rig: Rig, said: Said) -> list[str]:
    words, told = Words.of(rig), []
    for pump in scene.pumps.values():
        for line in pump.lines:
            where = f", {line.place}" if line.place else ""
            flow = "charged, nothing flowing," if line.held else f"on, {words.gpm(line.flow_gpm)}"
            told.append(f"{unit_name(pump.unit)}, {line.label}{where}: {flow} at {words.psi(line.pressure_psi)}.")
        on = {line.label for line in pump.lines}
        shut = dict.fromkeys(line.label for line in pump.shut if line.label not in on)
        told += [f"{unit_name(pump.unit)}, {label}: shut." for label in shut]
    return told or ["No line is logged as on."]


def _water(scene: Scene, rig: Rig, said: Said) -> list[str]:
    words, told = Words.of(rig), []
    for pump in scene.pumps.values():
        told.append(f"{unit_name(pump.unit)}: {tank_line(pump, said, rig)}")
        used = pump.used_at(said.at)
        if used:
            flow = f"{words.gpm(pump.flow_gpm)} flowing" if pump.flow_gpm > 0 else "nothing flowing"
            told.append(f"{unit_name(pump.unit)}: {flow}, {words.gal(used)} used by calculation.")
        if pump.supply_expected_at is not None and pump.on_tank:
            who = unit_name(pump.supply_unit) if pump.supply_unit else "A supply"
            told.append(f"{who} expected about {clock(pump.supply_expected_at, said.tz)}.")
    supply = scene.stamp("water_supply", partial=True)
    told.append(f"Water supply: reported {_when(supply, said)}." if supply else "Water supply: not reported so far.")
    if scene.needed_gpm:
        told.append(f"Needed flow {words.gpm(scene.needed_gpm)} ({scene.needed_method}).")
    return told


def _crews(scene: Scene, rig: Rig, said: Said) -> list[str]:
    told = [_crew(crew, said, Words.of(rig)) for crew in scene.crews_inside]
    told += [
        f"{unit_name(crew.crew)}: in rehab since {clock(crew.rehab_since, said.tz)}."
        for crew in scene.crews.values()
        if crew.rehab_since
    ]
    return told or ["No crew is logged inside.", *_last_out(scene, said)]


def _rehab(scene: Scene, rig: Rig, said: Said) -> list[str]:
    """Who is in rehab, and who is due for it by cylinders or time worked."""
    told = []
    for crew in scene.crews.values():
        due = rehab_due_at(crew, rig, said.at)
        if crew.rehab_since is not None:
            told.append(f"{unit_name(crew.crew)}: in rehab since {clock(crew.rehab_since, said.tz)}.")
        elif due is not None:
            when = f"since {clock(due, said.tz)}" if due <= said.at else f"at {clock(due, said.tz)} at the latest"
            told.append(f"{unit_name(crew.crew)}: due for rehab {when}, by cylinders or time worked.")
    return told or ["No crew is logged in rehab or due for it."]


def _last_out(scene: Scene, said: Said) -> list[str]:
    """Who came out last, and how long they were in."""
    left = [(c.left_at, c.entered_at, c) for c in scene.crews.values() if c.left_at and c.entered_at]
    if not left:
        return []
    out_at, in_at, crew = max(left, key=lambda one: one[0])
    inside = minutes((out_at - in_at).total_seconds())
    return [f"Last out: {unit_name(crew.crew)}, {clock(out_at, said.tz)}, after {inside}."]


def _crew(crew: Crew, said: Said, words: Words) -> str:
    entered = crew.entered_at or said.at
    people = f" with {crew.count}" if crew.count else ""
    where = f", {crew.place}" if crew.place else ""
    gauge = (
        f", last gauge {words.gauge(crew.gauges[-1].psi)} at {clock(crew.gauges[-1].at, said.tz)}"
        if crew.gauges
        else ", no gauge"
    )
    inside = minutes((said.at - entered).total_seconds())
    if crew.coming_out_at is not None:
        where += f", coming out since {clock(crew.coming_out_at, said.tz)}"
    elif crew.told_out_at is not None:
        where += f", told to come out {clock(crew.told_out_at, said.tz)}"
    return f"{unit_name(crew.crew)}{people} inside {inside} (since {clock(entered, said.tz)}){where}{gauge}."


def _par(scene: Scene, rig: Rig, said: Said) -> list[str]:
    check = scene.par
    if check is None:
        return ["No PAR recorded so far."]
    told = [f"Last PAR {'requested' if check.asked else 'reported'} {clock(check.at, said.tz)}."]
    for unit, count, missing, at in check.answered:
        number = f"PAR of {count}" if count is not None else "PAR, no number"
        short = f", {missing} not reported" if missing else ""
        told.append(f"{unit_name(unit)}: {number}{short}, {clock(at, said.tz)}.")
    silent, _ = outstanding(check)
    if silent:
        told.append(f"No answer: {listed([unit_name(unit) for unit in silent])}.")
    return told


def _benchmarks(scene: Scene, rig: Rig, said: Said) -> list[str]:
    told = []
    for stamp in scene.stamps:
        where = f", {stamp.place}" if stamp.place else ""
        unit = f"{unit_name(stamp.unit)} " if stamp.unit else ""
        what = BENCHMARK_WORDS[stamp.benchmark]
        told.append(f"{clock(stamp.at, said.tz)} {unit}{what.lower() if unit else what}{where}")
    return told or ["No benchmark reported so far."]


def _units(scene: Scene, rig: Rig, said: Said) -> list[str]:
    told = []
    for company in scene.companies.values():
        if company.left_at is not None:
            where = f"left {clock(company.left_at, said.tz)}"
        elif company.on_scene_at is not None:
            where = f"on scene {clock(company.on_scene_at, said.tz)}"
        elif company.en_route_at is not None:
            where = f"en route {clock(company.en_route_at, said.tz)}"
        elif company.dispatched_at is not None:
            where = f"dispatched {clock(company.dispatched_at, said.tz)}"
        else:
            where = "no arrival reported"
        people = f" with {company.staffing}" if company.staffing else ""
        task = (
            f", {', '.join(part for part in (company.place, company.task) if part)}"
            if company.place or company.task
            else ""
        )
        told.append(f"{unit_name(company.unit)}{people}: {where}{task}.")
    return told or ["No unit logged."]


def _reminders(scene: Scene, rig: Rig, said: Said) -> list[str]:
    following: dict[str, str] = {}
    for reminder in due(scene, rig, said.at + timedelta(seconds=1)):
        following.setdefault(
            reminder.name, f"{reminder.name.replace('_', ' ')}: {clock(reminder.at, said.tz, seconds=True)}"
        )
    return ["Next: " + "; ".join(following.values()) + "."] if following else ["No reminder is due."]


def _mayday(scene: Scene, rig: Rig, said: Said) -> list[str]:
    if scene.mayday is None:
        return ["No Mayday is logged in this incident."]
    known, missing = told_of(scene.mayday)
    if scene.mayday.cleared_at is not None:
        head = f"Mayday of {clock(scene.mayday.at, said.tz)}, cleared {clock(scene.mayday.cleared_at, said.tz)}."
    else:
        running = duration((said.at - scene.mayday.at).total_seconds())
        head = f"MAYDAY since {clock(scene.mayday.at, said.tz)}, {running}."
    return [head, *([f"{known}."] if known else []), *([f"Not known: {missing}."] if missing else [])]


def _everything(scene: Scene, rig: Rig, said: Said) -> list[str]:
    both = clocks_text(scene, said.at)
    told = _mayday(scene, rig, said) if scene.mayday_open else []
    told.append(f"{both[:1].upper()}{both[1:]}.")
    for part in (_lines, _water, _crews, _par):
        told += part(scene, rig, said)
    told += [f"{counts_line(patient, said.tz)}." for patient in scene.care.patients.values()]
    if scene.care.triaged:
        told.append(f"Triage: {tally_words(scene.care)}, {scene.care.transported} transported.")
    last = scene.stamps[-1] if scene.stamps else None
    if last is not None:
        told.append(f"Last benchmark: {BENCHMARK_WORDS[last.benchmark].lower()}, {clock(last.at, said.tz)}.")
    return told


ABOUT: dict[str, Callable[[Scene, Rig, Said], list[str]]] = {
    "everything": _everything,
    "lines": _lines,
    "water": _water,
    "crews": _crews,
    "air": _crews,
    "rehab": _rehab,
    "par": _par,
    "benchmarks": _benchmarks,
    "units": _units,
    "reminders": _reminders,
    "mayday": _mayday,
}
