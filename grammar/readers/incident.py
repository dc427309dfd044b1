"""Reads what the officer asks and decides: how long, how things stand, strategy."""

from __future__ import annotations

from grammar.readers.base import Span


def marks(span: Span) -> list[int]:
    """Positions of the words that negate, hope, order or ask."""
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]
