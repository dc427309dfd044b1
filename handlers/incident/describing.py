"""Each event in one plain line, for the record, the hand-over and the log that people read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import tzinfo
from typing import Any

from handlers import events as ev
from handlers import events_medical as em
from handlers.times import clock, listed, unit_name
from handlers.words import Words

US = Words()

BENCHMARK_WORDS = {
    "dispatched": "Dispatched",
    "en_route": "En route",
    "on_scene": "On scene",
    "size_up": "Size-up complete",
    "command_established": "Command established",
    "two_out_in_place": "Two out in place",
    "rit_in_place": "RIT in place",
    "water_supply": "Water supply established",
    "water_on_fire": "Water on the fire",
    "primary_search_started": "Primary search started",
    "primary_search_complete": "Primary search complete",
    "ventilation": "Ventilation",
    "knocked_down": "Fire knocked down",
    "under_control": "Under control",
    "utilities_secured": "Utilities secured",
    "secondary_search_complete": "Secondary search complete",
    "extrication_complete": "Extrication complete",
    "overhaul": "Overhaul",
    "suppression_complete": "Suppression complete",
    "loss_stopped": "Loss stopped",
    "command_terminated": "Command terminated",
    "patient_contact": "Patient contact",
    "care_transferred": "Care transferred",
    "available": "Available",
    "returning": "Returning",
    "in_quarters": "In quarters",
}
"""The benchmarks as people read them."""

SOURCE_WORDS = {
    "tank": "tank",
    "hydrant": "hydrant",
    "draft": "draft",
    "relay": "relay",
    "nurse": "nurse tender",
}


def _joined(*parts: str | None) -> str:
    return ", ".join(part for part in parts if part)


def _line(line: ev.WorkingLine, words: Words) -> str:
    flow = "charged" if line.held else words.gpm(line.flow_gpm)
    return f"{line.label}, {flow} at {words.psi(line.pressure_psi)}" + (f", {line.place}" if line.place else "")


def _opened(body: ev.IncidentOpened) -> str:
    what = "Medical run" if body.kind == "medical" else "Fire"
    return _joined(f"Incident opened ({what.lower()})", body.nature, body.address)


def _benchmark(body: ev.BenchmarkReported) -> str:
    words = BENCHMARK_WORDS[body.benchmark]
    if body.unit and body.benchmark in ("dispatched", "en_route", "on_scene", "available", "returning", "in_quarters"):
        words = f"{unit_name(body.unit)} {words.lower()}"
    return _joined(words, body.place, body.remark)


def _arrest(body: ev.ArrestAction) -> str:
    words = {
        "cpr_started": "CPR started",
        "epinephrine": "Epinephrine reported",
        "shock": "Shock reported",
        "rhythm_check": "Rhythm check",
        "compressor_change": "Compressor changed",
        "pulses_back": "Pulses back",
        "cpr_stopped": "CPR stopped",
        "cpr_paused": "Compressions paused",
        "drug": "Drug reported",
    }
    return _joined(words[body.action], f"{body.joules:g} J" if body.joules else None)


def _par(body: ev.ParAnswered) -> str:
    if body.no_par:
        return f"{unit_name(body.unit)}: no PAR"
    short = f", {body.missing} not reported" if body.missing else ""
    number = f"PAR of {body.count}" if body.count is not None else "PAR, no number"
    return f"{unit_name(body.unit)} {number}{short}"


def _entered(body: ev.CrewEntered, words: Words) -> str:
    return _joined(
        f"{unit_name(body.crew)} inside" + (f" with {body.count}" if body.count else ""),
        body.place,
        body.task,
        f"lowest gauge {words.gauge(body.gauge_psi)}" if body.gauge_psi is not None else None,
    )


def _mayday(body: ev.MaydayDeclared | ev.MaydayDetail) -> str:
    parts = [
        f"{label} {value}"
        for label, value in (
            ("location", body.location),
            ("unit", body.unit),
            ("name", body.name),
            ("assignment", body.assignment),
            ("air", body.air),
            ("needs", body.resources),
        )
        if value
    ]
    said = f"“{body.text}”" if body.text else None
    return _joined(said, *parts)


def _coming_out(body: ev.CrewComingOut, words: Words) -> str:
    return _joined(
        f"{unit_name(body.crew)} {'told to come out' if body.ordered else 'coming out'}",
        words.gauge(body.gauge_psi) if body.gauge_psi is not None else None,
    )


def _hydrant(body: ev.HydrantRead, words: Words) -> str:
    return _joined(
        "Hydrant",
        f"static {words.psi_bare(body.static_psi)}" if body.static_psi is not None else None,
        f"residual {words.psi(body.residual_psi)}" if body.residual_psi is not None else None,
        f"about {words.gpm_down(body.flow_at_20psi_gpm)} at {words.psi(20)}"
        if body.flow_at_20psi_gpm is not None
        else None,
    )


def _triage(body: em.TriageNoted) -> str:
    """Counts alone: they are told in every room."""
    told = body.told
    groups = listed([f"{group.count} {group.category}" for group in told.groups])
    to = f" now {told.to_category}" if told.to_category else ""
    return _joined(f"Triage {told.action}", f"{groups}{to}" if groups or to else None, told.place)


_WORDS: dict[type, Callable[[Any], str]] = {
    ev.IncidentOpened: _opened,
    ev.IncidentClosed: lambda b: "Incident closed",
    ev.KindSet: lambda b: "Taken as a medical run" if b.kind == "medical" else "Taken as a fire",
    ev.UnitJoined: lambda b: _joined(
        f"{unit_name(b.unit)} joined" + (f" with {b.staffing}" if b.staffing else ""), b.task
    ),
    ev.UnitLeft: lambda b: f"{unit_name(b.unit)} left",
    ev.RoleTaken: lambda b: f"{b.person}: {b.role} of {unit_name(b.unit)}",
    ev.SourceChanged: lambda b: f"{'SUPPLY LOST, on' if b.lost else 'Water source:'} {SOURCE_WORDS[b.source]}",
    ev.SupplyAnnounced: lambda b: _joined("Supply expected", unit_name(b.unit) if b.unit else None, b.kind),
    ev.PumpTrouble: lambda b: f"Pump: {b.kind.replace('_', ' ')}",
    ev.BenchmarkReported: _benchmark,
    ev.UnitAssigned: lambda b: _joined(unit_name(b.unit), b.place, b.task),
    ev.ParRequested: lambda b: f"PAR requested: {listed([unit_name(u) for u in b.expected]) or 'every crew'}",
    ev.ParAnswered: _par,
    ev.CrewLeft: lambda b: f"{unit_name(b.crew)} out" + (f" with {b.count}" if b.count else ""),
    ev.RehabChanged: lambda b: f"{unit_name(b.crew)} {'back from' if b.back else 'in'} rehab",
    ev.StrategySet: lambda b: f"Strategy: {b.strategy}",
    ev.EvacuationOrdered: lambda b: _joined("EVACUATION ordered", b.place, f"“{b.text}”" if b.text else None),
    ev.EvacuationLifted: lambda b: "Evacuation order lifted",
    ev.EmergencyDeclared: lambda b: _joined(
        b.kind.replace("_", " ").upper(), unit_name(b.unit) if b.unit else None, b.text
    ),
    ev.EmergencyOver: lambda b: f"{b.kind.replace('_', ' ').capitalize()} over",
    ev.MaydayDeclared: lambda b: f"MAYDAY {_mayday(b)}",
    ev.MaydayDetail: lambda b: f"Mayday: {_mayday(b)}",
    ev.MaydayCleared: lambda b: "Mayday cleared",
    ev.Noted: lambda b: _joined(
        f"{b.kind.replace('_', ' ').capitalize()}: {b.text}", unit_name(b.unit) if b.unit else None, b.place
    ),
    ev.ReminderSnoozed: lambda b: f"Reminder {b.name} snoozed",
    ev.ReminderStopped: lambda b: f"Reminder {b.name} stopped",
    ev.ReminderResumed: lambda b: f"Reminder {b.name} resumed",
    ev.ReminderInterval: lambda b: f"Reminder {b.name} every {b.minutes:g} min",
    ev.TimerSet: lambda b: f"Timer: {b.label}",
    ev.ArrestAction: _arrest,
    em.VitalsTaken: lambda b: "Vital signs logged",
    em.DrugGiven: lambda b: "A drug logged",
    em.DoseUnitSaid: lambda b: "The unit of a dose logged",
    em.ProcedureDone: lambda b: "A procedure logged",
    em.PatientNoted: lambda b: "Patient noted",
    em.TriageNoted: _triage,
    ev.ReadinessStarted: lambda b: "Daily check started",
    ev.ReadinessAnswered: lambda b: _joined(f"{b.item}: {'ok' if b.ok else 'FAILED'}", b.remark),
    ev.ReadinessFinished: lambda b: "Daily check finished",
    ev.Restored: lambda b: f"Made ready: {b.item}",
    ev.Retracted: lambda b: "Taken back" if b.why == "undo" else "Corrected",
}


_MEASURED: dict[type, Callable[[Any, Words], str]] = {
    ev.PumpReady: lambda b, w: f"{unit_name(b.unit)}: tank {w.gal(b.tank_gal)}, {w.gal(b.usable_gal)} usable",
    ev.LineOpened: lambda b, w: f"Line on: {_line(b.line, w)}",
    ev.LineChanged: lambda b, w: _joined(f"Line changed: {_line(b.line, w)}", b.why),
    ev.TankRead: lambda b, w: f"Tank {'refilled, ' if b.refilled else 'gauge '}{w.gal(b.tank_gal)}",
    ev.IntakeRead: lambda b, w: f"Intake {w.psi(b.intake_psi)}",
    ev.HydrantRead: _hydrant,
    ev.NeededFlowSet: lambda b, w: f"Needed flow {w.gpm(b.needed_gpm)} ({b.method.replace('_', ' ')})",
    ev.CrewEntered: _entered,
    ev.CrewComingOut: _coming_out,
    ev.AirRead: lambda b, w: _joined(
        f"{unit_name(b.crew)} gauge {w.gauge(b.gauge_psi)}" if b.gauge_psi is not None else unit_name(b.crew),
        "low-air alarm" if b.low_air_alarm else None,
    ),
    ev.OxygenNoted: lambda b, w: (
        f"Oxygen {b.cylinder}, {w.gauge(b.gauge_psi)} at {b.flow_lpm:g} L/min: about {b.minutes:.0f} min"
    ),
}
"""What holds a measured value, in the rig's units."""


def line_names(events: Iterable[ev.Event]) -> dict[str, dict[int, str]]:
    """What each company's lines are called, by their numbers."""
    names: dict[str, dict[int, str]] = {}
    for event in events:
        if isinstance(event.body, ev.LineOpened | ev.LineChanged):
            names.setdefault(event.unit, {})[event.body.line.number] = event.body.line.label
    return names


def describe(
    body: ev.EventBody, tz: tzinfo | None = None, words: Words = US, lines: Mapping[int, str] | None = None
) -> str:
    """One line of plain words for an event body.

    Args:
        tz: whose local times are told.
        words: the rig's units.
        lines: what each line of the event's pump is called, by number.
    """
    if type(body) in _MEASURED:
        return _MEASURED[type(body)](body, words)
    if isinstance(body, ev.LineShut):
        name = (lines or {}).get(body.number, f"Line {body.number}")
        return f"{name} shut{' and drained' if body.drained else ''}"
    text = _WORDS[type(body)](body)
    if isinstance(body, ev.SupplyAnnounced) and body.expected_at is not None:
        text += f", about {clock(body.expected_at, tz)}"
    if isinstance(body, ev.ReminderSnoozed):
        text += f" until {clock(body.until, tz)}"
    if isinstance(body, ev.TimerSet):
        text += f", due {clock(body.due_at, tz)}"
    return text
