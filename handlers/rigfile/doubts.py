"""Values of a rig file that can hardly be meant: far outside the book's, or at odds with each other.

A slip of the decimal point is a valid number. It is read, and told with its line and key; the department decides.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator
from fnmatch import fnmatch
from typing import Any

import msgspec

from handlers.rig import Rig
from handlers.rigfile.lines import key_lines, line_of
from handlers.rigfile.metric import COEFFICIENT_US_PER_SI, TWINS
from handlers.words import plain

FACTORS: tuple[tuple[str, float], ...] = (
    ("hose.*.coefficient", 3.0),
    ("hose.*.newer_coefficient", 3.0),
    ("hose.*.diameter_in", 1.2),
    ("hydraulics.elevation_psi_per_ft", 1.2),
    ("hydraulics.smooth_constant", 1.15),
    ("hydraulics.reaction_*", 1.2),
    ("hydraulics.*_psi", 4.0),
    ("hydraulics.*", 3.0),
    ("hydrant.pitot_constant", 1.15),
    ("hydrant.exponent", 1.2),
    ("standpipe.*", 4.0),
    ("oxygen.factors.*", 3.0),
    ("tank.capacity_gal", 20.0),
    ("rural.*_gal", 15.0),
    ("pump.rated_gpm", 6.0),
    ("intervals.*", 8.0),
    ("*", 6.0),
)
"""How far a value may lie from the book's, as a factor either way (common practice); the first that fits counts."""

RANGES: tuple[tuple[str, float, float], ...] = (
    ("drafting.altitude_ft", -1_500, 16_000),
    ("drafting.water_f", 32, 110),
    ("nozzle.*.flow_gpm", 3, 3_000),
    ("nozzle.*.pressure_psi", 10, 250),
    ("nozzle.*.tip_in", 0.1, 4),
    ("hose.*.diameter_in", 0.5, 12),
    ("hose.*.coupling_in", 0.5, 12),
    ("hose.*.carried_ft", 25, 10_000),
    ("hose.*.piece_ft", 10, 1_000),
    ("hose_kind.*_psi", 50, 1_500),
    ("line.*.length_ft", 10, 5_000),
    ("hydraulics.tips_in", 0.1, 4),
    ("limits.reaction_lbf", 20, 300),
    ("air.rates_lpm", 20, 200),
    ("air.cylinders.pressure_psi", 1_500, 6_000),
    ("air.cylinders.rated_min", 10, 120),
    ("air.cylinders.air_l", 400, 4_000),
    ("pump.points.net_psi", 50, 600),
)
"""What values without a counterpart in the book usually are (common practice)."""


class Doubt(msgspec.Struct, frozen=True):
    """One doubtful value."""

    key: str
    """As the file writes it."""
    line: int | None
    problem: str

    @property
    def message(self) -> str:
        """One sentence with line and key."""
        where = f"line {self.line}, {self.key}" if self.line is not None else self.key
        return f"{where}: {self.problem}"


def doubts(rig: Rig, text: str, book: str) -> tuple[Doubt, ...]:
    """What is doubtful in a rig that was read from this text; `book`: the text of the book's values."""
    lines = key_lines(text)
    books = tomllib.loads(book)
    found = []
    for path, leaf, value in _stated(rig):
        problem = _far(leaf, value, _book_value(leaf, rig, books))
        if problem is not None:
            key, factor = _as_written(leaf if tuple(leaf.split(".")) in lines else path, lines)
            found.append(Doubt(key, line_of(lines, key), problem(factor)))
    found += [Doubt(key, line_of(lines, key), problem) for key, problem in _at_odds(rig)]
    return tuple(dict.fromkeys(found))


def _stated(rig: Rig) -> Iterator[tuple[str, str, float]]:
    """The numbers that the file gives: the stated path, the number's own, its value."""
    values = msgspec.to_builtins(rig)
    for path in sorted(rig.stated):
        yield from ((path, leaf, value) for leaf, value in _leaves(path, _at(values, path)))
    for key, line in rig.line.items():
        if not rig.states(f"line.{key}.pieces"):  # written the short way, its length stands in the line's own table
            path = f"line.{key}.length_ft"
            yield from ((path, path, piece.length_ft) for piece in line.pieces)


def _at(values: Any, path: str) -> Any:
    for part in path.split("."):
        values = values.get(part) if isinstance(values, dict) else None
    return values


def _leaves(path: str, value: Any) -> Iterator[tuple[str, float]]:
    """The numbers of a value, by their paths; those of a list have the list's."""
    if isinstance(value, bool):
        return
    if isinstance(value, int | float):
        yield path, float(value)
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from _leaves(f"{path}.{key}", part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _leaves(path, part)


def _book_value(path: str, rig: Rig, books: Any) -> float | None:
    """The book's value; for a hose that the book doesn't have, its coefficient by the diameter."""
    value = _at(books, path)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    family, _, rest = path.partition(".")
    if family == "hose" and rest.endswith(".coefficient"):
        return _by_diameter(rig.hose[rest.removesuffix(".coefficient")].diameter_in, books)
    return None


def _by_diameter(diameter_in: float, books: Any) -> float:
    """The coefficient of a hose between the book's sizes: it falls with the diameter by a power."""
    known = sorted((hose["diameter_in"], hose["coefficient"]) for hose in books["hose"].values())
    sizes, values = zip(*known, strict=True)
    below = max((i for i, size in enumerate(sizes[:-1]) if size <= diameter_in), default=0)
    above = next((i for i, size in enumerate(sizes) if size > sizes[below]), below)
    if above == below:
        return float(values[below])
    power = math.log(values[above] / values[below]) / math.log(sizes[above] / sizes[below])
    return float(values[below] * (diameter_in / sizes[below]) ** power)


def _far(path: str, value: float, book: float | None) -> Callable[[float], str] | None:
    """What is wrong with a value, as a function of the unit it is written in; None when it is plausible."""
    if value == 0:
        return None  # turned off
    ranged = next(((low, high) for pattern, low, high in RANGES if fnmatch(path, pattern)), None)
    if ranged is not None:
        low, high = ranged
        if low <= value <= high:
            return None
        return lambda unit: (
            f"{_shown(value / unit)} can hardly be: usual is {_shown(low / unit)} to {_shown(high / unit)}."
        )
    if not book:
        return None
    factor = next(factor for pattern, factor in FACTORS if fnmatch(path, pattern))
    if value > 0 and max(value / book, book / value) <= factor * (1 + 1e-9):
        return None
    return lambda unit: f"{_shown(value / unit)} is far from the book's {_shown(book / unit)}: check it."


def _shown(value: float) -> str:
    return plain(value, 3) if abs(value) >= 0.01 else f"{value:.3g}"


def _as_written(path: str, lines: dict[tuple[str, ...], int]) -> tuple[str, float]:
    """The key as the file writes it, metric perhaps, and what its unit is in ours."""
    parts = tuple(path.split("."))
    if parts in lines:
        return path, 1.0
    *table, key = parts
    for metric, (us, factor) in TWINS.items():
        twin = key.removesuffix(us) + metric
        if key.endswith(us) and (*table, twin) in lines:
            return ".".join((*table, twin)), factor
    if (*table, f"{key}_si") in lines:
        return ".".join((*table, f"{key}_si")), COEFFICIENT_US_PER_SI
    return path, 1.0


def _at_odds(rig: Rig) -> Iterator[tuple[str, str]]:
    """Values that contradict each other."""
    if rig.states("air.cylinders"):
        for cylinder in rig.air.cylinders:
            if cylinder.alarm_psi >= cylinder.pressure_psi:
                yield "air.cylinders", "the low-air alarm of a cylinder can't be at or above its full pressure."
            elif not 0.1 <= cylinder.alarm_psi / cylinder.pressure_psi <= 0.6:
                share = f"{100 * cylinder.alarm_psi / cylinder.pressure_psi:.0f} %"
                yield "air.cylinders", f"a low-air alarm at {share} of the full pressure can hardly be."
