"""What words point at, put in their place before any reader: "same floor", "the other crosslay"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from grammar.commands import Context, PumpPressure
from grammar.items import Item

_STARTS = frozenset(("charge", "charged_state", "open", "flow_on"))


def take_pointed(items: Sequence[Item], context: Context) -> None:
    """What isn't decided stays as it was said, and is asked about."""
    _same_floor(items, context)
    if any(not item.concepts.isdisjoint(_STARTS) for item in items):
        _other_of_two(items, context)


def _same_floor(items: Sequence[Item], context: Context) -> None:
    """The floor of what was asked last, else of the lines that are on, where these agree on one."""
    at = [item for item in items if "same_floor" in item.concepts]
    if not at:
        return
    last = context.last[-1] if context.last else None
    asked = {line.floor for lay in last.lays for line in lay.lines} if isinstance(last, PumpPressure) else set()
    for floors in (asked, {line.floor for line in context.lines if line.on}):
        if len(floors) == 1 and (floor := next(iter(floors))) is not None:
            for item in at:
                item.kind, item.value, item.concepts = "floor", floor, frozenset()
            return


def _other_of_two(items: Sequence[Item], context: Context) -> None:
    """ "Charging the other crosslay", while one of the two is on: the one that isn't."""
    on = {line.name for line in context.lines if line.on}
    for before, item in pairwise(items):
        if item.kind != "family" or "other" not in before.concepts or not isinstance(item.value, tuple):
            continue
        packed = [key for key in item.value if key not in on]
        if len(item.value) == 2 and len(packed) == 1:
            item.kind, item.value, item.concepts = "line", packed[0], frozenset()
            before.free, before.concepts = True, frozenset()
