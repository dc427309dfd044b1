"""Reads that a supply is on its way."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    SaidHose,
    SupplyExpected,
)
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.supply import supply_hose

_KINDS: tuple[tuple[str, Literal["hydrant", "tender", "relay", "draft"]], ...] = (
    ("hydrant_word", "hydrant"),
    ("from_hydrant", "hydrant"),
    ("laying_hydrant", "hydrant"),
    ("tender", "tender"),
    ("relay", "relay"),
    ("draft_word", "draft"),
)


@reads(
    "laying_in",
    "supply_coming",
    "minutes_out",
    "hydrant_word",
    "water_supply",
    "tender",
    "supply_word",
    "bringing",
    "laying_hydrant",
    "is:unit",
)
def read_supply_expected(span: Span) -> Iterable[Candidate]:
    """ "engine 9 laying in, four minutes out", "hydrant in two minutes"."""
    minutes = next((i for i in span.kinds("num") if span.items[i].unit in ("min", "s", "hr")), -1)
    tender_unit = next((i for i in span.kinds("unit") if str(span.items[i].value).startswith(("tender", "tanker"))), -1)
    hose_too = any(span.items[i].unit in ("ft", "m") for i in span.kinds("num"))
    laying = span.has("laying_in", "laying_hydrant", "bringing")
    laying = laying or (
        hose_too
        and bool(span.kinds("unit"))
        and any(span.items[i].text in ("laying", "lay", "laying out") for i in range(span.lo, span.hi))
    )
    coming = span.has("supply_coming")
    ahead = minutes >= 0 and _ahead(span, minutes)
    about_supply = span.has("hydrant_word", "water_supply", "supply_word", "tender") or tender_unit >= 0
    about_supply = about_supply or (ahead and _only_unit(span))
    miles = _miles_out(span) if tender_unit >= 0 else -1
    if not (laying or coming or miles >= 0 or (ahead and about_supply)):
        return
    if span.has("timer", "how_long", "needed_flow", "shuttle", "water_on_fire", "ask_flow", "longest"):
        return
    at = span.first(
        "laying_in",
        "laying_hydrant",
        "bringing",
        "supply_coming",
        "hydrant_word",
        "water_supply",
        "supply_word",
        "tender",
    )
    if at >= 0 and span.stance(at) in ("asked", "denied"):
        return
    take = Take(
        span,
        *span.where(
            "laying_in",
            "laying_hydrant",
            "bringing",
            "supply_coming",
            "minutes_out",
            "hydrant_word",
            "water_supply",
            "supply_word",
            "hope",
            "for_noise",
            "of_hose",
            "from_hydrant",
            "order",
            "started",
            "water_word",
        ),
    )
    if miles >= 0:
        take.mark(miles)  # where it is, not when it comes: the minutes are asked
    unit = take.unit()
    kind = next((k for concept, k in _KINDS if span.has(concept)), None)
    if kind is None and any(
        "hydrant" in span.items[i].text or "plug" in span.items[i].text
        for i in span.where("laying_in", "supply_coming", "laying_hydrant")
    ):
        kind = "hydrant"
    if kind is None and tender_unit >= 0:
        kind = "tender"
    take.terms("tender", "relay")
    gallons = take.number("gal", "l")
    wait = None
    if minutes >= 0:
        wait = in_unit(span.items[minutes], "min")
        take.mark(minutes)
    hose: tuple[SaidHose, ...] = ()
    if any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")):
        hose = supply_hose(span, take)
    take.terms("feed", "line", "on_hydrant", "supply_to", "with_crew", "into", "dropped_to", "distance", "exit")
    cost = 0.0 if (laying or coming or miles >= 0) else 0.05
    if not unit and wait is None and not hose and kind is None:
        cost += 0.35
    yield take.reading(SupplyExpected(unit, wait, kind, hose, gallons), cost=cost)


def _miles_out(span: Span) -> int:
    """ "Tender 6 is two miles out": the number, or -1."""
    far = (i for i in span.kinds("num") if span.items[i].unit in ("mi", "km") and i + 1 < span.hi)
    return next((i for i in far if "minutes_out" in span.items[i + 1].concepts), -1)


def _ahead(span: Span, i: int) -> bool:
    before = span.items[i - 1].text if i > span.lo else ""
    after = span.items[i + 1].text if i + 1 < span.hi else ""
    return (
        before in ("in", "within", "about", "eta", "in about", "is", "are")
        or after in ("out", "away", "eta", "till", "from now")
        or "minutes_out" in (span.items[i + 1].concepts if i + 1 < span.hi else ())
    )


def _only_unit(span: Span) -> bool:
    """ "Two minutes out, engine 9": a unit, its minutes, and nothing else."""
    rest = [
        k
        for k in span.content()
        if span.items[k].kind not in ("unit", "num") and "minutes_out" not in span.items[k].concepts
    ]
    return len(span.kinds("unit")) == 1 and len(span.kinds("num")) == 1 and not rest
