"""Permitted ranges of vital signs, and the open standard's element for each: outside them a number was misheard.

Elements, names and ranges: NEMSIS data dictionary v3.5.1 (build of April 2025), read there, but those of diastolic
pressure, respirations and glucose, and the shares of the coma scale beside its total, which are from memory.
"""

from __future__ import annotations

from typing import NamedTuple

from grammar.commands import Vitals
from handlers.care import VitalSet


class Sign(NamedTuple):
    """A vital sign as it is named, measured and bounded; `element` and its name in the standard."""

    field: str
    name: str
    unit: str
    low: float
    high: float
    element: str
    standard: str
    whole: bool = True


SIGNS: tuple[Sign, ...] = (
    Sign("systolic", "systolic pressure", "mmHg", 0, 500, "eVitals.06", "SBP (Systolic Blood Pressure)"),
    Sign("diastolic", "diastolic pressure", "mmHg", 0, 500, "eVitals.07", "DBP (Diastolic Blood Pressure)"),
    Sign("pulse", "pulse", "/min", 0, 500, "eVitals.10", "Heart Rate"),
    Sign("saturation", "SpO2", "%", 0, 100, "eVitals.12", "Pulse Oximetry"),
    Sign("breaths", "respirations", "/min", 0, 300, "eVitals.14", "Respiratory Rate"),
    Sign("etco2", "end-tidal CO2", "mmHg", 0, 760, "eVitals.16", "End Tidal Carbon Dioxide (ETCO2)", whole=False),
    Sign("carbon_monoxide", "SpCO", "%", 0, 100, "eVitals.17", "Carbon Monoxide (CO)", whole=False),
    Sign("glucose", "glucose", "mg/dL", 0, 2000, "eVitals.18", "Blood Glucose Level", whole=False),
    Sign("gcs_eye", "GCS eye", "", 1, 4, "eVitals.19", "Glasgow Coma Score-Eye"),
    Sign("gcs_verbal", "GCS verbal", "", 1, 5, "eVitals.20", "Glasgow Coma Score-Verbal"),
    Sign("gcs_motor", "GCS motor", "", 1, 6, "eVitals.21", "Glasgow Coma Score-Motor"),
    Sign("gcs", "GCS", "", 3, 15, "eVitals.23", "Total Glasgow Coma Score"),
    Sign("temperature", "temperature", "°C", 0, 50, "eVitals.24", "Temperature", whole=False),
    Sign("pain", "pain", "/10", 0, 10, "eVitals.27", "Pain Scale Score"),
    Sign("apgar", "APGAR", "", 0, 10, "eVitals.32", "APGAR"),
)
BY_FIELD = {sign.field: sign for sign in SIGNS}


SLOWEST = 20.0
"""A slower pulse is more often a rate of breathing that was said as "rate of six": asked (common sense)."""


class Doubt(NamedTuple):
    """A value that is asked about: which field, and the question."""

    field: str
    text: str


def doubts(told: Vitals) -> list[Doubt]:
    """What can't be, or swaps another: outside the range, a part of a whole, diastolic above systolic."""
    found = []
    for sign in SIGNS:
        value: float | None = getattr(told, sign.field)
        if value is not None and (not sign.low <= value <= sign.high or (sign.whole and value != int(value))):
            found.append(Doubt(sign.field, f"{sign.name.capitalize()} {value:g}? Say it again."))
    if (
        told.systolic is not None
        and told.diastolic is not None
        and told.diastolic > told.systolic
        and not {doubt.field for doubt in found} & {"systolic", "diastolic"}
    ):
        found.append(Doubt("diastolic", f"{told.systolic:g} over {told.diastolic:g}? The second is the higher one."))
    if told.pulse is not None and 0 < told.pulse < SLOWEST and not told.sure:
        found.append(Doubt("pulse", f"Pulse {told.pulse:g}, not breaths a minute? Log it?"))
    if any(not 0 <= part <= 2 for part in told.apgar_parts):
        found.append(Doubt("apgar_parts", "APGAR: each of its five parts is 0 to 2. Say it again."))
    return found


JUMPS = {"systolic": 2.5, "pulse": 2.5, "glucose": 5.0}
"""A value so many times the last one, or that part of it, is asked (common sense, no published limit)…"""
JUMP_S = 600.0
"""…where that was told within so many seconds."""


def jump(told: Vitals, last: VitalSet | None, ago_s: float) -> Doubt | None:
    """A value that can hardly have changed so much since the last set."""
    if last is None or ago_s > JUMP_S or told.sure:
        return None
    for field, times in JUMPS.items():
        now, before = getattr(told, field), getattr(last.told, field)
        if now and before and not 1 / times <= now / before <= times:
            name = BY_FIELD[field].name.capitalize()
            return Doubt(field, f"{name} {now:g}? It was {before:g} before. Log it?")
    return None
