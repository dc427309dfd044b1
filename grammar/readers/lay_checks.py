"""What a lay lacks, what can't be, and what is only plausible as a total."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine
from grammar.lexicon import sentence
from grammar.readers.base import Span
from grammar.readers.sizes import SMALLEST_TIP_IN, most_gpm, sizes
from grammar.saying import Sayer


class Missing(NamedTuple):
    """What a lay lacks: the slot's name and which line (by its place in the lays)."""

    slot: str
    lay: int
    line: int


_MORE_OF_ALL = 1.4
"""A total is that much above what one line may flow at most, a line."""


def hoses(lay: SaidLay, *, feed: bool = True) -> Iterator[SaidHose]:
    """All hose of a lay, that of its feed first."""
    yield from lay.feed if feed else ()
    yield from (hose for line in lay.lines for hose in line.hose)


def only_as_total(lays: tuple[SaidLay, ...]) -> bool:
    """A flow after a count is only plausible as the total (convention 4)."""
    for lay in lays:
        many = sum(line.count for line in lay.lines)
        for line in lay.lines:
            flow, most = line.nozzle.flow_gpm, most_gpm(line.hose[-1].hose_in if line.hose else None)
            if many > 1 and flow is not None and most < flow <= _MORE_OF_ALL * most * many:
                return True
    return False


def with_total(lays: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """The same lays with every stated flow taken as the total."""
    replace = msgspec.structs.replace

    def taken(line: SaidLine) -> SaidLine:
        nozzle = line.nozzle
        return line if nozzle.flow_gpm is None else replace(line, nozzle=replace(nozzle, flow_is_total=True))

    return tuple(replace(lay, lines=tuple(map(taken, lay.lines))) for lay in lays)


def missing(lays: tuple[SaidLay, ...]) -> Missing | None:
    """The first thing that a lay lacks."""
    for i, lay in enumerate(lays):
        lacks = _feed_lacks(lay) if lay.split is not None else None
        if lacks is not None:
            return Missing(lacks, i, 0)
        for k, line in enumerate(lay.lines):
            if (slot := _line_lacks(line)) is not None:
                return Missing(slot, i, k)
    return None


def _feed_lacks(lay: SaidLay) -> str | None:
    if not lay.feed:
        return "feed"
    lacks = _hose_lacks(lay.feed[:1], ("length_ft", "hose_in"))
    return f"feed_{lacks}" if lacks else "legs" if not lay.lines else None


def _line_lacks(line: SaidLine) -> str | None:
    if line.name is not None or line.device in ("sprinkler", "deck_gun"):
        return None
    if line.device == "aerial" and not line.hose:
        return "flow_gpm" if line.nozzle.flow_gpm is None and line.nozzle.tip_in is None else None
    return _hose_lacks(line.hose, ("hose_in", "length_ft")) if line.hose else "hose"


def _hose_lacks(hose: tuple[SaidHose, ...], slots: tuple[str, ...]) -> str | None:
    return next((slot for one in hose for slot in slots if getattr(one, slot) is None), None)


def impossible(lays: tuple[SaidLay, ...], say: Sayer) -> str | None:
    """Why a number can't be: zero and less is none, and no tip is as small as a quarter of an inch."""
    nozzles = [line.nozzle for lay in lays for line in lay.lines]
    told = [
        *(
            (name, value)
            for lay in lays
            for h in hoses(lay)
            for name, value in (("feet", h.length_ft), ("size", h.hose_in))
        ),
        *(
            (name, value)
            for n in nozzles
            for name, value in (("gpm", n.flow_gpm), ("psi", n.nozzle_psi), ("tip", n.tip_in))
        ),
    ]
    for name, value in told:
        if value is not None and (value <= 0 or (name == "tip" and value < SMALLEST_TIP_IN)):
            return sentence(f"no_such_{name}", value=getattr(say, name)(value), unit=say.length_unit)
    return None


def odd(span: Span, lays: tuple[SaidLay, ...]) -> float | None:
    """A hose size that neither the rig nor the trade has."""
    if span.context.units != "us":
        return None
    known = {*span.context.hose_in, *sizes("hoses")}
    found = (h.hose_in for lay in lays for h in hoses(lay) if h.hose_in is not None)
    return next((size for size in found if size not in known), None)
