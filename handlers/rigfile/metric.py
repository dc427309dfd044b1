"""Metric keys of a rig file, turned to the US customary ones of the rig: `length_m` stands for `length_ft`."""

from typing import get_args

import msgspec

from handlers.errors import RigFileError

FT_PER_M = 1 / 0.3048
IN_PER_MM = 1 / 25.4
GAL_PER_L = 1 / 3.785411784
PSI_PER_KPA = 1 / 6.894757293168361
PSI_PER_INHG = 3.386389 * PSI_PER_KPA
"""Conventional inch of mercury (NIST SP 811, appendix B)."""
LBF_PER_N = 1 / 4.4482216152605
MI_PER_KM = 1 / 1.609344

TWINS: dict[str, tuple[str, float]] = {
    "_m": ("_ft", FT_PER_M),
    "_mm": ("_in", IN_PER_MM),
    "_l": ("_gal", GAL_PER_L),
    "_lpm": ("_gpm", GAL_PER_L),
    "_kpa": ("_psi", PSI_PER_KPA),
    "_bar": ("_psi", 100 * PSI_PER_KPA),
    "_n": ("_lbf", LBF_PER_N),
    "_m_s": ("_ft_s", FT_PER_M),
    "_kpa_per_m": ("_psi_per_ft", PSI_PER_KPA / FT_PER_M),
    "_bar_per_m": ("_psi_per_ft", 100 * PSI_PER_KPA / FT_PER_M),
    "_kpa_per_floor": ("_psi_per_floor", PSI_PER_KPA),
    "_bar_per_floor": ("_psi_per_floor", 100 * PSI_PER_KPA),
    "_min_per_km": ("_min_per_mile", 1 / MI_PER_KM),
}
"""Metric ending: (US ending, factor). Factors are exact by definition (NIST SP 811, appendix B)."""

COEFFICIENT_US_PER_SI = PSI_PER_KPA / (GAL_PER_L**2 * FT_PER_M)
"""C of psi, 100 gpm, 100 ft from C of kPa, 100 L/min, 100 m; its inverse is 1.5786."""


def to_us(table: dict[str, object], kind: type[msgspec.Struct], path: str) -> dict[str, object]:
    """The table with each metric key replaced by its US twin, where the struct has the twin and not the key itself."""
    fields = frozenset(kind.__struct_fields__)
    turned: dict[str, object] = {}
    for key, value in table.items():
        name, factor = _twin(key, fields)
        if name in turned or (name != key and name in table):
            raise RigFileError(f"say it once: {key} and {name} are the same value.", key=f"{path}.{key}")
        turned[name] = _inside(value, kind, name, path) if factor == 1 else _scaled(value, factor)
    return turned


def _inside(value: object, kind: type[msgspec.Struct], name: str, path: str) -> object:
    """A list of tables (test points, cylinders) may hold metric keys too."""
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        return value
    hint = next((field.type for field in msgspec.structs.fields(kind) if field.name == name), None)
    part = next((arg for arg in get_args(hint) if isinstance(arg, type) and issubclass(arg, msgspec.Struct)), None)
    return value if part is None else [to_us(item, part, f"{path}.{name}") for item in value]


def _twin(key: str, fields: frozenset[str]) -> tuple[str, float]:
    if key in fields:
        return key, 1.0
    if key in ("coefficient_si", "newer_coefficient_si"):
        return key.removesuffix("_si"), COEFFICIENT_US_PER_SI
    for ending in sorted(TWINS, key=len, reverse=True):
        us, factor = TWINS[ending]
        if key.endswith(ending) and key.removesuffix(ending) + us in fields:
            return key.removesuffix(ending) + us, factor
    return key, 1.0


def _scaled(value: object, factor: float) -> object:
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return value * factor
    if isinstance(value, list):
        return [_scaled(item, factor) for item in value]
    return value
