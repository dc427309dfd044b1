"""Reads what the officer asks and decides: how long, how things stand, strategy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    Status,
    Strategy,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.benchmarks import sentence


def marks(span: Span) -> list[int]:
    """Positions of the words that negate, hope, order or ask."""
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]


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
