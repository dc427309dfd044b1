"""Reads what the officer asks and decides: how long, how things stand, strategy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    BenchmarkName,
    Elapsed,
    Status,
    Strategy,
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
    if not span.has("elapsed") and not (
        span.has("how_long") and (span.has("since", "cpr_started") or len(span.content()) == 1)
    ):
        return
    if span.has("reminders", "stop_reminder", "interval", "snooze", "timer"):
        return
    take = Take(span, *span.where("elapsed", "how_long", "since"))
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
