"""Splits a message into several commands: the cheapest ways to cut its items into stretches, each read by itself."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from grammar.amend import together
from grammar.commands import (
    AirReading,
    Arrest,
    Assign,
    Benchmark,
    ComingOut,
    Command,
    Context,
    Entry,
    Evacuate,
    Exit,
    LineChange,
    LineOff,
    LineOn,
    Par,
    PumpPressure,
    Report,
    WaterSource,
)
from grammar.costs import COMMAND, COSTS, MATTERS, NO_LAY_ENDS, NO_PAUSE, SURE, SWALLOWED, UNREAD, WHOLE
from grammar.doubt import bearing, doubt, heard_as_another, idle, names_a_subject
from grammar.frames import triggers
from grammar.items import Item
from grammar.readers.base import Candidate
from grammar.stretch import KEEP, LOGGED, stretch
from grammar.vocabulary import word_list

_CUTS = 8
"""Most places where a message is cut."""


class Unread(NamedTuple):
    """Words that no piece reads; `apart`: a pause parts them from what is read."""

    words: str
    items: tuple[Item, ...]
    apart: bool


class Part(NamedTuple):
    """A way to read the first items of a message: its pieces and their costs."""

    cost: float
    worst: float
    pieces: tuple[Candidate, ...]
    unread: tuple[Unread, ...]

    @property
    def commands(self) -> tuple[Command, ...]:
        return tuple(command for piece in self.pieces for command in piece.commands)


_NOTHING = Part(SURE, SURE, (), ())


_AT_ONCE, _WHOLE_LAY = 18, 90
"""Most items that are cut in every way; a longer message is halved at its plainest cut first, if it has one.

Lines that are told one after the other are never halved: what was said of one would be taken for another's.
"""


def split(text: str, items: list[Item], context: Context, limit: float) -> list[Part]:
    """The cheapest ways to cut the items into stretches and read each; none that is dearer than `limit`."""
    at = _plainest_cut(items) if len(items) > _AT_ONCE else 0
    if at == 0:
        return _in_every_way(text, items, context, limit) if items else []
    halves = []
    for half in (items[:at], items[at:]):
        halves.append(split(text, half, context, limit)[:2] or _unread([_NOTHING], half, 0, len(half)))
    both = [_halves(a, b) for a in halves[0] for b in halves[1]]
    return _distinct([part for part in both if part.pieces])


def _halves(a: Part, b: Part) -> Part:
    """Both halves' pieces; lays asked for at the end of one and the beginning of the other are one pump's."""
    worst, unread = max(a.worst, b.worst), (*a.unread, *b.unread)
    last, first = (a.pieces[-1], b.pieces[0]) if a.pieces and b.pieces else (None, None)
    both = _both_lays(last, first) if last is not None and first is not None else None
    if both is None:
        return Part(a.cost + b.cost, worst, (*a.pieces, *b.pieces), unread)
    return Part(a.cost + b.cost, worst, (*a.pieces[:-1], both, *b.pieces[1:]), unread)


def _both_lays(last: Candidate, piece: Candidate) -> Candidate | None:
    """Two parts of one question; two lays asked for one after the other: one pump's pressure, the highest governs."""
    if len(last.commands) != 1 or len(piece.commands) != 1:
        return None
    one, two = last.commands[0], piece.commands[0]
    whole = together(one, two)
    if whole is not None:
        return last._replace(commands=(whole,), cost=last.cost + piece.cost)
    if not isinstance(one, PumpPressure) or not isinstance(two, PumpPressure):
        return None
    both = PumpPressure((*one.lays, *two.lays), one.intake_psi or two.intake_psi, one.picture or two.picture)
    return last._replace(commands=(both,), cost=last.cost + piece.cost)


def _plainest_cut(items: list[Item]) -> int:
    """A place to halve a long message, 0 for none: the end of a sentence first, then a pause, near the middle."""
    middle = len(items) // 2
    places = {
        k: rank
        for k, rank in _places(items).items()
        if len(items) // 5 <= k <= len(items) * 4 // 5 and not _one_lay(items, _solid_before(items, k - 1), k)
    }
    ends = {k for k in places if items[k - 1].kind == "sep" and items[k - 1].text != ","}
    unmarked = middle if len(items) > _WHOLE_LAY else 0
    return min(places, key=lambda k: (k not in ends, places[k], abs(k - middle)), default=unmarked)


def _in_every_way(text: str, items: list[Item], context: Context, limit: float) -> list[Part]:
    cuts = _cuts(items)
    whole = stretch(text, items, 0, len(items), context)
    if whole:
        limit = min(limit, whole[0].cost + COMMAND + MATTERS)
    best: dict[int, list[Part]] = {0: [_NOTHING]}
    for b in range(1, len(cuts)):
        ends: list[Part] = []
        for a in range(b):
            starts = [start for start in best.get(cuts[a], ()) if start.cost <= limit]
            if not starts:
                continue
            all_of_it = a == 0 and b == len(cuts) - 1
            readings = whole if all_of_it else stretch(text, items, cuts[a], cuts[b], context)
            unread = _unread(starts, items, cuts[a], cuts[b]) if b - a == 1 else ()
            for n, start in enumerate(starts):
                ends.extend(_joined(start, reading, items) for reading in readings)
                ends.extend(unread[n : n + 1])
        best[cuts[b]] = _distinct(ends)
    return _nothing_swallowed([p for p in best[cuts[-1]] if p.pieces], items)


def _nothing_swallowed(parts: list[Part], items: list[Item]) -> list[Part]:
    """Dearer is a reading that lacks a deed which the same words report whole, with a pause or an "and" before it."""
    several = [p for p in parts if len(p.pieces) > 1 and not p.unread and _each_whole(p, items)]
    if not several:
        return parts
    deeds = set().union(*(_deeds(p.commands) for p in several))
    out = [
        p if deeds <= _deeds(p.commands) else p._replace(cost=p.cost + SWALLOWED, worst=p.worst + SWALLOWED)
        for p in parts
    ]
    return sorted(out, key=lambda p: p.cost)


def _deeds(commands: tuple[Command, ...]) -> set[object]:
    """What the commands log or change, each by what makes it another deed."""
    found: set[object] = set()
    for command in commands:
        if isinstance(command, Benchmark):
            found.add(command.benchmark)
        elif isinstance(command, Arrest):
            found.add(command.action)
        elif isinstance(command, Par):
            found.add((Par, command.unit, command.request))
        elif isinstance(command, Evacuate):
            found.add((Evacuate, command.over))
        elif isinstance(command, Assign):
            found.add((Assign, command.unit))
        elif isinstance(command, LOGGED):
            found.add(AirReading if isinstance(command, Entry | Exit | ComingOut) else type(command))
            found.add(type(command))
            if isinstance(command, LineOn) and command.held:
                found.add(LineChange)  # "charge crosslay 2, nozzle's shut": one deed, not two
    return found


def _each_whole(part: Part, items: list[Item]) -> bool:
    """Every piece is a command beyond doubt, and a pause or an "and" stands before each but the first."""
    if any(
        not (piece.commands or piece.declined) or piece.cost - _slips(piece, items) > WHOLE for piece in part.pieces
    ):
        return False
    return all(_break_between(one, two, items) for one, two in pairwise(part.pieces))


def _slips(piece: Candidate, items: list[Item]) -> float:
    """What misspelt words cost at most."""
    return sum(2 * item.slip for i, item in enumerate(items) if piece.used >> i & 1)


def _break_between(one: Candidate, two: Candidate, items: list[Item]) -> bool:
    last, first = one.used.bit_length(), (two.used & -two.used).bit_length()
    return any(_breaks(item) for item in items[max(last - 1, 0) : first])


def _joined(start: Part, piece: Candidate, items: list[Item]) -> Part:
    if not piece.commands and piece.question is None and piece.declined is None:  # only filler
        return start._replace(cost=start.cost + piece.cost)
    if piece.commands and all(command in start.commands for command in piece.commands):
        return start._replace(cost=start.cost + piece.cost, worst=max(start.worst, piece.cost))  # said twice over
    merged = _one_question(start, piece, items)
    if merged is not None:
        return merged
    if start.pieces and not piece.commands and _conditional(piece, items):
        start = start._replace(cost=start.cost + COSTS.mark, worst=start.worst + COSTS.mark)
    if start.pieces and _shares_verb(start.pieces[-1], piece, items):
        start = start._replace(cost=start.cost + COSTS.mark, worst=start.worst + COSTS.mark)
    if start.pieces and not _break_between(start.pieces[-1], piece, items):
        torn = _torn(start.pieces[-1], piece, items)
        start = start._replace(cost=start.cost + NO_PAUSE, worst=start.worst + torn)
    return Part(start.cost + piece.cost + COMMAND, max(start.worst, piece.cost), (*start.pieces, piece), start.unread)


def _torn(one: Candidate, two: Candidate, items: list[Item]) -> float:
    """Commands with nothing between them may be one that isn't understood: "crosslay 1 | is full of water".

    Not where "with" joins them, or the second is what is seen ("on scene | at the hydrant") or the crew's air.
    """
    last, first = one.used.bit_length(), (two.used & -two.used).bit_length()
    arrived = any(isinstance(c, Benchmark) and c.benchmark == "on_scene" for c in one.commands)
    seen = arrived or (bool(two.commands) and all(isinstance(command, Report | AirReading) for command in two.commands))
    if seen or any(item.text in word_list("splitting_joins") for item in items[max(last - 1, 0) : first]):
        return SURE
    return COSTS.mark if "named" in (bearing(one.commands), bearing(two.commands)) else COSTS.torn


def _shares_verb(one: Candidate, two: Candidate, items: list[Item]) -> bool:
    """ "Shut down the plug | and crosslay 1": what is done to the first may be done to the line, too."""
    if not any(isinstance(c, WaterSource | LineOn | LineChange | LineOff) for c in one.commands):
        return False
    last, first = one.used.bit_length(), (two.used & -two.used).bit_length()
    joined = [item for item in items[max(last, 0) : first] if "and" in item.concepts or item.kind == "sep"]
    return bool(joined) and all(item.kind != "sep" for item in joined) and bearing(two.commands) == "named"


def _conditional(piece: Candidate, items: list[Item]) -> bool:
    """ "… if they back out": nothing by itself, it bears on what stands before it."""
    return "cond" in items[(piece.used & -piece.used).bit_length() - 1].concepts


def _one_question(start: Part, piece: Candidate, items: list[Item]) -> Part | None:
    """The piece as more lays of the question before it."""
    both = _both_lays(start.pieces[-1], piece) if start.pieces else None
    if both is None:
        return None
    apart = SURE if _break_between(start.pieces[-1], piece, items) else NO_LAY_ENDS
    pieces = (*start.pieces[:-1], both._replace(used=both.used | piece.used))
    worst = max(start.worst, piece.cost + apart)
    return Part(start.cost + piece.cost + COMMAND + apart, worst, pieces, start.unread)


def _unread(starts: list[Part], items: list[Item], lo: int, hi: int) -> list[Part]:
    """The ways to read what is before, with the items left unread."""
    cost = sum(map(doubt, items[lo:hi]))
    if cost == 0:
        return starts
    apart = (lo == 0 or _breaks(items[lo - 1])) and (hi == len(items) or _breaks(items[hi - 1]))
    said = tuple(item for item in items[lo:hi] if item.kind != "sep")
    unread = Unread(" ".join(item.text for item in said), said, apart)
    weight = cost * _weight(unread)
    return [Part(s.cost + cost, s.worst + weight, s.pieces, (*s.unread, unread)) for s in starts]


def _weight(unread: Unread) -> float:
    """How much what is left unread bears on what is read beside it."""
    items = unread.items
    if not unread.apart or any(not item.concepts.isdisjoint(word_list("strong")) for item in items):
        return UNREAD.beside
    if any(item.kind == "word" and item.form != "plain" and not (item.free or idle(item)) for item in items):
        return UNREAD.strange
    told = [item for item in items if not item.free]
    talk = len(told) == 1 and told[0].kind == "word" and not heard_as_another(told[0])
    return UNREAD.talk if talk and not names_a_subject(items) else UNREAD.apart


def _breaks(item: Item) -> bool:
    return item.kind == "sep" or "and" in item.concepts


def _distinct(parts: list[Part]) -> list[Part]:
    parts.sort(key=lambda p: p.cost)
    kept: list[Part] = []
    for part in parts:
        if len(kept) >= KEEP:
            break
        if not any(k.pieces == part.pieces or (k.commands and k.commands == part.commands) for k in kept):
            kept.append(part)
    return kept


_LAYISH_KINDS = frozenset(("num", "line", "family", "floor"))


def _layish(item: Item) -> bool:
    return item.kind in _LAYISH_KINDS or not item.concepts.isdisjoint(word_list("of_a_lay"))


def _cuts(items: list[Item]) -> list[int]:
    """The likeliest places where one command may end and the next begin, with both ends."""
    places = _places(items)
    chosen = sorted(sorted(places, key=lambda k: places[k])[:_CUTS])
    return [0, *chosen, len(items)]


def _places(items: list[Item]) -> dict[int, int]:
    """Where one command may end and the next begin: place -> how little marks it."""
    one_line = any("one_after_another" in item.concepts for item in items)
    ranks = ((k, _rank(items, k, one_line)) for k in range(1, len(items)))
    return {k: rank for k, rank in ranks if rank is not None}


def _rank(items: list[Item], k: int, one_line: bool) -> int | None:
    """How little marks that a command begins at `k`; None: nothing does, or it would tear a lay."""
    item, before = items[k], items[k - 1]
    if item.kind == "sep":
        return None
    if before.kind == "sep":
        ends = before.text in ".;!?\n" or not _one_lay(items, _solid_before(items, k - 1), k)
        return 0 if ends else None
    if "and" in before.concepts and before.kind == "term":
        return None if _one_lay(items, _solid_before(items, k - 1), k) else 1
    joined = item.text in word_list("splitting_joins") and not _layish(before)
    if joined and any("intake_gauge" in i.concepts for i in items[k + 2 : k + 4]):
        return 2
    if item.kind == "unit" or (not item.free and not _layish(item) and not triggers().isdisjoint(item.concepts)):
        governed = item.kind == "unit" and before.text in word_list("reader_govern")
        return None if before.kind == "unit" or before.polarity_mark or governed else 2
    turns = _layish(item) != _layish(before) and not before.free and not item.free
    return 3 if turns and not one_line else None


def _one_lay(items: list[Item], solid: Item | None, k: int) -> bool:
    """What stands before and after k may be parts of one lay; after a gauge reading a line is something else."""
    if any("one_after_another" in item.concepts for item in items):
        return True
    after = next((i for i in items[k:] if i.kind != "sep" and not i.free and "for_noise" not in i.concepts), None)
    if solid is None or after is None or not (_layish(solid) and _layish(after)):
        return False
    another = after.kind in ("line", "family", "floor") and any(
        not i.concepts.isdisjoint(word_list("splitting_gauges")) for i in items[:k]
    )
    return not another


def _solid_before(items: list[Item], k: int) -> Item | None:
    while k >= 0 and (items[k].kind == "sep" or items[k].free):
        k -= 1
    return items[k] if k >= 0 else None
