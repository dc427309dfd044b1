"""The incident's record, folded from its log: activity rows, response times, water, lines, crews, and the open
standard's field names.

Response objectives: turnout 80 s, travel 240 s for the first engine (NFPA 1710 as quoted; settings
`intervals.turnout_s`, `travel_s`). Field names: NERIS data framework (ulfsri/neris-framework, commit 8a6440d, 30 Jul
2025). Times in UTC, ISO 8601 with offset; benchmarks without a field of their own are timed comments. "NERIS field
names" only: the record doesn't claim to comply.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from typing import Any

import msgspec
from msgspec.structs import replace

from handlers import events as ev
from handlers.events import Event
from handlers.history import effective, fold
from handlers.incident.clocks import duration_clock
from handlers.incident.describing import BENCHMARK_WORDS, describe, line_names
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, duration, unit_name
from handlers.words import Words

CAUTION = (
    "From what was said in the rooms and what was calculated from it. "
    "Gauges, dispatch times and the incident commander's own log rule."
)
FIELDS = {
    "command_established": "time_command_established",
    "size_up": "time_sizeup_completed",
    "suppression_complete": "time_suppression_complete",
    "primary_search_started": "time_primary_search_begin",
    "primary_search_complete": "time_primary_search_complete",
    "water_on_fire": "time_water_on_fire",
    "under_control": "time_fire_under_control",
    "knocked_down": "time_fire_knocked_down",
    "extrication_complete": "time_extrication_complete",
}
"""Benchmark → tactic timestamp field; the other benchmarks have none."""
WATER = {"draft": "DRAFT_FROM_STATIC_SOURCE", "nurse": "NURSE_OTHER_APPARATUS", "tank": "TANK_WATER"}


class RecordRow(msgspec.Struct, frozen=True):
    """One line of the activity log."""

    at: datetime
    text: str
    who: str
    unit: str
    kind: str
    seq: int
    taken_back: bool = False
    logged_at: datetime | None = None


class Response(msgspec.Struct, frozen=True):
    """A unit's turnout (dispatched to en route) and travel (en route to on scene), in seconds or None."""

    unit: str
    turnout_s: float | None
    travel_s: float | None
    staffing: int | None = None


class Working(msgspec.Struct, frozen=True):
    """A line from one change of it to the next: what it flowed, at which pressure."""

    label: str
    flow_gpm: float
    """0 while its nozzle was shut."""
    pressure_psi: float
    since: datetime
    until: datetime | None
    """None: still so."""
    change: str = ""
    """What ended it, where it wasn't shut: "gated", "nozzle shut, still charged"."""


class WaterUse(msgspec.Struct, frozen=True):
    """What one pump used, in gallons, and its lines as they truly worked, in the order of their times."""

    unit: str
    used_gal: float
    lines: tuple[Working, ...]


class AirUse(msgspec.Struct, frozen=True):
    """One crew's entry: when in, when out, its readings."""

    crew: str
    count: int | None
    entered_at: datetime
    left_at: datetime | None
    gauges: tuple[tuple[datetime, float], ...]


class Record(msgspec.Struct, frozen=True):
    """Everything that a report shows."""

    incident: str
    department: str
    scene: Scene
    rows: tuple[RecordRow, ...]
    responses: tuple[Response, ...]
    water: tuple[WaterUse, ...]
    air: tuple[AirUse, ...]
    until: datetime
    sources: tuple[str, ...] = ()
    """Water sources that were reported, in order."""
    caution: str = CAUTION


def record(events: Sequence[Event], rig: Rig, now: datetime, tz: tzinfo | None = None) -> Record:
    """The record of an incident's log as it stands at `now` (its close, when it is closed), in local times of `tz`.

    Raises:
        ValueError: the log is empty.
    """
    if not events:
        raise ValueError("an empty log has no record")
    kept = effective(events)
    scene = fold(events)
    counted = {event.seq for event in kept}
    names = line_names(events)
    rows = tuple(
        RecordRow(
            at=event.at,
            text=describe(event.body, tz, Words.of(rig), names.get(event.unit)),
            who=event.role or event.who,
            unit=_unit_of(event, scene),
            kind=type(event.body).__name__,
            seq=event.seq,
            taken_back=event.seq not in counted and not isinstance(event.body, ev.Retracted),
            logged_at=event.logged_at,
        )
        for event in sorted(events, key=lambda e: (e.at, e.seq))
    )
    until = scene.closed_at or max(now, kept[-1].at if kept else now)
    return Record(
        incident=scene.incident or events[0].incident,
        department=rig.department,
        scene=scene,
        rows=rows,
        responses=responses(scene),
        water=water_use(scene, kept, until),
        air=air_use(kept),
        until=until,
        sources=tuple(dict.fromkeys(event.body.source for event in kept if isinstance(event.body, ev.SourceChanged))),
    )


def _unit_of(event: ev.Event, scene: Scene) -> str:
    """The event's unit; a Mayday's is the unit in trouble, whoever called it in, and however late it was named."""
    mayday = scene.mayday
    ours = isinstance(event.body, ev.MaydayDeclared | ev.MaydayDetail | ev.MaydayCleared)
    if ours and mayday is not None and mayday.unit and event.at >= mayday.at:
        return mayday.unit
    return event.unit


def responses(scene: Scene) -> tuple[Response, ...]:
    """Turnout and travel of every unit that reported a time of its own."""
    found = []
    for company in scene.companies.values():
        sent, rolling, there = company.dispatched_at, company.en_route_at, company.on_scene_at
        if rolling is None and there is None:
            continue
        found.append(
            Response(
                unit=company.unit,
                turnout_s=_took(sent, rolling),
                travel_s=_took(rolling, there),
                staffing=company.staffing,
            )
        )
    return tuple(found)


def _took(begun: datetime | None, done: datetime | None) -> float | None:
    """Seconds between two reported times; None where one is missing, or they were reported the wrong way round."""
    return (done - begun).total_seconds() if begun is not None and done is not None and begun <= done else None


def water_use(scene: Scene, kept: Sequence[Event], until: datetime) -> tuple[WaterUse, ...]:
    """Gallons and lines of every pump, from the log: each line from change to change, with what it flowed then."""
    done: dict[str, list[Working]] = {unit: [] for unit in scene.pumps}
    now: dict[tuple[str, int], Working] = {}

    def end(key: tuple[str, int], at: datetime, change: str = "") -> None:
        if key in now and now[key].since < at:
            done[key[0]].append(replace(now[key], until=at, change=change))
        now.pop(key, None)

    for event in sorted(kept, key=lambda e: (e.at, e.seq)):
        body = event.body
        if isinstance(body, ev.LineShut):
            end((event.unit, body.number), event.at)
        elif isinstance(body, ev.LineOpened | ev.LineChanged):
            line = body.line
            key = (event.unit, line.number)
            if isinstance(body, ev.LineChanged) and key not in now:
                continue  # it was shut already
            begun = Working(line.label, line.now_gpm, line.pressure_psi, event.at, None)
            if key in now and replace(now[key], since=event.at) == begun:
                continue  # only its place changed
            end(key, event.at, body.why if isinstance(body, ev.LineChanged) else "")
            now[key] = begun
    for (unit, _), one in now.items():
        done[unit].append(one)
    return tuple(
        WaterUse(unit, pump.used_at(until), tuple(sorted(done[unit], key=lambda one: (one.since, one.label))))
        for unit, pump in scene.pumps.items()
    )


def flow_steps(made: Record) -> tuple[list[datetime], list[float]]:
    """Total flow of all pumps by its true history, as steps: (times, gpm from then on)."""
    changes: list[tuple[datetime, float]] = []
    for use in made.water:
        for line in use.lines:
            changes.append((line.since, line.flow_gpm))
            changes.append((line.until or made.until, -line.flow_gpm))
    times, flows, total = [made.rows[0].at], [0.0], 0.0
    for at, change in sorted(changes):
        total += change
        if at == times[-1]:
            flows[-1] = total
        else:
            times.append(at)
            flows.append(total)
    times.append(made.until)
    flows.append(total)
    return times, [max(0.0, flow) for flow in flows]


def air_use(kept: Sequence[Event]) -> tuple[AirUse, ...]:
    """Every entry with its readings and its end."""
    done: list[AirUse] = []
    inside: dict[str, AirUse] = {}
    for event in kept:
        body = event.body
        if isinstance(body, ev.CrewEntered):
            if body.crew in inside:
                done.append(inside.pop(body.crew))
            first = () if body.gauge_psi is None else ((event.at, body.gauge_psi),)
            inside[body.crew] = AirUse(
                crew=body.crew, count=body.count, entered_at=event.at, left_at=None, gauges=first
            )
        elif isinstance(body, ev.AirRead) and body.crew in inside and body.gauge_psi is not None:
            use = inside[body.crew]
            inside[body.crew] = replace(use, gauges=(*use.gauges, (event.at, body.gauge_psi)))
        elif isinstance(body, ev.CrewLeft) and body.crew in inside:
            use = inside.pop(body.crew)
            last = () if body.gauge_psi is None else ((event.at, body.gauge_psi),)
            done.append(replace(use, left_at=event.at, gauges=(*use.gauges, *last)))
    return tuple(sorted([*done, *inside.values()], key=lambda use: use.entered_at))


# --- in words


def response_line(response: Response, rig: Rig) -> str:
    """A unit's turnout and travel beside the objective: facts for the record, no verdict."""
    parts = []
    for name, took, goal in (
        ("turnout", response.turnout_s, rig.intervals.turnout_s),
        ("travel", response.travel_s, rig.intervals.travel_s),
    ):
        parts.append(f"{name} {duration(took) if took is not None else '–'} (objective {duration(goal)})")
    return f"{unit_name(response.unit)}: {', '.join(parts)}"


def clocks(scene: Scene, until: datetime) -> tuple[str, ...]:
    """The two clocks, always named: duration of the incident, and elapsed time on scene."""
    lines = []
    start = duration_clock(scene)
    if start is not None:
        lines.append(f"Duration of incident {duration((until - start.since).total_seconds())} (from dispatch)")
    there = scene.stamp("on_scene")
    if there is not None:
        lines.append(f"On scene {duration((until - there.at).total_seconds())} (from first arrival)")
    return tuple(lines)


# --- for machines


def _iso(at: datetime | None) -> str | None:
    return at.isoformat(timespec="seconds") if at is not None else None


def neris_fields(made: Record) -> dict[str, Any]:
    """The record under NERIS field names: UTC, tactic stamps, unit responses, everything else as timed comments."""
    scene = made.scene
    tactics = {field: _iso(stamp.at) for name, field in FIELDS.items() if (stamp := scene.stamp(name)) is not None}
    comments = [
        row for row in made.rows if not row.taken_back and row.kind != "Retracted" and not _has_field(row, scene)
    ]
    return {
        "schema": "NERIS field names",
        "dispatch_internal_id": made.incident,
        "dispatch_location": scene.address,
        "dispatch_time_call_create": _iso(stamp.at) if (stamp := scene.stamp("dispatched")) else None,
        "time_incident_clear": _iso(scene.closed_at),
        "dispatch_tactic_timestamps": tactics,
        "fire_water_supply": _supplies(made),
        "dispatch_unit_response": [_unit_response(company, made) for company in scene.companies.values()],
        "dispatch_comment": [row.text for row in comments],
        "dispatch_comment_timestamp": [_iso(row.at) for row in comments],
        "ff_rescue_mayday": scene.mayday is not None,
    }


def _has_field(row: RecordRow, scene: Scene) -> bool:
    """Whether a row is already told by a field (a whole benchmark that has one, and is the one stamped)."""
    if row.kind != "BenchmarkReported":
        return False
    return any(
        stamp.seq == row.seq and stamp.benchmark in FIELDS and scene.stamp(stamp.benchmark) == stamp
        for stamp in scene.stamps
    )


def _supplies(made: Record) -> list[str]:
    """Codes of the water supplies that were reported; a hydrant only where its flow was measured."""
    found = {WATER[source] for source in made.sources if source in WATER}
    for pump in made.scene.pumps.values():
        if pump.available_gpm is not None:
            found.add("HYDRANT_GREATER_500" if pump.available_gpm > 500 else "HYDRANT_LESS_500")
        if pump.used_gal > 0:
            found.add("TANK_WATER")
    return sorted(found)


def _unit_response(company: Any, made: Record) -> dict[str, Any]:
    times = {r.unit: r for r in made.responses}.get(company.unit)
    contact = made.scene.stamp("patient_contact", partial=True)
    return {
        "unit_id_reported": unit_name(company.unit),
        "unit_staffing_reported": company.staffing,
        "time_dispatch": _iso(company.dispatched_at),
        "time_enroute_to_scene": _iso(company.en_route_at),
        "time_on_scene": _iso(company.on_scene_at),
        "time_at_patient": _iso(contact.at) if contact is not None and contact.unit in (None, company.unit) else None,
        "time_unit_clear": _iso(company.left_at),
        "time_turnout": _span(times.turnout_s if times else None),
        "time_travel": _span(times.travel_s if times else None),
    }


def _span(seconds: float | None) -> str | None:
    """An ISO 8601 duration: 80 s → "PT80S"."""
    return None if seconds is None else f"PT{seconds:.0f}S"


def csv_rows(made: Record, tz: tzinfo | None) -> list[tuple[str, ...]]:
    """The activity log as rows of text with a heading: local time, UTC, unit, who, what, kind, taken back."""
    rows: list[tuple[str, ...]] = [("local_time", "utc", "unit", "who", "what", "kind", "taken_back")]
    for row in made.rows:
        rows.append(
            (
                clock(row.at, tz, seconds=True),
                _iso(row.at) or "",
                unit_name(row.unit) if row.unit else "",
                row.who,
                row.text,
                row.kind,
                "yes" if row.taken_back else "",
            )
        )
    return rows


def benchmark_times(scene: Scene) -> list[tuple[str, datetime]]:
    """(words, time) of every whole benchmark in the order of their times, for the timeline."""
    first: dict[str, datetime] = {}
    for stamp in scene.stamps:
        name = BENCHMARK_WORDS[stamp.benchmark] + (f" ({stamp.place})" if stamp.place else "")
        first.setdefault(name, stamp.at)
    return sorted(first.items(), key=lambda pair: pair[1])


def span(made: Record) -> timedelta:
    """How long the record covers."""
    return made.until - made.rows[0].at
