"""Reads one stretch of a message as one command: wakes the readers and counts what each leaves unexplained."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from grammar import commands as c
from grammar.commands import Context
from grammar.doubt import CHANGES, COSTS, OF_THE_ROAD, Bearing, bearing, doubt, idle
from grammar.frames import read_frames
from grammar.items import Item
from grammar.questions import clauses
from grammar.readers.base import Candidate, Span, readers_for
from grammar.spared import spared

KEEP = 3


def stretch(text: str, items: list[Item], lo: int, hi: int, context: Context) -> list[Candidate]:
    """The best readings of items lo..hi as one command, cheapest first; their costs include what they leave over."""
    span = Span(items, lo, hi, context, text)
    crossed = _crossed(items, lo, hi)
    found: list[Candidate] = []
    for reader in (*readers_for(span.concepts), read_frames):
        for candidate in reader(span):
            spare = spared(items, lo, hi, candidate)
            bears = bearing(candidate.commands)
            left = left_over(items, lo, hi, candidate.used, bears, spare)
            left -= _placed(items, lo, hi, candidate, bears, spare) if left else 0.0
            across = 0.0 if crossed and _several_lines(candidate) else crossed
            cost = candidate.cost + left + across + _asked(items, lo, hi, candidate)
            if _strict(candidate) or candidate.declined is not None:
                cost += 0.45 * sum(items[i].slip for i in range(lo, hi) if candidate.used >> i & 1)
            if cost < 4:
                found.append(candidate._replace(cost=cost, left=left))
    found.sort(key=lambda c: c.cost)
    kept: list[Candidate] = []
    for candidate in found:
        if len(kept) >= KEEP:
            break
        if not any(k.commands == candidate.commands and k.question == candidate.question for k in kept):
            kept.append(candidate._replace(over=_over(items, lo, hi, candidate.used)))
    return kept


def _over(items: list[Item], lo: int, hi: int, used: int) -> tuple[Item, ...]:
    return tuple(
        items[k] for k in range(lo, hi) if not used >> k & 1 and not _is_of_it(items, k) and doubt(items[k]) > 0
    )


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
        return 0.0  # "on my way back from the store"
    if candidate.declined is not None or (kinds and not kinds <= _WORKS_SOMEWHERE):
        return 0.0
    if not kinds and candidate.intent != c.PumpPressure.intent:
        return 0.0
    strict = _STRICT if bears in _STRICT_ONES else 1.0
    told = (item for k, item in enumerate(items[lo:hi], lo) if _open(candidate, k, spare) and _of_a_place(item))
    return sum(max(doubt(item, bears) * strict - _WHEREABOUTS, 0.0) for item in told)


_WHEREABOUTS = 0.02


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
        return 0.0
    bounds = [lo, *(k + 1 for k in ends), hi + 1]
    idle = [_only_asks(items[a : b - 1]) for a, b in pairwise(bounds)]
    cost = 0.0
    for n, k in enumerate(ends):
        if not (idle[n] or idle[n + 1]):
            cost += 0.12 if items[k].text in ".;\n" else 0.2
    return cost


_ASKS = frozenset(
    (
        "charge",
        "charged_state",
        "line",
        "ask_pressure",
        "ask_flow",
        "how_long",
        "tank_time",
        "whereabouts",
        "ask_tip",
        "longest",
        "drop_percent",
    )
)


def _only_asks(sentence: list[Item]) -> bool:
    """A sentence that asks and tells nothing, or only where it is: it goes with the one beside it."""
    return all(item.free or item.kind == "sep" or item.concepts & _ASKS for item in sentence)


_STRICT = 1.7
_STRICT_ONES: tuple[Bearing, ...] = ("report", "road", "changes", "change", "source", "exact")
"""Where a word that can't be explained weighs more: what is logged or runs."""


LOGGED = (*CHANGES, c.Assign, c.Rehab, c.Report, c.SupplyExpected, c.AirReading, c.Join, c.Restore)
"""Commands that leave something in the log."""


def _asked(items: list[Item], lo: int, hi: int, candidate: Candidate) -> float:
    """What a question asks is not logged, whichever reader read it."""
    if not any(isinstance(x, LOGGED) and not _asks(x) for x in candidate.commands):
        return 0.0
    told = [i for i in range(lo, hi) if candidate.used >> i & 1 and items[i].kind in ("term", "unit", "line")]
    return 1.2 if told and all("ask" in items[i].polarity for i in told) else 0.0


def _asks(command: c.Command) -> bool:
    """A PAR called for, what must be made ready: these are said as questions too."""
    told_out = isinstance(command, c.ComingOut) and command.ordered  # "have engine 9 come out"
    return (
        told_out
        or (isinstance(command, c.Par) and command.request)
        or (isinstance(command, c.Restore) and not command.done)
    )


def _strict(candidate: Candidate) -> bool:
    return any(isinstance(command, CHANGES) for command in candidate.commands)


def _open(candidate: Candidate, k: int, spare: dict[int, float]) -> bool:
    return not candidate.used >> k & 1 and k not in spare


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
    for k in range(lo, hi):
        if not used >> k & 1 and not _is_of_it(items, k) and (not spare or k not in spare):
            here = "other" if told and not told[k - lo] else bears
            cost = doubt(items[k], here) + _counts_next(items, k, lo, hi, here)
            total += cost * _STRICT if bears in _STRICT_ONES and items[k].kind in ("word", "term") else cost
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


_COUNTED = frozenset(
    ("line", "legs", "unit:ft", "unit:in", "unit:gpm", "unit:psi", "unit:min", "unit:gal", "floor", "levels")
)


def _counts_next(items: list[Item], k: int, lo: int, hi: int, bears: Bearing) -> float:
    """An unread word right before "lines", "feet" or "an hour" may be a misspelt number."""
    if items[k].text == "or" and any(
        lo <= n < hi and items[n].kind in ("num", "floor", "line", "unit") for n in (k - 1, k + 1)
    ):
        return COSTS.number  # "two or three": which?
    if items[k].kind != "word" or items[k].free or idle(items[k], bears) or k + 1 >= hi:
        return 0.0
    after = items[k + 1]
    before = items[k - 1] if k else None
    if (
        before is not None
        and before.kind == "num"
        and before.unit is None
        and before.form in ("int", "hundreds")
        and before.number >= 20
    ):
        return 0.3  # "200 wet of 1.75": a misspelt unit
    if not after.concepts.isdisjoint(_COUNTED) or (
        after.kind == "num" and after.text.split()[0] in ("a", "an", "hundred", "thousand")
    ):
        return 0.35
    return 0.0
