"""An item: a stretch of words with the meaning that the tagger gave it."""

from __future__ import annotations

from grammar.lexicon import ENGLISH, speaking
from grammar.numbers import number_words

_NONE: frozenset[str] = frozenset()
POLARITY = frozenset(("not", "hope", "cond", "order", "tale"))
"""Concepts that say how a thing is meant."""


class Item:
    """A stretch of words with its meaning.

    `kind`: num, time, badtime, unit, line, family, floor, place, person, street, term, word, sep. `value`: the number,
    the name's
    canonical form, SaidTime, floor number. `unit`: of a number as said. `polarity`: markers of the clause that bear on
    it.
    """

    __slots__ = (
        "at",
        "concepts",
        "cost",
        "doubts",
        "end",
        "form",
        "free",
        "kind",
        "metric",
        "polarity",
        "slip",
        "start",
        "text",
        "unit",
        "value",
    )

    def __init__(
        self,
        kind: str,
        start: int,
        end: int,
        *,
        concepts: frozenset[str] = _NONE,
        value: object = None,
        unit: str | None = None,
        form: str = "",
        cost: float = 0.0,
        free: bool = False,
        text: str = "",
    ) -> None:
        self.kind = kind
        self.start = start
        self.end = end
        self.concepts = concepts
        self.value = value
        self.unit = unit
        self.form = form
        """Of a number how it was said; of a word "plain" where it is known; "short" of the is in "staging's"."""
        self.cost = cost
        self.free = free
        self.text = text
        self.polarity = _NONE
        self.at = 0
        self.slip = 0.0
        """What its spelling cost."""
        self.doubts: dict[str, float] | None = None
        """What it costs left unread, by what hangs on it, once that was worked out."""
        self.metric = False
        """A number said without a unit where people speak in metric units."""

    def __repr__(self) -> str:
        extra = f"={self.value}{self.unit or ''}" if self.value is not None else ""
        return f"<{self.kind} {self.text!r}{extra} {'/'.join(sorted(self.concepts)[:4])}>"

    def again(self) -> Item:
        """A copy that may get a polarity of its own."""
        copy = Item.__new__(Item)
        copy.kind, copy.start, copy.end = self.kind, self.start, self.end
        copy.concepts, copy.value, copy.unit, copy.form = self.concepts, self.value, self.unit, self.form
        copy.cost, copy.free, copy.text, copy.slip = self.cost, self.free, self.text, self.slip
        copy.polarity, copy.at, copy.metric, copy.doubts = _NONE, 0, False, None
        return copy

    @property
    def polarity_mark(self) -> bool:
        """The item itself negates, hopes, conditions, orders or tells a tale."""
        return not self.concepts.isdisjoint(POLARITY)

    @property
    def number(self) -> float:
        """The value of a num item."""
        assert isinstance(self.value, float)
        return self.value


with speaking(ENGLISH):  # the names of places are the same in every language
    _ORDINAL_NAMES = {v: k for k, v in number_words().ordinals.items()}


def floor_name(floor: int) -> str:
    """The canonical place of a floor: 2 = "second floor", -1 = "basement"."""
    if floor < 0:
        return "basement" if floor == -1 else f"{-floor} levels below ground"
    return f"{_ORDINAL_NAMES.get(floor, f'{floor}th')} floor"
