"""Reads one stretch of a message as one command: wakes the readers and counts what each leaves unexplained."""

from __future__ import annotations

from grammar import commands as c
from grammar.commands import Context
from grammar.frames import read_frames
from grammar.items import Item
from grammar.readers.base import Candidate, Span, readers_for
from grammar.vocabulary import word_list

_WORD, _UNKNOWN, _TERM, _NAME, _NUMBER = 0.37, 0.42, 0.37, 0.55, 1.0
"""What something left unexplained costs."""
_NOT, _OTHER_MARK = 1.2, 0.4
_LEFT = {"person": 0.1, "street": 0.15, "badtime": 1.2, "time": 0.8}
KEEP = 3


def stretch(text: str, items: list[Item], lo: int, hi: int, context: Context) -> list[Candidate]:
    """The best readings of items lo..hi as one command, cheapest first; their costs include what they leave over."""
    span = Span(items, lo, hi, context, text)
    crossed = _crossed(items, lo, hi)
    found: list[Candidate] = []
    for reader in (*readers_for(span.concepts), read_frames):
        for candidate in reader(span):
            left = left_over(items, lo, hi, candidate.used, _strict(candidate)) - _placed(items, lo, hi, candidate)
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
            kept.append(candidate)
    return kept


_WORKS_SOMEWHERE = (
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
)


def _placed(items: list[Item], lo: int, hi: int, candidate: Candidate) -> float:
    """What isn't lost with the words for where a line works or what burns there: they change no number."""
    kinds = {type(command) for command in candidate.commands}
    if any(isinstance(command, c.Benchmark) and command.benchmark in _OF_THE_ROAD for command in candidate.commands):
        return 0.0  # "on my way back from the store"
    if candidate.declined is not None or (kinds and not kinds <= set(_WORKS_SOMEWHERE)):
        return 0.0
    if not kinds and candidate.intent != c.PumpPressure.intent:
        return 0.0
    strict = _STRICT if _strict(candidate) else 1.0
    told = (item for k, item in enumerate(items[lo:hi], lo) if not candidate.used >> k & 1 and _of_a_place(item))
    return sum(residue(item) * strict - _WHEREABOUTS for item in told)


_OF_THE_ROAD = ("en_route", "returning", "available", "in_quarters")
_WHEREABOUTS = 0.02


def _of_a_place(item: Item) -> bool:
    return "whereabouts" in item.concepts and not any(concept.startswith("place:") for concept in item.concepts)


def _several_lines(candidate: Candidate) -> bool:
    """Lines of one pump, a sentence for each."""
    one = candidate.commands[0] if len(candidate.commands) == 1 else None
    return isinstance(one, c.PumpPressure) and len(one.lays) > 1


def _crossed(items: list[Item], lo: int, hi: int) -> float:
    """Reading across the end of a sentence is less likely."""
    cost = 0.0
    for item in items[lo + 1 : hi - 1]:
        if item.kind == "sep" and item.text in ".;\n!?":
            cost += 0.12 if item.text in ".;\n" else 0.2
    return cost


_CHANGES = (
    c.Benchmark,
    c.LineOn,
    c.LineOff,
    c.LineChange,
    c.WaterSource,
    c.Evacuate,
    c.Strategy,
    c.Emergency,
    c.Arrest,
    c.Entry,
    c.Exit,
    c.ComingOut,
    c.Par,
    c.Undo,
    c.SetRole,
    c.ReminderChange,
    c.Intake,
)
"""Commands that change what is logged or runs: a word that they can't explain weighs more."""
_STRICT = 1.7


LOGGED = (*_CHANGES, c.Assign, c.Rehab, c.Report, c.SupplyExpected, c.AirReading, c.Join, c.Restore)
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
    return any(isinstance(command, _CHANGES) for command in candidate.commands)


def left_over(items: list[Item], lo: int, hi: int, used: int, strict: bool = False) -> float:
    """The cost of all items that a reading doesn't explain."""
    total = 0.0
    for k in range(lo, hi):
        if not used >> k & 1 and not _is_of_it(items, k):
            cost = residue(items[k]) + _counts_next(items, k, lo, hi)
            total += cost * _STRICT if strict and items[k].kind in ("word", "term") else cost
    return total


def _is_of_it(items: list[Item], k: int) -> bool:
    """ "Crosslay 1's charged": the s of its is."""
    return items[k].text == "s" and k > 0 and items[k - 1].kind in ("line", "unit")


_SLIPPED = 0.08
"""From here on a word that says nothing was only taken for one."""
_COUNTED = frozenset(
    ("line", "legs", "unit:ft", "unit:in", "unit:gpm", "unit:psi", "unit:min", "unit:gal", "floor", "levels")
)


def _counts_next(items: list[Item], k: int, lo: int, hi: int) -> float:
    """An unread word right before "lines", "feet" or "an hour" may be a misspelt number."""
    if items[k].text == "or" and any(
        lo <= n < hi and items[n].kind in ("num", "floor", "line", "unit") for n in (k - 1, k + 1)
    ):
        return _NUMBER  # "two or three": which?
    if items[k].kind != "word" or items[k].free or k + 1 >= hi:
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


def residue(item: Item) -> float:
    """What an unexplained item costs.

    A number is never dropped in silence: it costs more than a confident answer may.
    """
    if item.kind == "num":
        return _NUMBER
    if item.kind == "sep":
        return 0.0
    if item.kind not in ("word", "term"):
        return _LEFT.get(item.kind, _NAME)
    if "not" in item.concepts:
        return _NOT if item.form != "answers" else 0.5
    if item.polarity_mark and not item.free:
        return _OTHER_MARK
    if item.free:
        return 0.25 if item.slip >= _SLIPPED else 0.0
    if not item.concepts.isdisjoint(word_list("strong")):
        return _NAME
    if any(concept.startswith("app:") for concept in item.concepts):
        return _NAME  # "engine" without its number
    if item.kind == "word":
        return _WORD if item.form == "plain" else _UNKNOWN
    return _TERM
