"""What declared tests look at: the signs of a stretch's items, and where a test may look for them.

    tests = ["before at", "!gun", "own each | next is:num"]     all of them hold; "a | b": one of them

A sign is a term, the words of an item, `is:kind`, `u:ft`, `form:mixed`, `n:2.5`, `sized` (names a size or a length),
`a_hose` (names hose or a line), a gun's line also its kind. A test looks at the item's `own` signs, its `text`, the
`words` of that (`prev_words`: before it), the first of them (`leads`; `opening`: of the stretch), what is `before` or
`after` it past words that say nothing, `near` (either), right `prev` or `next`, `second` and `third` before it,
`second_next`, `soon` (two on), `later` (behind the next), `close` (three either way), anywhere `behind`, `ahead`,
`elsewhere` or all (`has`; `message`: beyond the stretch too; `earlier`: before it); `said`, `told` and `just_told` look
at single words: of all, of all before it, of three before it. What begins with $ is a word list. Any other test is a
fact: one of the language's [fact] tables, else one of FACTS.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from grammar import costs
from grammar.items import Item
from grammar.lexicon import ENGLISH, by_language, language, speaking
from grammar.readers.base import Span
from grammar.readers.sizes import sizes
from grammar.vocabulary import word_list as declared_words

Signs: TypeAlias = frozenset[str]
Test: TypeAlias = Callable[["Site"], bool]
NONE: Signs = frozenset()
NOZZLES = frozenset(("tip", "smooth_bore", "nozzle"))
_OF_NOZZLE_IN = 3.5
"""A number up to this before "tip" is the tip's, inches: the largest of a master stream."""
_SMALL_IN = 2
_TALL = 20
"""More floors than most buildings have: "flowing sixty, fourth floor"."""
FACTS: dict[str, Test] = {}
"""Tests that no table can say, by name."""


def fact(test: Test) -> Test:
    """Makes a function a test by its name."""
    FACTS[test.__name__.removeprefix("_")] = test
    return test


@by_language
def word_list(name: str) -> Signs:
    """A word list of the language; where it has none the English one, which holds terms."""
    found = declared_words(name)
    if not found:
        with speaking(ENGLISH):
            found = declared_words(name)
    return found


class Site:
    """An item of a stretch, with what stands around it."""

    __slots__ = ("_beside", "i", "item", "signs", "span")

    def __init__(self, span: Span, i: int) -> None:
        if span.signs is None:
            span.signs = [_signs(span, k) for k in range(len(span.items))]
        self.span, self.signs, self.i = span, span.signs, i
        self.item = self.span.items[i]
        self._beside: dict[int, Signs] = {}

    def beside(self, step: int) -> Signs:
        """The signs of what stands before (-1) or after (1), past words that say nothing."""
        if step not in self._beside:
            self._beside[step] = self._near(step)
        return self._beside[step]

    def of(self, k: int) -> Signs:
        """The signs of an item of the stretch."""
        return self.signs[k] if self.span.lo <= k < self.span.hi else NONE

    def sees(self, where: str, *signs: str) -> bool:
        """One of the signs is there."""
        return any(not seen.isdisjoint(signs) for seen in self.seen(where))

    def _near(self, step: int) -> Signs:
        """What stands beside, past words that say nothing, before the next pause."""
        k, items = self.i + step, self.span.items
        while self.span.lo <= k < self.span.hi and items[k].kind != "sep":
            if not items[k].free or not self.signs[k].isdisjoint(word_list("typing_labels")):
                return self.signs[k] - NOZZLES if step < 0 and self._of_another(k) else self.signs[k]
            k += step
        return NONE

    def _of_another(self, k: int) -> bool:
        """ "15/16 tip on 1.75", "7/8 tip plus 2.5": the nozzle has its number before it, or something parts them."""
        if self.signs[k].isdisjoint(NOZZLES):
            return False
        if any(not self.signs[n].isdisjoint(("and", "on_end", "on")) for n in range(k + 1, self.i)):
            return True
        own = self.span.items[k - 1] if k > self.span.lo else None
        return own is not None and own.kind == "num" and own.unit in ("in", None) and own.number <= _OF_NOZZLE_IN

    def seen(self, where: str) -> Iterator[Signs]:
        """The signs of what stands there."""
        i, lo, hi = self.i, self.span.lo, self.span.hi
        if where in _BESIDE:
            yield from (self.beside(step) for step in _BESIDE[where])
        elif where in _NEXT_TO:
            yield self.of(i + _NEXT_TO[where])
        elif where in _TOLD:
            first, last = {"said": (lo, hi), "told": (lo, i), "just_told": (max(lo, i - _JUST), i)}[where]
            yield from (frozenset(item.text.split()) for item in self.span.items[first:last])
        elif where in _OF_TEXT:
            at = lo if where == "opening" else max(i - 1, lo) if where == "prev_words" else i
            words = self.span.items[at].text.split()
            yield frozenset((self.item.text,) if where == "text" else words if where.endswith("words") else words[:1])
        elif where == "message":
            yield from self.signs
        elif where == "earlier":
            yield from self.signs[:lo]
        else:
            yield from map(self.of, _WHERE[where](i, lo, hi))


_NEXT_TO = {"own": 0, "prev": -1, "next": 1, "second": -2, "third": -3, "second_next": 2}
_BESIDE: Mapping[str, Sequence[int]] = {"before": (-1,), "after": (1,), "near": (-1, 1)}
_WHERE: Mapping[str, Callable[[int, int, int], Sequence[int]]] = {
    "later": lambda i, lo, hi: (i + 2, i + 3),
    "soon": lambda i, lo, hi: range(i + 1, i + 3),
    "close": lambda i, lo, hi: (*range(i - 3, i), *range(i + 1, i + 4)),
    "behind": lambda i, lo, hi: range(lo, i),
    "ahead": lambda i, lo, hi: range(i + 1, hi),
    "elsewhere": lambda i, lo, hi: (*range(lo, i), *range(i + 1, hi)),
    "has": lambda i, lo, hi: range(lo, hi),
}
_OF_TEXT = ("text", "words", "prev_words", "leads", "opening")
_TOLD = ("said", "told", "just_told")
_JUST = 3
_ELSEWHERE = (*_OF_TEXT, *_TOLD, "message", "earlier")


def _signs(span: Span, k: int) -> Signs:
    """What tests ask of an item."""
    item = span.items[k]
    signs = {*item.concepts, item.text, f"is:{item.kind}"}
    if item.kind == "num":
        signs |= _of_number(span, k)
    elif item.kind == "line":
        devices = {line.device for line in span.context.rig_lines if line.key == item.value and line.device}
        signs |= {"a_hose", *devices}
    elif item.kind == "floor" and isinstance(item.value, int) and item.value > _TALL:
        signs.add("tall")
    elif "sprinkler" in item.concepts and "fire_connection" not in item.concepts:
        signs.add("sprinklers")
    return frozenset(signs)


def _of_number(span: Span, k: int) -> set[str]:
    """What a number is by itself; "small": less than 2 in, as a "small line" is."""
    item, plain = span.items[k], sizes("plain_hoses")
    tip = any("tip" in one.concepts for one in span.items[k + 1 : min(k + 3, span.hi)])
    hose = item.number >= min(plain) if item.unit == "in" else item.unit is None and item.number in plain and not tip
    told = {"a_tip": item.number in sizes("tips"), "a_hose": hose, "hose_number": hose, "sized": sized(item)}
    told["small"] = told["sized"] and item.number < _SMALL_IN
    signs = {f"u:{item.unit}", f"form:{item.form}", f"n:{item.number:g}"}
    return signs.union(sign for sign, holds in told.items() if holds)


def sized(item: Item) -> bool:
    """A number that is the size or the length of hose."""
    return item.kind == "num" and (item.unit in ("in", "mm", "ft", "m") or "hose_said" in item.concepts)


# ----------------------------------------------------------------------------------------------------------- the tests


@by_language
def declared(table: str) -> Any:
    """A table of the language; the English one where it has none: rules speak of terms, which every language has."""
    found = language().get(table)
    if found is None:
        with speaking(ENGLISH):
            found = declared(table)
    return found


@by_language
def compiled(said: str) -> Test:
    """A test as it is written in a table."""
    ways = [_one(way.strip()) for way in said.split(" | ")]
    return ways[0] if len(ways) == 1 else lambda site: any(way(site) for way in ways)


def _one(said: str) -> Test:
    if said.startswith("!"):
        other = _one(said[1:])
        return lambda site: not other(site)
    name, *words = said.split()
    if name in (*_NEXT_TO, *_BESIDE, *_WHERE, *_ELSEWHERE):
        return _sees(name, _listed(" ".join(words)))
    if name in declared("fact"):
        tests = [compiled(test) for test in declared("fact")[name]]
        return lambda site: all(test(site) for test in tests)
    return FACTS[name]


def _listed(words: str) -> Signs:
    """Signs, parted by spaces; a comma between them where they are of several words."""
    found = [one.strip() for one in (words.split(",") if "," in words else words.split())]
    lists = [word_list(one[1:]) for one in found if one.startswith("$")]
    return frozenset(one for one in found if not one.startswith("$")).union(*lists)


def _sees(where: str, signs: Signs) -> Test:
    """A test for these signs; the commonest places without a detour, as hundreds are tried a message."""
    apart = signs.isdisjoint
    if where in _NEXT_TO:
        step = _NEXT_TO[where]
        return lambda site: not apart(site.of(site.i + step))
    if where in ("before", "after"):
        side = -1 if where == "before" else 1
        return lambda site: not apart(site.beside(side))
    if where == "has":
        return lambda site: any(not apart(seen) for seen in site.signs[site.span.lo : site.span.hi])
    return lambda site: any(not apart(seen) for seen in site.seen(where))


def met(name: str, span: Span, i: int | None = None) -> bool:
    """A declared fact, or one of FACTS, of an item: of the one at `i`, else of any in the stretch."""
    test = compiled(name)
    return any(test(Site(span, k)) for k in (range(span.lo, span.hi) if i is None else (i,)))


def doubts(name: str, span: Span) -> float:
    """What is declared to speak against a reading, as a cost: the [doubt] tables.

    A row: `when`, tests that one of the stretch's items meets, all of them; `cost`.
    """
    return sum(cost(row["cost"]) for row in declared("doubt")[name] if _meets(row["when"], span))


def _meets(tests: Sequence[str], span: Span) -> bool:
    return any(all(compiled(test)(Site(span, i)) for test in tests) for i in range(span.lo, span.hi))


def cost(name: str) -> float:
    """A cost of grammar/costs.py by its name."""
    return float(getattr(costs, name.upper()))
