"""Sizes of hose and tips in the trade; what is said in millimetres is turned to inches here, once for all readers."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.commands import Context
from grammar.items import Item

HOSES = (0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0)
"""Sizes of fire hose in the trade, inches; the rig's own are added from the context."""


NOMINAL_MM = {
    19: 0.75,
    20: 0.75,
    25: 1.0,
    38: 1.5,
    40: 1.5,
    42: 1.5,
    45: 1.75,
    50: 2.0,
    51: 2.0,
    52: 2.0,
    64: 2.5,
    65: 2.5,
    63: 2.5,
    70: 2.75,
    75: 3.0,
    76: 3.0,
    77: 3.0,
    89: 3.5,
    90: 3.5,
    100: 4.0,
    102: 4.0,
    110: 4.5,
    114: 4.5,
    115: 4.5,
    125: 5.0,
    127: 5.0,
    150: 6.0,
}
"""Nominal metric hose and the US size it goes by (common practice)."""


TIPS = (
    0.25,
    0.375,
    0.5,
    0.625,
    0.75,
    0.875,
    0.9375,
    1.0,
    1.0625,
    1.125,
    1.1875,
    1.25,
    1.375,
    1.5,
    1.625,
    1.75,
    1.875,
    2.0,
    2.25,
    2.5,
    2.75,
    3.0,
)


_MM = 25.4
_SAME_IN = 0.01
"""A size this near to one that the rig carries is that one, inches."""


def hose_in(millimetres: float, context: Context) -> float:
    """The hose that goes by these millimetres: the rig's own of that size, else the US size of that nominal one."""
    exact = millimetres / _MM
    own = [size for size in context.hose_in if abs(size - exact) <= _SAME_IN]
    return min(own, key=lambda size: abs(size - exact)) if own else NOMINAL_MM.get(round(millimetres), round(exact, 4))


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
