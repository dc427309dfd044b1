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
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.benchmarks import RULES
from grammar.vocabulary import word_list


@reads("elapsed", "how_long")
def read_tank_asked(span: Span) -> Iterable[Candidate]:
    """ "How long have I got", from a driver on tank water: the tank's time."""
    if _of_the_tank(span):
        yield Take(span, *range(span.lo, span.hi)).reading(TankTime(), cost=0.0)


@reads("how_long")
def read_how_long_it_took(span: Span) -> Iterable[Candidate]:
    """ "How long did that take": from what to what is asked."""
    if {"take", "took", "taken"} & {span.items[i].text for i in range(span.lo, span.hi)}:
        take = Take(span, *span.where("how_long", "since"))
        what = Question("How long what? Say it like “how long from water to under control”.", ())
        yield take.asking(what, Elapsed.intent, 0.0)


def _of_the_tank(span: Span) -> bool:
    """A driver on tank water with a line on who asks "how long have I got" asks for the tank."""
    here = span.context
    if here.role != "driver" or here.source != "tank" or not here.lines or span.has("elapsed", "since"):
        return False
    words = {word for i in range(span.lo, span.hi) for word in span.items[i].text.split()}
    again = "now" in words and any(isinstance(command, _AT_THE_PUMP) for command in here.last)
    return words <= word_list("incident_left") and (again or bool(words & {"got", "left"}))


_AT_THE_PUMP = (TankTime, LineOn, LineOff, LineChange, WaterSource)
""" "How long now", after one of these."""


_SPOKEN_OF: tuple[tuple[str, BenchmarkName], ...] = (
    ("arrival", "on_scene"),
    ("arriving", "on_scene"),
    ("water", "water_on_fire"),
    ("dispatch", "dispatched"),
    ("call", "dispatched"),
    ("knockdown", "knocked_down"),
    ("control", "under_control"),
    ("primary", "primary_search_complete"),
    ("secondary", "secondary_search_complete"),
)
"""Benchmarks by the words that stand for them between "from" and "to"."""


@reads("how_long", "elapsed")
def read_between(span: Span) -> Iterable[Candidate]:
    """ "How long from water to under control", "how long between arrival and the knockdown"."""
    texts = [word for i in range(span.lo, span.hi) for word in span.items[i].text.split()]
    if not ("between" in texts or ("from" in texts and {"to", "until", "till"} & {*texts})):
        return
    found: dict[BenchmarkName, int] = {}
    for i in range(span.lo, span.hi):
        name = _benchmark_at(span, i)
        if name is not None:
            found.setdefault(name, i)
    if len(found) != 2:
        return
    (since, first), (until, second) = found.items()
    take = Take(
        span, first, second, *span.where("how_long", "elapsed", "water_word", "fire_word", "complete", "started")
    )
    take.free("from", "to", "between", "until", "till", "and")
    take.mark(*(i for i in range(span.lo, span.hi) if span.items[i].text in ("between", "until", "till", "from", "to")))
    take.terms("and", "search", "cond")
    yield take.reading(Elapsed(since, until), cost=0.0)


def _benchmark_at(span: Span, i: int) -> BenchmarkName | None:
    item = span.items[i]
    for rule in RULES:
        if rule.subject[0] in item.concepts and rule.subject[0] != "command_word":
            return "primary_search_complete" if rule.subject[0] == "primary" else rule.benchmark
    return next((name for word, name in _SPOKEN_OF if word in item.text.split()), None)


@reads("when_was")
def read_when_water(span: Span) -> Iterable[Candidate]:
    """ "What time did we get water"."""
    said = [i for i in span.content() if not span.items[i].concepts & {"when_was", "for_noise"}]
    if said and all("water_word" in span.items[i].concepts for i in said):
        yield Take(span, *span.content()).reading(Status(about="water_on_fire"), cost=0.03)
