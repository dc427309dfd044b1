"""Sizes of hose and tips in the trade; what is said in millimetres is turned to inches here, once for all readers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from grammar.commands import Context
from grammar.items import Item
from grammar.lexicon import ENGLISH, by_language, language, speaking


@by_language
def _declared() -> dict[str, dict[str, Any]]:
    tables = language()
    if "sizes" not in tables:  # hose is the same in every language
        with speaking(ENGLISH):
            return _declared()
    return {name: tables[name] for name in ("sizes", "nominal_mm", "most_gpm")}


@by_language
def sizes(name: str) -> frozenset[float]:
    """A table of sizes of the trade: hoses or tips in inches; "millimetres": those of nominal metric hose."""
    tables = _declared()
    return frozenset(float(size) for size in (tables["nominal_mm"] if name == "millimetres" else tables["sizes"][name]))


_MM = 25.4
_SAME_IN = 0.01
"""A size this near to one that the rig carries is that one, inches."""


def hose_in(millimetres: float, context: Context) -> float:
    """The hose that goes by these millimetres: the rig's own of that size, else the US size of that nominal one."""
    exact = millimetres / _MM
    own = [size for size in context.hose_in if abs(size - exact) <= _SAME_IN]
    return (
        min(own, key=lambda size: abs(size - exact))
        if own
        else _declared()["nominal_mm"].get(str(round(millimetres)), round(exact, 4))
    )


def take_in_units(items: Sequence[Item], context: Context) -> None:
    """Marks bare numbers of people who speak in metric units, and turns millimetres: of hose, or of a tip."""
    for i, item in enumerate(items):
        if item.kind != "num":
            continue
        item.metric = item.unit is None and context.units == "metric"
        if item.unit != "mm":
            continue
        after = items[i + 1].concepts if i + 1 < len(items) else frozenset()
        tip = after & {"tip", "smooth_bore", "nozzle"}
        item.value = round(item.number / _MM, 4) if tip else hose_in(item.number, context)
        item.unit = "in"


SMALLEST_TIP_IN = 0.375
"""Forestry tips begin at 3/8 in (common practice)."""
MOST_NOZZLE_PSI = 110
"""Above this no hand line nozzle is rated; common practice."""


def most_gpm(size: float | None) -> float:
    """Most that one hand line of this size, or of 1¾ in, is taken to flow before "each" becomes doubtful, gpm."""
    return float(_declared()["most_gpm"].get(f"{size or 1.75:g}", _declared()["most_gpm"]["other"]))
