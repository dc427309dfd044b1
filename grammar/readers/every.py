"""Brings all readers in."""

from __future__ import annotations

from grammar.readers import (
    benchmarks,
    flows,
    incident,
    lines,
    medical,
    people,
    pumping,
    rural,
    supply,
    talk,
    upkeep,
    water,
)

MODULES = (benchmarks, flows, incident, lines, medical, people, pumping, rural, supply, talk, upkeep, water)
"""Imported for their readers, which register themselves."""
