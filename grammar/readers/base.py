"""What a reader works with: the stretch it reads, a hand that takes items from it, and the scored reading it offers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from typing import Any, Literal, NamedTuple, TypeAlias

from grammar.commands import Command, Context, Question, SaidTime
from grammar.items import Item, floor_name

Stance: TypeAlias = Literal["said", "asked", "denied", "hoped", "ordered"]
"""How a thing was said: as a fact, as a question, negated, as hope or future, as an order."""


class Candidate(NamedTuple):
    """A reading of a stretch.

    One of commands, question, declined is set; `cost` 0 is certain; `used`: bit mask of items.
    """

    commands: tuple[Command, ...]
    cost: float
    used: int
    question: Question | None = None
    declined: str | None = None
    intent: str | None = None
    notes: tuple[str, ...] = ()
    left: float = 0.0
    """The part of the cost that is words left unexplained."""
    over: tuple[Item, ...] = ()
    """What was left unexplained and costs something."""


class Span:
    """Items lo..hi (exclusive) of a message."""

    __slots__ = ("concepts", "context", "hi", "items", "lays", "lo", "said", "signs")

    def __init__(self, items: list[Item], lo: int, hi: int, context: Context, said: str) -> None:
        self.items = items
        self.lo = lo
        self.hi = hi
        self.context = context
        self.said = said
        """The message as it was written."""
        self.lays: list[Any] | None = None
        """Worked out by readers/layout.py when a reader asks for it."""
        self.signs: list[frozenset[str]] | None = None
        """Worked out by readers/signs.py for declared tests."""
        here = items[lo:hi]
        self.concepts: set[str] = {f"is:{item.kind}" for item in here}.union(*[item.concepts for item in here])

    def has(self, *concepts: str) -> bool:
        """Any of the concepts is there."""
        return not self.concepts.isdisjoint(concepts)

    def where(self, *concepts: str) -> Iterator[int]:
        """Positions of items with any of the concepts."""
        if self.concepts.isdisjoint(concepts):
            return iter(())
        items = self.items
        return iter([i for i in range(self.lo, self.hi) if not items[i].concepts.isdisjoint(concepts)])

    def first(self, *concepts: str) -> int:
        """The first position, or -1."""
        return next(self.where(*concepts), -1)

    def kinds(self, *kinds: str) -> list[int]:
        """Positions of items of these kinds."""
        items = self.items
        return [i for i in range(self.lo, self.hi) if items[i].kind in kinds]

    def text(self) -> str:
        """The words of the stretch, as tagged."""
        return " ".join(i.text for i in self.items[self.lo : self.hi] if i.kind != "sep")

    def content(self) -> list[int]:
        """Positions of what is neither a pause nor a word that says nothing."""
        return [i for i in range(self.lo, self.hi) if self.items[i].kind != "sep" and not self.items[i].free]

    def stance(self, *positions: int) -> Stance:
        """How the items at these positions were said; the most cautious wins."""
        marks: set[str] = set()
        for i in positions:
            marks |= self.items[i].polarity
        if "ask" in marks:
            return "asked"
        if "not" in marks:
            return "denied"
        if marks & {"hope", "cond", "tale"}:
            return "hoped"
        return "ordered" if "order" in marks else "said"


class Take:
    """Takes items out of a span and remembers which; what is left over costs."""

    __slots__ = ("cost", "notes", "span", "used")

    def __init__(self, span: Span, *positions: int, cost: float = 0.0) -> None:
        self.span = span
        self.cost = cost
        self.used = 0
        self.notes: list[str] = []
        self.mark(*positions)

    def mark(self, *positions: int) -> None:
        """These items are explained."""
        for i in positions:
            if i >= 0:
                self.used |= 1 << i

    def taken(self, i: int) -> bool:
        """The item is explained already."""
        return bool(self.used >> i & 1)

    def open(self) -> Iterator[int]:
        """Positions not yet explained."""
        return (i for i in range(self.span.lo, self.span.hi) if not self.used >> i & 1)

    def term(self, *concepts: str) -> int:
        """Takes the first unexplained item with a concept; its position or -1."""
        for i in self.span.where(*concepts):
            if not self.used >> i & 1:
                self.used |= 1 << i
                return i
        return -1

    def terms(self, *concepts: str) -> list[int]:
        """Takes all items with a concept."""
        found = [i for i in self.span.where(*concepts) if not self.used >> i & 1]
        self.mark(*found)
        return found

    def kind(self, *kinds: str) -> Item | None:
        """Takes the first unexplained item of a kind."""
        for i in self.open():
            if self.span.items[i].kind in kinds:
                self.mark(i)
                return self.span.items[i]
        return None

    def unit(self) -> str | None:
        """Takes the unit or crew that is spoken of. Of two, "Battalion 1 from Truck 4": the one after "from"."""
        found = [i for i in self.open() if self.span.items[i].kind == "unit"]
        if not found:
            return None
        self.mark(*(i for i in found if "crew:everyone" in self.span.items[i].concepts))
        found = [i for i in found if "crew:everyone" not in self.span.items[i].concepts]
        if not found:
            return None
        pick = found[0]
        for i in found[1:]:
            before = self.span.items[i - 1].text if i > self.span.lo else ""
            if before in ("from", "this is"):
                self.mark(pick)
                pick = i
        self.mark(pick)
        return str(self.span.items[pick].value)

    def place(self) -> str | None:
        """Takes a place or a floor as a place."""
        item = self.kind("place", "floor")
        if item is None:
            return None
        return place_of(item)

    def time(self) -> SaidTime | None:
        """Takes a stated time."""
        item = self.kind("time")
        return item.value if item is not None and isinstance(item.value, SaidTime) else None

    def number(self, *units: str | None, low: float = -1e9, high: float = 1e9, whole: bool = False) -> float | None:
        """Takes the first unexplained number in one of these units (None: bare), turned to the first unit named."""
        for i in self.open():
            item = self.span.items[i]
            if item.kind != "num" or item.form == "ordinal" or "pair" in item.concepts:
                continue
            value = in_unit(item, *units)
            if value is None or not low <= value <= high or (whole and value != int(value)):
                continue
            self.mark(i)
            return value
        return None

    def number_near(
        self, i: int, *units: str | None, low: float = 0, high: float = 1e9, reach: int = 3
    ) -> float | None:
        """Takes the number nearest after a label at `i`, else right before it."""
        items = self.span.items
        for k in [*range(i + 1, min(i + 1 + reach, self.span.hi)), *range(i - 1, max(i - 3, self.span.lo - 1), -1)]:
            if k > i and (items[k].kind == "sep" and items[k].value not in ":,"):
                continue
            if (
                items[k].kind == "num"
                and not self.taken(k)
                and items[k].form != "ordinal"
                and "pair" not in items[k].concepts
            ):
                value = in_unit(items[k], *units)
                if value is not None and low <= value <= high:
                    self.mark(k)
                    return value
            elif not items[k].free and items[k].kind not in ("sep", "num") and k > i and not self.taken(k):
                break
        return None

    def free(self, *texts: str) -> None:
        """These words say nothing here."""
        for i in self.open():
            if self.span.items[i].text in texts:
                self.mark(i)

    def reading(self, *commands: Command, cost: float = 0.0) -> Candidate:
        """The reading that these commands are."""
        return Candidate(
            commands,
            self.cost + cost,
            self.used,
            intent=commands[0].intent if commands else None,
            notes=tuple(self.notes),
        )

    def asking(self, question: Question, intent: str | None, cost: float = 0.0) -> Candidate:
        """The reading is that one thing must be asked."""
        return Candidate((), self.cost + cost, self.used, question=question, intent=intent)

    def declining(self, sentence: str, intent: str | None, cost: float = 0.0) -> Candidate:
        """Understood, and nothing is done: one plain sentence says why."""
        return Candidate((), self.cost + cost, self.used, declined=sentence, intent=intent)


def place_of(item: Item) -> str:
    """The canonical place of a place or floor item."""
    return floor_name(item.value) if item.kind == "floor" and isinstance(item.value, int) else str(item.value)


# ---------------------------------------------------------------------------------------------------------------- units

_PER = {
    ("m", "ft"): 1 / 0.3048,
    ("mm", "in"): 1 / 25.4,
    ("bar", "psi"): 14.503773773,
    ("kpa", "psi"): 0.14503773773,
    ("lpm", "gpm"): 1 / 3.785411784,
    ("l", "gal"): 1 / 3.785411784,
    ("m2", "sqft"): 1 / 0.3048**2,
    ("km", "mi"): 1 / 1.609344,
    ("mi", "ft"): 5280.0,
    ("km", "ft"): 1000 / 0.3048,
    ("hr", "min"): 60.0,
    ("s", "min"): 1 / 60,
}
"""What was said -> what is wanted.

Exact by definition (international foot and inch, US gallon; 1 psi = 6.894757 kPa).
"""
_ASKED = {("l", "lpm"): 1.0, ("l", "gpm"): 1 / 3.785411784, ("gal", "gpm"): 1.0}
"""Turned only where both are named: "150 gallons" of a flow is gallons a minute."""


def in_unit(item: Item, *units: str | None) -> float | None:
    """The number in the first unit named, when it was said in one that turns into it.

    None in `units` allows a bare number.
    """
    value = item.number
    if item.unit is None:
        if None not in units:
            return None
        return _from_metric(value, units[0]) if item.metric else value
    if item.unit in units:
        first = units[0]
        if item.unit == first or first is None:
            return value
        factor = _PER.get((item.unit, first)) or _ASKED.get((item.unit, first))
        return value * factor if factor else value
    for unit in units:
        if unit is not None and (item.unit, unit) in _PER:
            return value * _PER[item.unit, unit]
    return None


def gauge_psi(item: Item, *, bar: bool = False) -> float | None:
    """A cylinder's gauge in psi: a bare number is bar where people speak metric, or where `bar` was said beside it."""
    if item.unit is None and (item.metric or bar) and 10 <= item.number <= _LARGEST_GAUGE_BAR:
        return item.number * BAR
    if item.unit is None:
        return item.number
    return in_unit(item, "psi", "bar", "kpa") if item.unit in ("psi", "bar", "kpa") else None


_LARGEST_GAUGE_BAR = 400
"""No breathing-air or oxygen cylinder is filled higher (300 bar at 15 °C, EN 12021 / EN 137 usage; memory)."""
BAR = _PER["bar", "psi"]
"""psi in one bar."""
_LARGEST_BAR = 25
"""A bare pressure up to this is bar where people speak metric, above it kPa (common practice)."""


def _from_metric(value: float, unit: str | None) -> float:
    """A bare number in the unit wanted, where metric units are spoken."""
    if unit == "psi":
        return value * (_PER["bar", "psi"] if abs(value) <= _LARGEST_BAR else _PER["kpa", "psi"])
    usual = {"ft": "m", "gpm": "lpm", "gal": "l", "mi": "km"}.get(unit or "")
    return value * _PER[usual, unit] if usual and unit else value


# ------------------------------------------------------------------------------------------------------------- registry

Reader: TypeAlias = Callable[[Span], Iterable[Candidate]]

_BY_TRIGGER: dict[str, list[Reader]] = {}
TRIGGERS: set[str] = set()
_ORDER: dict[Reader, int] = {}


def reads(*triggers: str) -> Callable[[Reader], Reader]:
    """Registers a reader for stretches in which one of these concepts (or "is:kind") occurs."""

    def register(reader: Reader) -> Reader:
        _ORDER.setdefault(reader, len(_ORDER))
        for trigger in triggers:
            _BY_TRIGGER.setdefault(trigger, []).append(reader)
            TRIGGERS.add(trigger)
        return reader

    return register


def readers_for(concepts: set[str]) -> tuple[Reader, ...]:
    """The readers that a stretch with these concepts wakes, in the order of their registration."""
    return _woken(frozenset(TRIGGERS & concepts))


@lru_cache(1024)
def _woken(triggers: frozenset[str]) -> tuple[Reader, ...]:
    found = {reader for trigger in triggers for reader in _BY_TRIGGER[trigger]}
    return tuple(sorted(found, key=_ORDER.__getitem__))
