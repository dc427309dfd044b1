"""Reads what the officer asks of the incident's times."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import (
    BenchmarkName,
    Elapsed,
    LineChange,
    LineOff,
    LineOn,
    Question,
    Status,
    TankTime,
    WaterSource,
)
from grammar.costs import HARDLY
from grammar.lexicon import language
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.benchmarks import RULES
from grammar.readers.said import holds, words
from grammar.vocabulary import word_list

_AT_THE_PUMP = (TankTime, LineOn, LineOff, LineChange, WaterSource)
""" "How long now", after one of these."""


@reads("elapsed", "how_long")
def read_tank_asked(span: Span) -> Iterable[Candidate]:
    """ "How long have I got", from a driver on tank water with a line on: the tank's time."""
    here = span.context
    if here.role != "driver" or here.source != "tank" or not here.lines or span.has("elapsed", "since"):
        return
    again = holds(span, "incident_now") and any(isinstance(command, _AT_THE_PUMP) for command in here.last)
    if word_list("incident_left").issuperset(words(span)) and (again or holds(span, "incident_got")):
        yield Take(span, *range(span.lo, span.hi)).reading(TankTime())


@reads("how_long")
def read_how_long_it_took(span: Span) -> Iterable[Candidate]:
    """ "How long did that take": from what to what is asked."""
    if holds(span, "incident_took"):
        what = Question("How long what? Say it like “how long from water to under control”.", ())
        yield Take(span, *span.where("how_long", "since")).asking(what, Elapsed.intent)


@reads("how_long", "elapsed")
def read_between(span: Span) -> Iterable[Candidate]:
    """ "How long from water to under control", "how long between arrival and the knockdown"."""
    if not holds(span, "incident_between") and not (holds(span, "benchmarks_from") and holds(span, "incident_until")):
        return
    found: dict[BenchmarkName, int] = {}
    for i in range(span.lo, span.hi):
        name = _benchmark_at(span, i)
        if name is not None:
            found.setdefault(name, i)
    if len(found) == 2:
        take = Take(span, *found.values(), *span.where(*word_list("incident_beside")))
        take.free(*word_list("incident_between"), *word_list("incident_until"), *word_list("benchmarks_from"))
        take.terms("and", "search", "cond")
        yield take.reading(Elapsed(*found))


def _benchmark_at(span: Span, i: int) -> BenchmarkName | None:
    """The benchmark that is named there: by its term, or by a word that stands for it between "from" and "to"."""
    item = span.items[i]
    for rule in RULES:
        if rule.subject[0] in item.concepts - {"command_word"}:
            return "primary_search_complete" if rule.subject[0] == "primary" else rule.benchmark
    spoken_of: dict[str, BenchmarkName] = language().get("benchmarks", {}).get("spoken_of", {})
    return next((name for word, name in spoken_of.items() if word in item.text.split()), None)


@reads("when_was")
def read_when_water(span: Span) -> Iterable[Candidate]:
    """ "What time did we get water"."""
    said = [i for i in span.content() if not span.items[i].concepts & {"when_was", "for_noise"}]
    if said and all("water_word" in span.items[i].concepts for i in said):
        yield Take(span, *span.content()).reading(Status(about="water_on_fire"), cost=HARDLY)
