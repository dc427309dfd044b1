"""Reads what the officer asks and decides: how long, how things stand, strategy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    BenchmarkName,
    Elapsed,
    HandOver,
    LineChange,
    LineOff,
    LineOn,
    Question,
    Status,
    Strategy,
    TankTime,
    WaterSource,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.benchmarks import RULES, sentence

_SINCE: tuple[tuple[tuple[str, ...], BenchmarkName], ...] = (
    (("dispatched", "dispatch_word"), "dispatched"),
    *((rule.subject, rule.benchmark) for rule in RULES if rule.benchmark != "dispatched"),
)


def marks(span: Span) -> list[int]:
    """Positions of the words that negate, hope, order or ask."""
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]


@reads("elapsed", "how_long", "since", "cpr_started")
def read_elapsed(span: Span) -> Iterable[Candidate]:
    """ "how long have we been here", "how long since water on the fire"."""
    if (
        not span.has("elapsed")
        and not _of_the_tank(span)
        and not (span.has("how_long") and (span.has("since", "cpr_started") or len(span.content()) == 1))
    ):
        return
    if span.has("reminders", "stop_reminder", "interval", "snooze", "timer"):
        return
    if _of_the_tank(span):
        yield Take(span, *range(span.lo, span.hi)).reading(TankTime(), cost=0.03)
        return
    take = Take(span, *span.where("elapsed", "how_long", "since"))
    if {"take", "took", "taken"} & {span.items[i].text for i in range(span.lo, span.hi)}:
        what = Question("How long what? Say it like “how long from water to under control”.", ())
        yield take.asking(what, Elapsed.intent, 0.0)
        return
    text = " ".join(span.items[i].text for i in span.where("elapsed", "how_long", "since"))
    since: BenchmarkName | None = None
    if "since" in text or "ago" in text or span.has("since"):
        for subjects, benchmark in _SINCE:
            at = take.term(*subjects)
            if at >= 0:
                since = benchmark
                take.terms("complete", "in_place", "secured", "all_clear")
                break
    take.terms("cpr_started", "water_word", "dispatch_word", "for_noise")
    if any(span.items[i].kind == "num" for i in take.open()):
        return
    yield take.reading(Elapsed(since), cost=0.0 if span.has("elapsed") or since else 0.05)


def _of_the_tank(span: Span) -> bool:
    """A driver on tank water with a line on who asks "how long have I got" asks for the tank."""
    here = span.context
    if here.role != "driver" or here.source != "tank" or not here.lines or span.has("elapsed", "since"):
        return False
    words = {word for i in range(span.lo, span.hi) for word in span.items[i].text.split()}
    again = "now" in words and any(isinstance(command, _AT_THE_PUMP) for command in here.last)
    return words <= _HOW_LONG_LEFT and (again or bool(words & {"got", "left"}))


_AT_THE_PUMP = (TankTime, LineOn, LineOff, LineChange, WaterSource)
""" "How long now", after one of these."""
_HOW_LONG_LEFT = frozenset(
    (
        "how",
        "long",
        "much",
        "time",
        "have",
        "has",
        "do",
        "does",
        "i",
        "we",
        "got",
        "left",
        "now",
        "is",
        "it",
        "so",
        "ok",
    )
)


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


_ABOUT = (
    ("inside_ask", "crews"),
    ("air_ask", "air"),
    ("ask_units", "units"),
    ("ask_benchmarks", "benchmarks"),
    ("ask_lines", "lines"),
    ("ask_water", "water"),
    ("ask_par", "par"),
    ("ask_reminders", "reminders"),
    ("ask_strategy", "strategy"),
    ("ask_supply", "water_supply"),
    ("ask_crews", "crews"),
    ("ask_rit", "rit_in_place"),
)


@reads("board", *(concept for concept, _ in _ABOUT))
def read_status(span: Span) -> Iterable[Candidate]:
    """ "status", "who's inside", "line status", "air status"."""
    for concept, about in _ABOUT:
        if span.has(concept):
            take = Take(span, *span.where(concept, "board"))
            unit = take.unit()
            take.terms("air_word", "for_noise", "line", "hope", "par", "entry", "on_scene", "establishing")
            yield take.reading(Status(about, unit), cost=0.0)
            return
    take = Take(span, *span.where("board"))
    take.terms("show", "order")
    summed = any("summary" in span.items[i].text.split() for i in span.where("board"))
    if summed and span.context.incident_kind == "medical":
        yield take.reading(HandOver(), cost=0.02)
        return
    unit = take.unit()
    unread = [i for i in take.open() if span.items[i].kind in ("word", "term") and not span.items[i].free]
    if not span.kinds("num", "line") and not span.has("lost_psi"):
        yield take.reading(Status(unit=unit), cost=(0.02 if unit is None else 0.15) + 0.2 * len(unread))


@reads("air_firm", "air_word")
def read_air_asked(span: Span) -> Iterable[Candidate]:
    """ "how's engine 9's air"."""
    i = span.first("air_firm")
    if i < 0 or span.kinds("num") or span.stance(i) != "asked" or span.has("air_calc", "air_ask"):
        return
    take = Take(span, i)
    unit = take.unit()
    take.terms("air_word", "air_firm", "establishing", "board")
    take.free("how", "what", "how is")
    if unit is not None:
        yield take.reading(Status("air", unit), cost=0.05)


@reads("defensive", "offensive")
def read_strategy(span: Span) -> Iterable[Candidate]:
    """ "going defensive"."""
    i = span.first("defensive", "offensive")
    strategy: Literal["offensive", "defensive"] = "defensive" if "defensive" in span.items[i].concepts else "offensive"
    if span.has("defensive") and span.has("offensive"):
        strategy = "defensive" if max(span.where("defensive")) > max(span.where("offensive")) else "offensive"
    take = Take(span, *span.where("defensive", "offensive"))
    take.unit()
    take.terms(
        "strategy_word", "replaced", "for_noise", "move_to", "establishing", "entry", "incident_fire", "task_attack"
    )
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*marks(span))
        yield take.reading(Status(about="strategy"), cost=0.05)
    elif stance == "said" or (stance == "ordered"):
        take.mark(*marks(span))
        yield take.reading(Strategy(strategy), cost=0.0 if stance == "said" else 0.15)
    else:
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Strategy.intent, 0.03)
