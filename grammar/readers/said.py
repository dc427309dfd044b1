"""What several readers ask of a stretch: which words stand where, and what becomes of a report that isn't one."""

from __future__ import annotations

from grammar.commands import Command
from grammar.costs import HARDLY, LIKELY
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Stance, Take
from grammar.vocabulary import word_list


def words(span: Span, lo: int | None = None, hi: int | None = None) -> list[str]:
    """The single words of the items lo..hi (exclusive)."""
    items = span.items[span.lo if lo is None else max(lo, 0) : span.hi if hi is None else hi]
    return [word for item in items for word in item.text.split()]


def holds(span: Span, name: str, lo: int | None = None, hi: int | None = None) -> bool:
    """A word of the language's list stands there."""
    return not word_list(name).isdisjoint(words(span, lo, hi))


def text_at(span: Span, i: int) -> str:
    """The words of the item; none outside the stretch."""
    return span.items[i].text if span.lo <= i < span.hi else ""


def marks(span: Span) -> list[int]:
    """Positions of the words that negate, hope, order or ask."""
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]


def take_words(take: Take, *names: str) -> None:
    """These lists' words say nothing more here."""
    for name in names:
        take.free(*word_list(name))


def beside(take: Take, name: str) -> None:
    """The terms of this list go with it and say nothing more."""
    take.terms(*word_list(name))


def sentence(stance: Stance) -> str:
    """Why nothing was logged."""
    return reason({"denied": "not_happened", "ordered": "an_order"}.get(stance, "still_to_come"))


def answering(take: Take, status: Command, cost: float = HARDLY) -> Candidate:
    """It was asked: the log answers."""
    take.mark(*marks(take.span))
    return take.reading(status, cost=cost)


def unreported(take: Take, stance: Stance, intent: str) -> Candidate:
    """Denied, hoped or ordered: nothing is logged, and what stood in its words is of what isn't so."""
    take.mark(*marks(take.span), *(i for i in take.span.kinds("num", "place", "floor")))
    return take.declining(sentence(stance), intent, LIKELY)
