"""Parts a message that tells of several lines into those lines.

What parts two lines is stronger than what stands inside them (a stop, then "and" or "plus", then a comma, then
nothing); where both are alike, every line begins with the same part, as people list things. All ways that give whole
lines compete; what stands before all of them, after a pause at the end or with "all" is everybody's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

from grammar.costs import ABSURD, DOUBTFUL, FAIR, HARDLY, LIKELY, UNSURE, WEAK
from grammar.readers.base import Span
from grammar.readers.slot_rules import Slot

_STOP, _AND, _COMMA, _NOTHING = 3, 2, 1, 0
_ONCE = frozenset(("len", "hose", "flow", "tip", "npsi", "floor", "rise", "place", "name", "count", "kind"))
"""What one line has once."""
_SAID_ALONG = frozenset(("line", "each", "label", "sep", "and"))
_OPENERS = frozenset(("len", "hose", "name", "count"))
_NOZZLE = frozenset(("flow", "tip", "npsi", "kind"))
_HEIGHT = frozenset(("floor", "rise", "place"))
_SHARED = _NOZZLE | _HEIGHT
"""What may be said once of all lines."""
_RUN = frozenset(("len", "hose"))
_LEADS = 3
"""Parts before all lines at most: "two lines, both inch and three quarter, third floor: …"."""
_MOST_LINES, _LONGEST = 8, 24
"""Lines of one message, and items of one line, at most."""
_BEAM = 4
_PAIR = 2
_OFF_RISER = frozenset(("name", "device", "family", "floor"))
_OTHER_START, _UNMARKED, _LAST_ONES_OWN = DOUBTFUL, HARDLY, UNSURE


class Parted(NamedTuple):
    """A way to part the message: what each line has, how far-fetched it is."""

    lines: tuple[tuple[Slot, ...], ...]
    cost: float
    extra: float
    """How much dearer than the cheapest way."""
    used: int
    marked: bool
    """More than a bare "and" stands between the lines, or something was said of each."""
    maybe_one: bool = False
    """ "Crosslay one, 250 feet of 1¾": the line with the hose that it has now, or two lines."""


class _Line(NamedTuple):
    """One way to read items lo..hi as one line, or as what is said of all."""

    cost: float
    slots: tuple[Slot, ...]

    @property
    def kinds(self) -> frozenset[str]:
        return frozenset(slot.kind for slot in self.slots)

    @property
    def whole(self) -> bool:
        kinds = self.kinds
        return "name" in kinds or {"len", "hose"} <= kinds


class _Message:
    """The typed items of a stretch, with what parts them."""

    def __init__(self, span: Span, options: Sequence[tuple[int, tuple[Slot, ...]]]) -> None:
        self.span = span
        self.options = options
        self.level = [_level(slots) for _, slots in options]
        self._read: dict[tuple[int, int], tuple[_Line, ...]] = {}

    def cuts(self, least: int, lo: int, hi: int) -> list[int]:
        """Positions between lo and hi where a part begins after a mark of at least this level."""
        found, level = [], 0
        for k in range(lo, hi):
            if self.level[k]:
                level = max(level, self.level[k])
                continue
            if level >= least and k > lo:
                found.append(k)
            level = 0
        return found

    def lines(self, lo: int, hi: int) -> tuple[_Line, ...]:
        """The cheapest ways to read what stands there as one line: nothing in it said twice."""
        end = hi
        if (lo, hi) not in self._read:
            while hi > lo and self.level[hi - 1]:  # the mark after a line is none in it
                hi -= 1
            self._read[lo, end] = self._lines(lo, hi)
        return self._read[lo, end]

    def _lines(self, lo: int, hi: int) -> tuple[_Line, ...]:
        beam: list[_Line] = [_Line(0.0, ())]
        for k in range(lo, hi):
            if self.level[k]:
                beam = [_Line(line.cost, (*line.slots, Slot("sep", None, self.options[k][0]))) for line in beam]
                continue
            grown = []
            for line in beam:
                kinds = line.kinds
                for slot in self.options[k][1]:
                    if slot.kind not in _ONCE or slot.kind not in kinds:
                        cost = line.cost + slot.cost + _odd(slot, kinds)
                        grown.append(_Line(cost, (*line.slots, slot)))
            grown.sort(key=lambda line: line.cost)
            beam = grown[:_BEAM]
        return tuple(beam)


def _level(slots: tuple[Slot, ...]) -> int:
    if slots[0].kind == "sep":
        return _COMMA if slots[0].value == "," else _STOP
    return _AND if slots[0].kind == "and" else 0


def _odd(slot: Slot, kinds: frozenset[str]) -> float:
    """What doesn't go well together in one line."""
    if slot.kind in ("flow", "tip") and kinds & {"flow", "tip"}:
        return DOUBTFUL
    if slot.kind == "count" and kinds & {"hose", "len"}:
        return WEAK
    if (slot.kind == "inlet" and kinds & _OFF_RISER) or ("inlet" in kinds and slot.kind in _OFF_RISER):
        return ABSURD  # the hose to the inlet is none of what works off the riser
    named = slot.kind == "name" or "name" in kinds
    return UNSURE if named and (slot.kind in ("hose", "count") or kinds & {"hose", "count"}) else 0.0


def several_lines(span: Span, options: Sequence[tuple[int, tuple[Slot, ...]]]) -> list[Parted]:
    """The ways to part a stretch into two and more whole lines, cheapest first; none where it says something else.

    `options`: the typings of each item that has any, in order.
    """
    if not _can_be(options):
        return []
    message = _Message(span, options)
    found = [way for core in _cores(message) for way in _ways(message, core)]
    if not found:
        return []
    found.sort(key=lambda way: way[0])
    least, used = found[0][0], sum(1 << i for i, _ in options)
    ways: list[Parted] = []
    for total, lines, marked in found:
        kept = tuple(line.slots for line in lines)
        if total <= least + ABSURD and not any(way.lines == kept for way in ways):
            worst = max(line.cost for line in lines)
            maybe_one = len(lines) == 2 and _bare_name(lines) and not _and_between(message, lines)
            ways.append(Parted(kept, worst, total - least, used, marked, maybe_one))
    return ways[:_BEAM]


def _can_be(options: Sequence[tuple[int, tuple[Slot, ...]]]) -> bool:
    kinds = {slot.kind for _, slots in options for slot in slots}
    if not kinds <= _ONCE | _SAID_ALONG:
        return False
    runs = sum(any(slot.kind in ("hose", "name") for slot in slots) for _, slots in options)
    counted = sum(any(slot.kind == "count" for slot in slots) for _, slots in options)
    lengths = sum(any(slot.kind == "len" and slot.cost < LIKELY for slot in slots) for _, slots in options)
    shared = any(slot.kind == "each" for _, slots in options for slot in slots)  # "… , inch and three quarter on both"
    return runs >= 2 or bool(runs and (counted or shared) and lengths >= 2)


class _Core(NamedTuple):
    """The part of a message that tells of its lines, and what was said of all of them before or after it."""

    lo: int
    hi: int
    shared: tuple[Slot, ...]
    cost: float
    many: int = 0
    """How many lines were told to follow: "two lines, both inch and three quarter: …"."""


def _cores(message: _Message) -> Iterator[_Core]:
    end = len(message.options)
    yield _Core(0, end, (), 0.0)
    cuts = message.cuts(_COMMA, 0, end)
    leads = [(cut, said) for cut in cuts[:_LEADS] if (said := _of_all_said(message, 0, cut)) is not None]
    tails = [(cut, said) for cut in cuts[-1:] if (said := _of_all_said(message, cut, end)) is not None]
    for lo, lead in ((0, None), *leads):
        for hi, tail in ((end, None), *tails):
            told = [said for said in (lead, tail) if said is not None]
            if told and lo < hi and not (lead and tail and lead.kinds & tail.kinds - _SAID_ALONG):
                shared = tuple(slot for said in told for slot in said.slots if slot.kind in _SHARED | _RUN)
                counts = [slot.value for said in told for slot in said.slots if slot.kind == "count"]
                many = counts[0] if counts and isinstance(counts[0], int) else 0
                yield _Core(lo, hi, shared, sum(said.cost for said in told), many)


def _of_all_said(message: _Message, lo: int, hi: int) -> _Line | None:
    """What stands there, where it is said of all lines."""
    said = next(iter(message.lines(lo, hi)), None)
    return said if said is not None and _says_of_all(said) else None


def _says_of_all(line: _Line) -> bool:
    kinds = line.kinds
    if "count" in kinds and len(kinds & _RUN) == 1:
        return kinds <= _SHARED | _SAID_ALONG | _RUN | {"count"}
    if "each" in kinds and kinds & _RUN:
        return kinds <= _SHARED | _SAID_ALONG | _RUN  # "… 200 feet on all of them"
    return bool(kinds & _SHARED) and kinds <= _SHARED | _SAID_ALONG


def _of_all(core: _Core, lines: list[_Line]) -> bool:
    """What was said once may be said of all: none has its own, and a nozzle comes after the only pause."""
    given = {slot.kind for slot in core.shared}
    if any(line.kinds & given for line in lines):
        return False
    paused = any(slot.kind == "sep" for line in lines for slot in line.slots)
    return not given & _NOZZLE or not (paused or any(line.kinds & _NOZZLE for line in lines))


def _alone(line: _Line, lines: list[_Line], *, last: bool) -> float:
    """A height before all, or after a pause at the end, that only this line would have: it is everybody's."""
    if any(other.kinds & _HEIGHT for other in lines if other is not line):
        return 0.0
    told = [slot for slot in line.slots if slot.kind != "label"]
    at = next((n for n, slot in enumerate(told) if slot.kind in _HEIGHT), None)
    if at is None:
        return 0.0
    beside = at - 1 if last else at + 1
    edge = at == len(told) - 1 if last else at == 0
    return _LAST_ONES_OWN if edge and 0 <= beside < len(told) and told[beside].kind == "sep" else 0.0


_Way: TypeAlias = "tuple[float, list[_Line], bool]"


def _ways(message: _Message, core: _Core) -> Iterator[_Way]:
    """The ways to part the core, each with what was said of all its lines."""
    given = {slot.kind for slot in core.shared}
    for level in (_STOP, _AND, _COMMA, _NOTHING):
        for cost, lines in (*_at_every(message, core, level), *_alike(message, core, level)):
            if core.many and core.many != len(lines):
                continue
            if not 2 <= len(lines) <= _MOST_LINES or not _of_all(core, lines):
                continue
            cost += _alone(lines[0], lines, last=False) + _alone(lines[-1], lines, last=True)
            marked = level != _AND or bool(given) or any(line.kinds & {"flow", "tip"} for line in lines)
            whole = [_Line(line.cost, (*line.slots, *core.shared)) for line in lines]
            cost += core.cost
            told = _told_first(whole)
            if told is not None:  # "three lines, 200 feet …, 150 feet … and 250 feet of 2½": three in all
                yield cost, [told, *whole[1:]], marked
                cost += UNSURE if len(lines) > _PAIR and _paused_after_count(whole[0]) else FAIR
            yield cost, whole, marked


def _told_first(lines: list[_Line]) -> _Line | None:
    """The first line without its count, where that tells before all how many lines follow."""
    first, *others = lines
    at = next((n for n, slot in enumerate(first.slots) if slot.kind == "count"), None)
    if at is None or first.slots[at].value != len(lines) or any("count" in line.kinds for line in others):
        return None
    named = [slot.kind for slot in first.slots[at + 1 : at + 2]] == ["line"] and len(lines) > _PAIR
    if {slot.kind for slot in first.slots[:at]} & {"hose", "len", "name"} or not (named or _paused_after_count(first)):
        return None
    return _Line(first.cost, (*first.slots[:at], *first.slots[at + 1 :]))


def _paused_after_count(line: _Line) -> bool:
    """ "Three lines, …"."""
    at = next(n for n, slot in enumerate(line.slots) if slot.kind == "count")
    behind = (slot.kind for slot in line.slots[at + 1 :] if slot.kind not in ("line", "label"))
    return next(behind, "") == "sep"


def _bare_name(lines: list[_Line]) -> bool:
    """The first of two is only a name, the second only hose."""
    return lines[0].kinds - _SAID_ALONG == {"name"} and not lines[1].kinds & {"name", "inlet"}


def _and_between(message: _Message, lines: list[_Line]) -> bool:
    last, first = max(slot.at for slot in lines[0].slots), min(slot.at for slot in lines[1].slots)
    at = [i for i, _ in message.options]
    return any(message.level[k] >= _AND for k in range(at.index(last), at.index(first) + 1))


def _at_every(message: _Message, core: _Core, level: int) -> Iterator[tuple[float, list[_Line]]]:
    """A line between any two marks of this level or a stronger one."""
    cuts = message.cuts(level, core.lo, core.hi) if level else []
    bounds = [core.lo, *cuts, core.hi]
    lines = [_whole(message, a, b, core) for a, b in pairwise(bounds)]
    if cuts and all(line is not None for line in lines):
        found = [line for line in lines if line is not None]
        yield sum(line.cost for line in found), found


def _whole(message: _Message, lo: int, hi: int, core: _Core) -> _Line | None:
    given = {slot.kind for slot in core.shared} & _RUN
    return next((line for line in message.lines(lo, hi) if line.whole or _whole_with(line, given)), None)


def _whole_with(line: _Line, given: set[str]) -> bool:
    """Whole with the length or the size that was said of all."""
    return bool(given) and bool(line.kinds & (_RUN | _HEIGHT)) and line.kinds | given >= _RUN


def _alike(message: _Message, core: _Core, level: int) -> Iterator[tuple[float, list[_Line]]]:
    """Lines that all begin with the same part, with marks of this level both inside and between them."""
    forced = set(message.cuts(level + 1, core.lo, core.hi))
    marks = message.cuts(level, core.lo, core.hi) if level else _unmarked(message, core)
    if all(k in forced for k in marks):
        return
    bounds = sorted({core.lo, *forced, *marks, core.hi})
    lead = _lead(message, core.lo)
    best: dict[int, tuple[float, list[_Line]]] = {core.lo: (0.0, [])}
    for n, b in enumerate(bounds[1:], start=1):
        since = max([core.lo, *(k for k in bounds[:n] if k in forced)])
        for a in (a for a in reversed(bounds[:n]) if since <= a and b - a <= _LONGEST and a in best):
            line = _whole(message, a, b, core)
            if line is None:
                continue
            cost = best[a][0] + line.cost + (0.0 if level or a in forced else _UNMARKED)
            cost += 0.0 if _same_start(_lead(message, a), lead) else _OTHER_START
            if b not in best or round(cost - best[b][0], 6) < 0:
                best[b] = (cost, [*best[a][1], line])
    if core.hi in best:
        yield best[core.hi]


def _unmarked(message: _Message, core: _Core) -> list[int]:
    """Where a line may begin with nothing before it: at a length, a size, a name or a count."""
    return [
        k
        for k in range(core.lo + 1, core.hi)
        if not message.level[k - 1] and any(slot.kind in _OPENERS for slot in message.options[k][1])
    ]


def _lead(message: _Message, lo: int) -> str:
    """The part that a line beginning here begins with; "run" for a length and a size that stand together."""
    kinds: list[str] = []
    for k in range(lo, len(message.options)):
        if message.level[k] or len(kinds) == 2:
            break
        kind = next((s.kind for s in message.options[k][1] if s.kind in _ONCE and s.kind != "count"), None)
        kinds.extend([kind] if kind is not None else [])
    if set(kinds) == {"len", "hose"}:
        return "run"
    return kinds[0] if kinds else ""


def _same_start(one: str, two: str) -> bool:
    hoses = ("run", "name", "hose", "len")
    return one == two or (one in hoses and two in hoses and bool({one, two} & {"run", "name"}))
