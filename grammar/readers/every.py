"""Brings all readers in."""

from __future__ import annotations

from grammar.readers import (
    assignments,
    benchmarks,
    corrections,
    emergencies,
    flows,
    follow_ups,
    incident,
    line_changes,
    lines,
    logbook,
    medical,
    par,
    people,
    pumping,
    rural,
    source,
    supply,
    supply_expected,
    talk,
    tank,
    upkeep,
    water,
)

MODULES = (
    assignments,
    benchmarks,
    corrections,
    emergencies,
    flows,
    follow_ups,
    incident,
    line_changes,
    lines,
    logbook,
    medical,
    par,
    people,
    pumping,
    rural,
    source,
    supply,
    supply_expected,
    talk,
    tank,
    upkeep,
    water,
)
"""Imported for their readers, which register themselves."""
