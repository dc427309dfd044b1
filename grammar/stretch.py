"""Reads one stretch of a message as one command: wakes the readers and counts what each leaves unexplained."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from grammar import commands as c
from grammar.commands import Context
from grammar.costs import ACROSS, ACROSS_MARKED, ASKED, COSTS, HOPELESS_READING, MISSPELT, STRICT, SURE
from grammar.doubt import CHANGES, OF_THE_ROAD, Bearing, bearing, doubt, idle
from grammar.frames import read_frames
from grammar.items import Item
from grammar.questions import clauses
from grammar.readers.base import Candidate, Span, readers_for
from grammar.spared import spared
from grammar.vocabulary import word_list

KEEP = 3


def stretch(text: str, items: list[Item], lo: int, hi: int, context: Context) -> list[Candidate]:
    """The best readings of items lo..hi as one command, cheapest first; their costs include what they leave over."""
    span = Span(items, lo, hi, context, text)
    crossed = _crossed(items, lo, hi)
    readers = (*readers_for(span.concepts), read_frames)
    found = [_weighed(span, candidate, crossed) for reader in readers for candidate in reader(span)]
    found.sort(key=lambda c: c.cost)
    kept: list[Candidate] = []
    for candidate in found:
        if len(kept) >= KEEP or candidate.cost >= HOPELESS_READING:
            break
        if not any(k.commands == candidate.commands and k.question == candidate.question for k in kept):
            kept.append(candidate._replace(over=_over(items, lo, hi, candidate.used)))
    return kept


def _weighed(span: Span, candidate: Candidate, crossed: float) -> Candidate:
    """With the cost of what it leaves unexplained."""
    items, lo, hi = span.items, span.lo, span.hi
    spare = spared(items, lo, hi, candidate)
    bears = bearing(candidate.commands)
    left = left_over(items, lo, hi, candidate.used, bears, spare)
    left -= _placed(items, lo, hi, candidate, bears, spare) if left else SURE
    across = SURE if crossed and _several_lines(candidate) else crossed
    cost = candidate.cost + left + across + _asked(span, candidate)
    if candidate.declined is not None or any(isinstance(command, CHANGES) for command in candidate.commands):
        cost += MISSPELT * sum(items[i].slip for i in range(lo, hi) if candidate.used >> i & 1)
    return candidate._replace(cost=cost, left=left)


def _over(items: list[Item], lo: int, hi: int, used: int) -> tuple[Item, ...]:
    return tuple(items[k] for k in _open(items, lo, hi, used) if doubt(items[k]) > 0)


def _open(items: list[Item], lo: int, hi: int, used: int) -> Iterator[int]:
    """Positions that a reading doesn't explain."""
    return (k for k in range(lo, hi) if not used >> k & 1 and not _is_of_it(items, k))


_WORKS_SOMEWHERE = frozenset(
    (
        c.PumpPressure,
        c.LineOn,
        c.LineOff,
        c.LineChange,
        c.FlowAtPressure,
        c.SupplyPressure,
        c.TankTime,
        c.WhatIf,
        c.Benchmark,
        c.WaterSource,
        c.Rehab,
        c.Shuttle,
        c.Draft,
        c.Hydrant,
        c.HydrantFlow,
        c.NeededFlow,
        c.Nozzle,
        c.TipForFlow,
        c.LongestLay,
        c.SupplyExpected,
        c.Request,
        c.Entry,
        c.Exit,
        c.ComingOut,
        c.Assign,
        c.Par,
        c.Intake,
    )
)


def _placed(
    items: list[Item], lo: int, hi: int, candidate: Candidate, bears: Bearing, spare: dict[int, float]
) -> float:
    """What isn't lost with the words for where a line works or what burns there: they change no number."""
    kinds = {type(command) for command in candidate.commands}
    if any(isinstance(command, c.Benchmark) and command.benchmark in OF_THE_ROAD for command in candidate.commands):
        return SURE  # "on my way back from the store"
    if candidate.declined is not None or (kinds and not kinds <= _WORKS_SOMEWHERE):
        return SURE
    if not kinds and candidate.intent != c.PumpPressure.intent:
        return SURE
    strict = STRICT if bears in _STRICT_ONES else 1
    told = (items[k] for k in _open(items, lo, hi, candidate.used) if k not in spare and _of_a_place(items[k]))
    return sum(max(doubt(item, bears) * strict - COSTS.whereabouts, SURE) for item in told)


def _of_a_place(item: Item) -> bool:
    return "whereabouts" in item.concepts and not any(concept.startswith("place:") for concept in item.concepts)


def _several_lines(candidate: Candidate) -> bool:
    """Lines of one pump, a sentence for each."""
    one = candidate.commands[0] if len(candidate.commands) == 1 else None
    return isinstance(one, c.PumpPressure) and len(one.lays) > 1


def _crossed(items: list[Item], lo: int, hi: int) -> float:
    """Reading across the end of a sentence is less likely."""
    ends = [
        k
        for k in range(lo + 1, hi - 1)
        if items[k].kind == "sep" and items[k].text in ".;\n!?" and items[k - 1].kind != "sep"
    ]
    if not ends:
        return SURE
    bounds = [lo, *(k + 1 for k in ends), hi + 1]
    idle = [_only_asks(items[a : b - 1]) for a, b in pairwise(bounds)]
    crossed = (items[k].text for n, k in enumerate(ends) if not (idle[n] or idle[n + 1]))
    return sum(ACROSS if mark in ".;\n" else ACROSS_MARKED for mark in crossed)


def _only_asks(sentence: list[Item]) -> bool:
    """A sentence that asks and tells nothing, or only where it is: it goes with the one beside it."""
    asks = word_list("stretch_asks")
    return all(item.free or item.kind == "sep" or not item.concepts.isdisjoint(asks) for item in sentence)


_STRICT_ONES: tuple[Bearing, ...] = ("report", "road", "changes", "change", "source", "exact")
"""Where a word that can't be explained weighs more: what is logged or runs."""


LOGGED = (*CHANGES, c.Assign, c.Rehab, c.Report, c.SupplyExpected, c.AirReading, c.Join, c.Restore)
"""Commands that leave something in the log."""


def _asked(span: Span, candidate: Candidate) -> float:
    """What a question asks is not logged, whichever reader read it."""
    if not any(isinstance(command, LOGGED) and not _asks(command) for command in candidate.commands):
        return SURE
    said = (span.items[i] for i in range(span.lo, span.hi) if candidate.used >> i & 1)
    told = [item for item in said if item.kind in ("term", "unit", "line")]
    return ASKED if told and all("ask" in item.polarity for item in told) else SURE


def _asks(command: c.Command) -> bool:
    """A PAR called for, what must be made ready, "have engine 9 come out": these are said as questions too."""
    return (
        (isinstance(command, c.ComingOut) and command.ordered)
        or (isinstance(command, c.Par) and command.request)
        or (isinstance(command, c.Restore) and not command.done)
    )


def left_over(
    items: list[Item],
    lo: int,
    hi: int,
    used: int,
    bears: Bearing = "other",
    spare: Mapping[int, float] | None = None,
) -> float:
    """The cost of all items that a reading doesn't explain; `spare`: those that cost less than usual."""
    total = sum(cost for k, cost in (spare or {}).items() if doubt(items[k], bears))
    told = _told(items, lo, hi, used) if bears == "report" else ()
    for k in _open(items, lo, hi, used):
        if not spare or k not in spare:
            here = "other" if told and not told[k - lo] else bears
            cost = doubt(items[k], here) + _counts_next(items, k, lo, hi, here)
            total += cost * STRICT if bears in _STRICT_ONES and items[k].kind in ("word", "term") else cost
    return total


def _told(items: list[Item], lo: int, hi: int, used: int) -> list[bool]:
    """Of each item, whether something is read between the same pauses: what stands apart is kept as said."""
    told = [False] * (hi - lo)
    for a, b in clauses(items[lo:hi]):
        told[a:b] = [any(used >> k & 1 for k in range(lo + a, lo + b))] * (b - a)
    return told


def _is_of_it(items: list[Item], k: int) -> bool:
    """ "Crosslay 1's charged": the s of its is."""
    return items[k].text == "s" and k > 0 and items[k - 1].kind in ("line", "unit")


def _counts_next(items: list[Item], k: int, lo: int, hi: int, bears: Bearing) -> float:
    """An unread word right before "lines", "feet" or "an hour", or behind a bare number, may be misspelt."""
    beside = [items[n] for n in (k - 1, k + 1) if lo <= n < hi]
    if items[k].text in word_list("stretch_either") and any(one.kind in _COUNTS for one in beside):
        return COSTS.number  # "two or three": which?
    if items[k].kind != "word" or items[k].free or idle(items[k], bears) or k + 1 >= hi:
        return SURE
    after = items[k + 1]
    if k and _bare(items[k - 1]):
        return COSTS.misunited  # "200 wet of 1.75": a misspelt unit
    counted = not after.concepts.isdisjoint(word_list("stretch_counted"))
    number = after.kind == "num" and after.text.split()[0] in word_list("stretch_begins")
    return COSTS.miscounted if counted or number else SURE


def _bare(item: Item) -> bool:
    """A number that is told with a unit, and has none."""
    whole = item.kind == "num" and item.unit is None and item.form in ("int", "hundreds")
    return whole and item.number >= _BARE


_COUNTS = ("num", "floor", "line", "unit")
_BARE = 20
"""A bare number from here on is told with a unit."""
