"""Takes a cylinder's gauge, its rating, and how many a crew are."""

from __future__ import annotations

from grammar.costs import DOUBTFUL
from grammar.readers.base import BAR, Span, Take
from grammar.readers.said import words
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_FINEST_PSI = 5
"""No one reads a gauge finer than this (common practice)."""
_CREW = 12
"""Most that a crew is taken to be."""


def gauge(take: Take) -> float | None:
    """Takes a cylinder gauge reading, psi: "4200", "forty two hundred", "200 bar"."""
    value = take.number("psi", "bar", "kpa", low=100, high=6000)
    if value is None:
        value = take.number(None, low=400, high=6000, whole=True)
    metric = take.span.context.units == "metric"
    if value is None and metric and take.span.has("lowest_word", "air_word", "air_firm"):
        bar = take.number(None, low=20, high=350, whole=True)
        value = bar * BAR if bar is not None else None
    if value is not None and not metric and too_fine(value):
        take.cost += DOUBTFUL
    return value


def too_fine(psi: float) -> bool:
    """Between two marks of a gauge."""
    return round(psi % _FINEST_PSI, 6) not in (0, _FINEST_PSI)


def lowest_gauge(take: Take) -> float | None:
    """The lowest of the gauges that are named one after the other: "4400 and 4200"."""
    read = [psi for psi in iter(lambda: gauge(take), None) if psi is not None]
    if len(read) > 1:
        take.notes.append(f"the lowest gauge, {Sayer(take.span.context.wording).gauge(min(read))}")
    return min(read, default=None)


def ratings(span: Span) -> list[int]:
    """Where minutes stand that a cylinder is rated at: "45 minute bottles"."""
    packs = word_list("gauges_packs")
    return [i for i in span.kinds("num") if span.items[i].unit == "min" and packs & {*words(span, i + 1, i + 3)}]


def members(take: Take) -> int | None:
    """Takes how many of a crew are spoken of."""
    value = take.number(None, low=1, high=_CREW, whole=True)
    return int(value) if value is not None else None
