"""Published scales, worked out from what was reported: sums, shares and ratios, each with its source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from grammar.commands import Vitals

MGDL_PER_MMOL = 18.016
"""mg/dL a mmol/L of glucose (molar mass 180.16 g/mol, over ten)."""
KG_PER_LB = 0.45359237
"""NIST Handbook 44: exact."""


class Shown(NamedTuple):
    """A value worked out, in words, with how and whose scale it is."""

    text: str
    source: str


def gcs_total(told: Vitals) -> float | None:
    """Glasgow Coma Scale (Teasdale and Jennett, Lancet 1974): eye + verbal + motor, 3 to 15; else the total as told."""
    if told.gcs_eye is not None and told.gcs_verbal is not None and told.gcs_motor is not None:
        return told.gcs_eye + told.gcs_verbal + told.gcs_motor
    return told.gcs


def mean_pressure(systolic: float, diastolic: float) -> float:
    """Mean arterial pressure, mmHg: (systolic + 2 × diastolic) / 3 (physiology textbooks)."""
    return (systolic + 2 * diastolic) / 3


def pulse_pressure(systolic: float, diastolic: float) -> float:
    """Systolic − diastolic, mmHg."""
    return systolic - diastolic


def shock_index(pulse: float, systolic: float) -> float | None:
    """Pulse / systolic (Allgöwer and Burri 1967); None without a pressure."""
    return pulse / systolic if systolic > 0 else None


def mmol_per_l(mg_dl: float) -> float:
    """Glucose, mmol/L."""
    return mg_dl / MGDL_PER_MMOL


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) * 5 / 9


def fahrenheit(celsius_: float) -> float:
    return celsius_ * 9 / 5 + 32


def kilograms(pounds: float) -> float:
    return pounds * KG_PER_LB


def apgar(parts: Sequence[float]) -> float | None:
    """APGAR (Apgar 1953): five parts of 0 to 2, their sum 0 to 10."""
    return sum(parts) if len(parts) == 5 else None


ADULT = {"head": 9.0, "arm": 9.0, "chest and belly": 18.0, "back": 18.0, "leg": 18.0, "perineum": 1.0}
"""Rule of nines, adult (Wallace 1951): percent of the body's surface."""
CHILD = {**ADULT, "head": 18.0, "leg": 14.0}
"""The same for a small child; these shares differ by age and by book."""
CHILD_UNDER = 5
"""Years under which the child's shares are used (the books differ)."""
_WHOLE = {
    "head": "head", "head and neck": "head", "arm": "arm", "arms": "arm", "leg": "leg", "legs": "leg", "back": "back",
    "chest and belly": "chest and belly", "chest and abdomen": "chest and belly",
    "chest and stomach": "chest and belly",
    "chest belly": "chest and belly", "front of the torso": "chest and belly", "front of the trunk": "chest and belly",
    "anterior trunk": "chest and belly", "anterior torso": "chest and belly", "groin": "perineum",
    "perineum": "perineum", "genitals": "perineum",
}  # fmt: skip
_HALVES = {"chest": "chest and belly", "belly": "chest and belly", "abdomen": "chest and belly"}
_SAID = frozenset(("the", "his", "her", "whole", "entire", "all", "of", "left", "right", "both", "each"))


class Burned(NamedTuple):
    """The share of the body's surface, how it adds up, and the parts that the rule has no share for."""

    percent: float
    how: tuple[str, ...]
    without: tuple[str, ...]


def rule_of_nines(parts: Sequence[str], child: bool = False) -> Burned:
    """Percent of the body's surface by the parts that were said to be burned, each counted once."""
    shares = CHILD if child else ADULT
    counted: dict[str, float] = {}
    without: list[str] = []
    for part in parts:
        words = part.split()
        name = " ".join(word for word in words if word not in _SAID)
        side = next((word for word in words if word in ("left", "right")), "")
        half = words[:2] in (["front", "of"], ["back", "of"], ["anterior", "of"], ["posterior", "of"])
        if half and name.split()[-1] in ("arm", "leg", "arms", "legs"):
            limb = name.split()[-1].removesuffix("s")
            counted[part] = shares[limb] / 2 * (2 if "both" in words or name.endswith("s") else 1)
            continue
        if name == "face and neck":
            name = ""
        whole = _WHOLE.get(name)
        if whole is None and name in _HALVES:
            counted[name] = shares[_HALVES[name]] / 2
            continue
        if whole is None:
            without.append(part)
            continue
        twice = whole in ("arm", "leg") and ("both" in words or name.endswith("s"))
        counted[f"{'both ' if twice else f'{side} ' if side else ''}{whole}"] = shares[whole] * (2 if twice else 1)
    return Burned(sum(counted.values()), tuple(f"{name} {share:g}" for name, share in counted.items()), tuple(without))


def worked_out(told: Vitals, *, metric: bool = False) -> list[Shown]:
    """What follows from one set by published scales, with its source; a metric department's in metric units alone."""
    found = []
    total = gcs_total(told)
    if told.gcs_eye is not None and total is not None:
        parts = f"E{told.gcs_eye:g} V{told.gcs_verbal:g} M{told.gcs_motor:g}"
        found.append(Shown(f"GCS {total:g} = {parts}", "Teasdale and Jennett 1974"))
    if told.systolic is not None and told.diastolic is not None:
        mean = mean_pressure(told.systolic, told.diastolic)
        found.append(Shown(f"mean pressure {mean:.0f} mmHg", "(systolic + 2 × diastolic) / 3"))
    if told.pulse is not None and told.systolic:
        found.append(
            Shown(f"shock index {told.pulse / told.systolic:.2f}", "pulse / systolic, Allgöwer and Burri 1967")
        )
    if told.glucose is not None:
        found.append(Shown(f"glucose {told.glucose:.0f} mg/dL = {mmol_per_l(told.glucose):.1f} mmol/L", "18.016"))
    if told.temperature is not None and not metric:
        found.append(Shown(f"{told.temperature:.1f} °C = {fahrenheit(told.temperature):.1f} °F", "°C × 9/5 + 32"))
    if told.apgar_parts and (sum_ := apgar(told.apgar_parts)) is not None:
        found.append(Shown(f"APGAR {sum_:g}", "sum of its five parts, Apgar 1953"))
    screen = [("facial droop", told.face), ("arm drift", told.arm), ("speech", told.speech)]
    reported = [f"{name} {how}" for name, how in screen if how is not None]
    if reported:
        found.append(Shown(f"stroke screen as reported: {', '.join(reported)}", "items of Kothari 1999"))
    return found
