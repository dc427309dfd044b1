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

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias, TypeVar, cast

from grammar import costs
from grammar.items import Item
from grammar.lexicon import ENGLISH, by_language, language, speaking
from grammar.readers.base import Span
from grammar.readers.sizes import sizes
from grammar.vocabulary import word_list as declared_words

Signs: TypeAlias = frozenset[str]
Test: TypeAlias = Callable[["Site"], bool]
T = TypeVar("T")
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


def site_at(span: Span, i: int) -> Site:
    """The item at `i`, with what stands around it; the same one each time."""
    seen = seen_of(span)
    site = seen.sites.get(i)
    if site is None:
        site = seen.sites[i] = Site(span, i, seen)
    return site


class Seen:
    """What declared tests see of a stretch, worked out once."""

    __slots__ = ("facts", "signs", "sites", "told")

    def __init__(self, span: Span) -> None:
        self.signs = [item.signs or _signs(span, k) for k, item in enumerate(span.items)]
        """Of each item of the message."""
        self.told: Signs = NONE.union(*self.signs[span.lo : span.hi])
        """Of all items of the stretch."""
        self.sites: dict[int, Site] = {}
        self.facts: dict[str, float] = {}
        """What was asked of the whole stretch: facts and doubts."""


def seen_of(span: Span) -> Seen:
    """What tests see of this stretch."""
    seen: Seen | None = span.seen
    if seen is None:
        seen = span.seen = Seen(span)
    return seen


class Site:
    """An item of a stretch, with what stands around it."""

    __slots__ = ("_beside", "hi", "i", "item", "lo", "signs", "span", "told")

    def __init__(self, span: Span, i: int, seen: Seen) -> None:
        self.span, self.signs, self.told, self.i = span, seen.signs, seen.told, i
        self.lo, self.hi = span.lo, span.hi
        self.item = span.items[i]
        self._beside: dict[int, Signs] = {}

    def beside(self, step: int) -> Signs:
        """The signs of what stands before (-1) or after (1), past words that say nothing."""
        found = self._beside.get(step)
        if found is None:
            found = self._beside[step] = self._near(step)
        return found

    def of(self, k: int) -> Signs:
        """The signs of an item of the stretch."""
        return self.signs[k] if self.lo <= k < self.hi else NONE

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
    if item.kind == "num":
        tip = any("tip" in one.concepts for one in span.items[k + 1 : min(k + 3, span.hi)])
        return _of_number(item.concepts, item.text, item.number, item.unit, item.form, tip)
    if item.signs is None:
        item.signs = _of_word(item.kind, item.concepts, item.text)
        if item.kind == "line":
            devices = {line.device for line in span.context.rig_lines if line.key == item.value and line.device}
            item.signs |= {"a_hose", *devices}
        elif item.kind == "floor" and isinstance(item.value, int) and item.value > _TALL:
            item.signs |= {"tall"}
    return item.signs


@by_language
def _of_word(kind: str, concepts: Signs, text: str) -> Signs:
    """What a word is by itself."""
    sprinklers = kind not in ("num", "line") and "sprinkler" in concepts and "fire_connection" not in concepts
    return concepts | {text, f"is:{kind}", f"text:{text}", *(("sprinklers",) if sprinklers else ())}


@by_language
def _of_number(concepts: Signs, text: str, number: float, unit: str | None, form: str, tip: bool) -> Signs:
    """What a number is by itself; "small": less than 2 in, as a "small line" is."""
    plain = sizes("plain_hoses")
    hose = number >= min(plain) if unit == "in" else unit is None and number in plain and not tip
    told = {"a_tip": number in sizes("tips"), "a_hose": hose, "hose_number": hose, "sized": _sized(unit, concepts)}
    told["small"] = told["sized"] and number < _SMALL_IN
    told["n:whole"] = number == int(number)
    signs = {f"u:{unit}", f"form:{form}", f"n:{number:g}", *(sign for sign, holds in told.items() if holds)}
    return _of_word("num", concepts, text) | signs


def sized(item: Item) -> bool:
    """A number that is the size or the length of hose."""
    return item.kind == "num" and _sized(item.unit, item.concepts)


def _sized(unit: str | None, concepts: Signs) -> bool:
    return unit in ("in", "mm", "ft", "m") or "hose_said" in concepts


# ----------------------------------------------------------------------------------------------------------- the tests


@by_language
def declared(table: str) -> Any:
    """A table of the language; the English one where it has none: rules speak of terms, which every language has."""
    found = language().get(table)
    if found is None:
        with speaking(ENGLISH):
            found = declared(table)
    return found


class Declared(NamedTuple):
    """A test as it is written in a table."""

    holds: Test
    needs: tuple[Signs, ...] = ()
    """One sign of each of these stands in the stretch wherever the test holds."""
    alone: Callable[[Signs], bool] | None = None
    """The same test of an item's own signs, where it looks at nothing else."""


@by_language
def compiled(said: str) -> Declared:
    """A test as it is written in a table."""
    ways = [_one(way.strip()) for way in said.split(" | ")]
    if len(ways) == 1:
        return ways[0]
    needs = (NONE.union(*(way.needs[0] for way in ways)),) if all(way.needs for way in ways) else ()
    return Declared(_some([way.holds for way in ways]), needs, _of_own(_some, ways))


def _one(said: str) -> Declared:
    if said.startswith("!"):
        other = _one(said[1:])
        return Declared(_not(other.holds), (), other.alone and _not(other.alone))
    name, *words = said.split()
    if name in (*_NEXT_TO, *_BESIDE, *_WHERE, *_ELSEWHERE):
        return _sees(name, _listed(" ".join(words)))
    if name in declared("fact"):
        return together(declared("fact")[name])
    return Declared(FACTS[name])


def together(tests: Iterable[str]) -> Declared:
    """All of these tests."""
    every = [compiled(test) for test in tests]
    needs = tuple(need for test in every for need in test.needs)
    return Declared(_all([test.holds for test in every]), needs, _of_own(_all, every))


def _of_own(joined: Callable[[Sequence[Callable[[T], bool]]], Callable[[T], bool]], tests: Sequence[Declared]) -> Any:
    """The tests joined, of an item's own signs; None where one of them looks at something else."""
    alone = [test.alone for test in tests]
    return None if None in alone else joined(cast(Any, alone))


def _not(test: Callable[[T], bool]) -> Callable[[T], bool]:
    return lambda of: not test(of)


def _some(tests: Sequence[Callable[[T], bool]]) -> Callable[[T], bool]:
    """One of the tests holds; called so often that no list or generator is built."""

    def some(of: T) -> bool:
        for test in tests:  # noqa: SIM110
            if test(of):
                return True
        return False

    return some if len(tests) > 1 else tests[0]


def _all(tests: Sequence[Callable[[T], bool]]) -> Callable[[T], bool]:
    """All of the tests hold."""

    def every(of: T) -> bool:
        for test in tests:  # noqa: SIM110
            if not test(of):
                return False
        return True

    return every if len(tests) > 1 else tests[0]


def _listed(words: str) -> Signs:
    """Signs, parted by spaces; a comma between them where they are of several words."""
    found = [one.strip() for one in (words.split(",") if "," in words else words.split())]
    lists = [word_list(one[1:]) for one in found if one.startswith("$")]
    return frozenset(one for one in found if not one.startswith("$")).union(*lists)


def _sees(where: str, signs: Signs) -> Declared:
    """A test for these signs; the commonest places without a detour, as hundreds are tried a message."""
    apart = signs.isdisjoint
    if where == "text":
        apart = frozenset(f"text:{sign}" for sign in signs).isdisjoint
    if where in ("own", "text"):
        return Declared(
            lambda site: not apart(site.signs[site.i]) if site.lo <= site.i < site.hi else False,
            (signs,),
            lambda own: not apart(own),
        )
    if where in _NEXT_TO:
        step = _NEXT_TO[where]
        return Declared(lambda site: not apart(site.of(site.i + step)), (signs,))
    if where in ("before", "after"):
        side = -1 if where == "before" else 1
        return Declared(lambda site: not apart(site.beside(side)), (signs,))
    if where == "has":
        return Declared(lambda site: not apart(site.told), (signs,))
    return Declared(
        lambda site: any(not apart(seen) for seen in site.seen(where)),
        () if where in _ELSEWHERE else (signs,),
    )


def met(name: str, span: Span, i: int | None = None) -> bool:
    """A declared fact, or one of FACTS, of an item: of the one at `i`, else of any in the stretch."""
    if i is not None:
        test = compiled(name)
        return _possible(test, seen_of(span)) and test.holds(site_at(span, i))
    facts = seen_of(span).facts
    if name not in facts:
        facts[name] = _meets(compiled(name), span)
    return bool(facts[name])


def doubts(name: str, span: Span) -> float:
    """What is declared to speak against a reading, as a cost: the [doubt] tables.

    A row: `when`, tests that one of the stretch's items meets, all of them; `cost`.
    """
    facts, key = seen_of(span).facts, f"doubt {name}"
    if key not in facts:
        facts[key] = sum(extra for test, extra in _doubt(name) if _meets(test, span))
    return facts[key]


@by_language
def _doubt(name: str) -> tuple[tuple[Declared, float], ...]:
    return tuple((together(row["when"]), cost(row["cost"])) for row in declared("doubt")[name])


def _meets(test: Declared, span: Span) -> bool:
    """An item of the stretch meets the test."""
    if not _possible(test, seen_of(span)):
        return False
    for i in range(span.lo, span.hi):  # noqa: SIM110
        if test.holds(site_at(span, i)):
            return True
    return False


def _possible(test: Declared, seen: Seen) -> bool:
    """The signs are there without which the test can't hold."""
    told = seen.told
    for need in test.needs:  # noqa: SIM110
        if need.isdisjoint(told):
            return False
    return True


def cost(name: str) -> float:
    """A cost of grammar/costs.py by its name."""
    return float(getattr(costs, name.upper()))
