"""What a lay lacks, what can't be, and what is only plausible as a total."""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from grammar.commands import SaidLay
from grammar.readers.base import Span
from grammar.readers.grouping import Builder
from grammar.readers.sizes import sizes
from grammar.saying import Sayer


class Missing(NamedTuple):
    """What a lay lacks: the slot's name and which line (by its place in the lays)."""

    slot: str
    lay: int
    line: int


_MOST_GPM = {0.75: 30, 1.0: 60, 1.25: 100, 1.5: 165, 1.75: 250, 2.0: 325, 2.5: 400, 3.0: 800}
"""Most that one hand line of this size is taken to flow before "each" becomes doubtful, gpm (common practice)."""


def both_each(built: Builder, lays: tuple[SaidLay, ...]) -> bool:
    """Applies "total"; True when a flow after a count is only plausible as the total (convention 4)."""
    doubtful = False
    for lay in lays:
        many = sum(line.count for line in lay.lines)
        for line in lay.lines:
            flow = line.nozzle.flow_gpm
            if flow is None or many < 2 or built.each or built.total:
                continue
            size = line.hose[-1].hose_in if line.hose else 1.75
            most = _MOST_GPM.get(size or 1.75, 1200)
            if flow > most and flow / many <= 1.4 * most:
                doubtful = True
    return doubtful


def with_total(lays: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """The same lays with every stated flow taken as the total."""
    replace = msgspec.structs.replace
    return tuple(
        replace(
            lay,
            lines=tuple(
                replace(line, nozzle=replace(line.nozzle, flow_is_total=True))
                if line.nozzle.flow_gpm is not None
                else line
                for line in lay.lines
            ),
        )
        for lay in lays
    )


def missing(lays: tuple[SaidLay, ...]) -> Missing | None:
    for i, lay in enumerate(lays):
        if lay.split is not None:
            if not lay.feed:
                return Missing("feed", i, 0)
            if lay.feed[0].length_ft is None:
                return Missing("feed_length_ft", i, 0)
            if lay.feed[0].hose_in is None:
                return Missing("feed_hose_in", i, 0)
            if not lay.lines:
                return Missing("legs", i, 0)
        for k, line in enumerate(lay.lines):
            if line.name is not None or line.device in ("sprinkler", "deck_gun"):
                continue
            if line.device == "aerial" and not line.hose:
                if line.nozzle.flow_gpm is None and line.nozzle.tip_in is None:
                    return Missing("flow_gpm", i, k)
                continue
            if not line.hose:
                return Missing("hose", i, k)
            for hose in line.hose:
                if hose.hose_in is None:
                    return Missing("hose_in", i, k)
                if hose.length_ft is None:
                    return Missing("length_ft", i, k)
    return None


def impossible(lays: tuple[SaidLay, ...], say: Sayer) -> str | None:
    for lay in lays:
        for hose in (*lay.feed, *(h for line in lay.lines for h in line.hose)):
            if hose.length_ft is not None and hose.length_ft <= 0:
                return f"{say.feet(hose.length_ft)} isn't a length of hose; say how many {say.length_unit} are laid"
            if hose.hose_in is not None and hose.hose_in <= 0:
                return f"{say.size(hose.hose_in)} isn't a size of hose; say the size"
        for line in lay.lines:
            flow, psi = line.nozzle.flow_gpm, line.nozzle.nozzle_psi
            if flow is not None and flow <= 0:
                return f"{say.gpm(flow)} isn't a flow; say a number above zero"
            if psi is not None and psi <= 0:
                return f"{say.psi(psi)} isn't a nozzle pressure; say a number above zero"
            if line.nozzle.tip_in is not None and line.nozzle.tip_in <= 0:
                return "a tip has to be larger than zero; say its size"
    return None


def odd(span: Span, lays: tuple[SaidLay, ...]) -> float | None:
    """A hose size that neither the rig nor the trade has."""
    for lay in lays:
        for hose in (*lay.feed, *(h for line in lay.lines for h in line.hose)):
            size = hose.hose_in
            if (
                size is not None
                and size not in span.context.hose_in
                and size not in sizes("hoses")
                and span.context.units == "us"
            ):
                return size
    return None
