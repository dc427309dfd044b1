"""Words beside what is worked out: where a line works, what burns, what is only told along.

In a question with its hose, its line and its numbers read, an ordinary word that is left over is cheap: it changes no
number. Dear it stays right beside a number (a misspelt unit, size or count), where it denies, and where it is one that
changes what is asked ("twice", "except"). On a line that is charged only a place is cheap: "on the balcony".
"""

from __future__ import annotations

from grammar import commands as c
from grammar.costs import HARDLY
from grammar.items import Item
from grammar.readers.base import Candidate
from grammar.vocabulary import word_list

_WORKED_OUT = frozenset((
    c.PumpPressure, c.FlowAtPressure, c.SupplyPressure, c.TankTime, c.WhatIf, c.LongestLay, c.Hydrant, c.HydrantFlow,
    c.NeededFlow, c.Shuttle, c.Draft, c.Nozzle, c.TipForFlow,
))  # fmt: skip
"""Commands that log nothing and change nothing: they are answered with what they were worked out from."""
_COUNTED = _WORKED_OUT | {c.LineOn, c.SupplyExpected}
_MOST_WORDS = 3
"""Words of a place at most: "the old brick church"."""


def spared(items: list[Item], lo: int, hi: int, candidate: Candidate) -> dict[int, float]:
    """What the words that a reading leaves over cost, where that is less than usual: position -> cost."""
    kinds = {type(command) for command in candidate.commands}
    asked = not kinds and candidate.intent == c.PumpPressure.intent and candidate.declined is None
    if not asked and not (kinds and kinds <= _COUNTED):
        return {}
    used = candidate.used
    left = [k for k in range(lo, hi) if not used >> k & 1 and _could_be_spared(items[k])]
    told = [k for k in range(lo, hi) if used >> k & 1 and _tells(items[k])] if left else []
    if not told:
        return {}
    at = places(items, max(lo, left[0] - _MOST_WORDS - 2), hi)
    if kinds <= _WORKED_OUT:
        counted = any(used >> k & 1 and items[k].kind == "num" for k in range(lo, hi))
        beside = _tells_nothing if len(told) > 1 and counted else _leads_in
        at |= {k for k in left if beside(items, lo, k, used)}
    return {k: HARDLY for k in left if k in at}


def names_no_line(items: list[Item], lo: int, k: int) -> bool:
    """The clause of `k` names no line: "garden villa: crosslay 1"."""
    first, last = _clause(items, lo, k)
    return not any(_tells(item) for item in items[first:last])


def places(items: list[Item], lo: int, hi: int) -> set[int]:
    """The words of the places that are told of: "on the balcony"."""
    return {k for start in range(lo, hi) for k in _place_at(items, start, hi)}


def _could_be_spared(item: Item) -> bool:
    return not item.free and item.kind in ("word", "term", "street") and "whereabouts" not in item.concepts


def _tells_nothing(items: list[Item], lo: int, k: int, used: int) -> bool:
    return _idle(items, k) and (_of_a_place(items[k]) or _behind(items, lo, k, used))


def _tells(item: Item) -> bool:
    return f"is:{item.kind}" in word_list("spared_telling") or not item.concepts.isdisjoint(word_list("spared_telling"))


def _behind(items: list[Item], lo: int, k: int, used: int) -> bool:
    """Behind the line or the number that its clause tells of, or in a clause that tells nothing.

    Before it stands what is done to it: "lengthening the rear line".
    """
    first, _ = _clause(items, lo, k)
    return any(used >> n & 1 and _tells(items[n]) for n in range(first, k)) or _by_itself(items, lo, k, used)


def _by_itself(items: list[Item], lo: int, k: int, used: int) -> bool:
    """In a clause of its own that tells nothing: "structure defense, two lines …"."""
    first, last = _clause(items, lo, k)
    told = any(used >> n & 1 and _tells(items[n]) for n in range(first, last))
    return (last < len(items) or first > lo) and not told and all(_aside(items, n) for n in range(first, last))


def _leads_in(items: list[Item], lo: int, k: int, used: int) -> bool:
    """In a clause of its own before the line is named: "garden villa: crosslay 1"."""
    return not any(used >> n & 1 and _tells(items[n]) for n in range(lo, k)) and _by_itself(items, lo, k, used)


def _clause(items: list[Item], lo: int, k: int) -> tuple[int, int]:
    """Where the clause of `k` begins and ends."""
    first = next((n + 1 for n in range(k - 1, lo - 1, -1) if items[n].kind == "sep"), lo)
    return first, next((n for n in range(k + 1, len(items)) if items[n].kind == "sep"), len(items))


def _aside(items: list[Item], n: int) -> bool:
    """Says nothing that counts: free, of a place, or an ordinary word."""
    item = items[n]
    burns = (
        item.kind == "term" and item.concepts <= word_list("spared_burns") and bool(item.concepts)
    )  # "parking deck fire, …"
    return _idle(items, n) or item.free or "whereabouts" in item.concepts or burns


def _idle(items: list[Item], k: int) -> bool:
    """An ordinary word that stands by itself."""
    item = items[k]
    if item.kind != "word" and not _of_a_place(item):
        return False
    beside = [items[n] for n in (k - 1, k + 1) if 0 <= n < len(items)]
    counts = any(one.kind == "num" for one in beside)
    return not counts and item.text not in word_list("spared_alters") and "not" not in item.polarity


def _place_at(items: list[Item], k: int, hi: int) -> range:
    """The words of "on the balcony", "at her back gate", that begin with the preposition at `k`; of "third floor
    walkway" those behind the floor; empty where no place is told."""
    first = k
    if items[k].kind in ("floor", "place"):
        return range(0)
    if items[k].text in word_list("spared_leads"):
        k += 1
        if k >= hi or not (items[k].text in word_list("spared_determiners") or _a_name(items[k])):
            return range(0)
        k += items[k].text in word_list("spared_determiners")
    elif not k or items[k - 1].kind != "floor":
        return range(0)
    start = k
    while k < hi and k - start < _MOST_WORDS and _word_of_place(items[k]):
        k += 1
    ends = k == hi or items[k].kind in ("sep", "floor", "place") or _joins(items[k])
    return range(first, k) if k > start and ends else range(0)


def _a_name(item: Item) -> bool:
    """A street, or a word that is known nowhere: "on Quarry", "from Kestrel and Third"."""
    return item.kind == "street" or (
        item.kind == "word" and item.form != "plain" and not item.free and len(item.text) > 3
    )


def _joins(item: Item) -> bool:
    return "and" in item.concepts or item.text in word_list("spared_leads")


def _word_of_place(item: Item) -> bool:
    if item.text in word_list("spared_alters") or item.text in word_list("spared_moments"):
        return False
    return (
        item.text == "s"
        or (item.kind == "word" and not item.free)
        or _of_a_place(item)
        or "whereabouts" in item.concepts
    )


def _of_a_place(item: Item) -> bool:
    """A term that says what is there and nothing else: "the house", "the truck"; a place itself is read as one."""
    if item.kind == "street":
        return True
    return item.kind == "term" and bool(item.concepts) and all(_no_report(concept) for concept in item.concepts)


def _no_report(concept: str) -> bool:
    return concept in word_list("spared_places") or concept.startswith(tuple(word_list("spared_elsewhere")))
