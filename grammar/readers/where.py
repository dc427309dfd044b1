"""Where a thing was done or told of: a place, a floor by its number, a part by a word of its own, an address."""

from __future__ import annotations

from grammar.costs import HARDLY, LIKELY
from grammar.items import Item, floor_name
from grammar.readers.base import Span, Take
from grammar.readers.said import text_at
from grammar.vocabulary import word_list

_TALLEST = 60
NAME = 3
"""Most words of a name of one's own."""


def on_floor(take: Take) -> str | None:
    """ "Primary complete on six": the sixth floor; "on our side"."""
    span = take.span
    for i in take.open():
        if text_at(span, i) in word_list("where_our") and text_at(span, i + 1) in word_list("where_part"):
            take.mark(i, i + 1)
            return f"our {text_at(span, i + 1)}"
        if text_at(span, i) in word_list("where_on") and i + 1 < span.hi and _is_floor(span, i + 1):
            also = [i + 2] if text_at(span, i + 2) in word_list("where_also") else []
            take.mark(i, i + 1, *also)
            take.cost += HARDLY
            return floor_name(int(span.items[i + 1].number))
    return None


def _is_floor(span: Span, i: int) -> bool:
    """A bare number, and what follows it is counted by nothing."""
    number, after = span.items[i], span.items[i + 1] if i + 1 < span.hi else None
    whole = number.kind == "num" and number.form == "int" and number.unit is None and 1 <= number.number <= _TALLEST
    return whole and (after is None or after.free or after.kind == "sep" or after.text in word_list("where_also"))


def part_named(take: Take, i: int) -> str | None:
    """ "Good knock in the dormer room": a part that goes by a word of its own."""
    span = take.span
    if text_at(span, i + 1) not in word_list("where_in") or text_at(span, i + 2) not in word_list("where_the"):
        return None
    end = next((k for k in range(i + 3, span.hi) if span.items[k].kind == "sep"), span.hi)
    named = span.items[i + 3 : end]
    plain = all(item.kind == "word" and not item.free and not item.polarity_mark for item in named)
    if not 0 < len(named) <= NAME or not plain or named[-1].text in word_list("benchmarks_whole"):
        return None
    take.mark(*range(i + 1, end))
    take.cost += LIKELY
    return " ".join(item.text for item in named)


def address(take: Take) -> None:
    """An address says where, and is no number of anything: "at 88 Larkspur", "at Sixth", "on Orchard Street"."""
    span = take.span
    for i in list(take.open()):
        item, after = span.items[i], span.items[i + 1] if i + 1 < span.hi else None
        at = text_at(span, i - 1).split()[-1:] and text_at(span, i - 1).split()[-1] in word_list("where_at")
        if item.kind == "num":
            take.mark(*_numbered(span, i, after, bool(at)))
        elif _a_name(item) and at:
            take.mark(i)
            take.cost += HARDLY


def _numbered(span: Span, i: int, after: Item | None, at: bool) -> range:
    """A house number with its road, or a road that goes by a number."""
    roads = (k for k in range(i + 1, min(i + NAME + 1, span.hi)) if is_road(span.items[k]))
    if (road := next(roads, None)) is not None:
        return range(i, road + 1)
    if at and after is not None and _a_name(after) and not after.free and span.items[i].unit is None:
        return range(i, i + 2)
    return range(i, i + (at and after is None and span.items[i].form == "ordinal"))


def _a_name(item: Item) -> bool:
    return item.kind in ("word", "street") and item.form != "plain"


def is_road(item: Item) -> bool:
    """A road, or the word that makes a name one."""
    return item.kind == "street" or item.text in word_list("benchmarks_roads")
