"""Finds declared wordings anywhere in a message: `[[told]]` entries in the one notation of `grammar.patterns`.

    [[told]]
    kind = "vital"                       what it is for grammar/scribe/telling.py
    takes = ["systolic", "diastolic"]    what its numbers are, in their order
    sets = { palpated = "yes" }          what it says beside them
    within = [40, 500]                   its first number is a whole one within these, or it isn't this
    not_before = ["over"]                behind it none of these words stands
    last = true                          any other fact of the same words goes before it
    weak = true                          by itself it doesn't show that a patient is spoken of
    says = ["<n> over <n>"]              wordings; <name> is a rule, a list, or one of these:

`<n>` a number, `<d>` one of one word up to 15, `<nth>` an ordinal, `<span>` a stretch of time in seconds, `<clock>`
a time of day, `<unit>` a company, `<words>` all words up to the next pause, `<few>` up to four of them. A rule of
[care.rule] is only a way of saying, one of [care.said] gives its own words, a list of [care.list] its value. Of facts
that begin at one word the longest is taken, of equal ones the strong one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from grammar.commands_base import SaidTime
from grammar.lexicon import by_language, language
from grammar.numbers import NumberAt, numbers_at
from grammar.patterns import Node, parse
from grammar.text import Token

MARKS = frozenset(".,;:!?\n")
Values = tuple[tuple[str, Any], ...]
_SPANS = {"second": 1, "seconds": 1, "sec": 1, "minute": 60, "minutes": 60, "min": 60, "mins": 60, "hour": 3600,
          "hours": 3600, "hr": 3600, "hrs": 3600, "day": 86400, "days": 86400, "week": 604800,
          "weeks": 604800}  # fmt: skip
_DEAREST = 0.4
"""Far-fetched numbers are none: `NumberAt.cost`."""
_SMALL = 15
_NUMERIC = frozenset(("n", "d", "nth", "span", "clock"))
_NUMBER = "#"
"""Stands for the first words of numbers among those that a wording may begin with."""
_DECADES = frozenset(
    ("twenties", "thirties", "forties", "fifties", "sixties", "seventies", "eighties", "nineties", "hundreds")
)


class Fact(NamedTuple):
    """One declared fact; the fields stand as in the module's docstring."""

    kind: str
    takes: tuple[str, ...]
    sets: Mapping[str, str]
    weak: bool
    says: tuple[Node, ...]
    within: tuple[float, float] | None = None
    """Where its first number must lie: beyond that it isn't this."""
    not_before: tuple[str, ...] = ()
    last: bool = False


class Found(NamedTuple):
    """A fact in a message: tokens `start` to `end` (exclusive) and what they say."""

    fact: Fact
    start: int
    end: int
    values: Mapping[str, Any]

    @property
    def kind(self) -> str:
        return self.fact.kind


@by_language
def facts() -> tuple[Fact, ...]:
    """Every declared fact; none where the language has no care.toml."""
    return tuple(
        Fact(
            one["kind"],
            tuple(one.get("takes", ())),
            one.get("sets", {}),
            one.get("weak", False),
            tuple(parse(way) for way in one["says"]),
            tuple(one["within"]) if "within" in one else None,
            tuple(one.get("not_before", ())),
            one.get("last", False),
        )
        for one in language().get("told", ())
    )


@by_language
def words_of_care() -> Mapping[str, frozenset[str]]:
    """The plain word lists of [care.words]."""
    return {name: frozenset(words) for name, words in language().get("care", {}).get("words", {}).items()}


@by_language
def _values() -> Mapping[str, Mapping[str, str]]:
    lists = language().get("care", {}).get("list", {})
    return {name: {way: value for value, ways in values.items() for way in ways} for name, values in lists.items()}


def values_of_care(name: str) -> Mapping[str, str]:
    """The wordings of a list of [care.list], each with the value it says."""
    return _values().get(name, {})


@by_language
def _rules() -> Mapping[str, tuple[tuple[str | None, Node], ...]]:
    """Rules and lists by name: (value or None, wording)."""
    care = language().get("care", {})
    found: dict[str, tuple[tuple[str | None, Node], ...]] = {
        name: tuple((None, parse(way)) for way in ways) for name, ways in care.get("rule", {}).items()
    }
    for name, values in care.get("list", {}).items():
        found[name] = tuple((value, parse(way)) for value, ways in values.items() for way in ways)
    return found


@by_language
def _said() -> Mapping[str, tuple[Node, ...]]:
    """Rules of [care.said], whose own words are kept."""
    said = language().get("care", {}).get("said", {})
    return {name: tuple(parse(way) for way in ways) for name, ways in said.items()}


@by_language
def _needed() -> tuple[tuple[Fact, Node, tuple[frozenset[str], ...], tuple[str, ...]], ...]:
    """Every wording with the words of which a message must hold one each, and the words that it can begin with."""
    return tuple(
        (fact, node, tuple(_needs(node)), tuple(_first(node) or ("",))) for fact in facts() for node in fact.says
    )


def _needs(node: Node) -> list[frozenset[str]]:
    """Sets of words: a message without any of one set can't hold the wording."""
    kind, *parts = node
    match kind:
        case "word":
            return [frozenset((str(parts[0]),))]
        case "seq":
            return [need for part in parts for need in _needs(part)]
        case "any":
            return _either([_needs(part) for part in parts])
        case "rule" if parts[0] in _rules():
            return _either([_needs(way) for _, way in _rules()[parts[0]]])
        case "rule" if parts[0] in _said():
            return _either([_needs(way) for way in _said()[parts[0]]])
        case "rule" if parts[0] == "unit":
            return [words_of_care().get("companies", frozenset())]
    return []


def _either(ways: list[list[frozenset[str]]]) -> list[frozenset[str]]:
    """What any of these needs: one word of the smallest need of each; nothing where one needs nothing."""
    if not ways or any(not needs for needs in ways):
        return []
    return [frozenset[str]().union(*(min(needs, key=len) for needs in ways))]


def _may_match(words: Sequence[str]) -> dict[str, list[tuple[Fact, Node]]]:
    """The wordings whose words are all there, by the word they begin with; those that begin with anything under ""."""
    there = set(words)
    found: dict[str, list[tuple[Fact, Node]]] = {}
    for fact, node, needs, firsts in _needed():
        if all(not there.isdisjoint(need) for need in needs):
            for word in firsts:
                found.setdefault(word, []).append((fact, node))
    return found


def _first(node: Node) -> set[str] | None:
    """The words that a wording can begin with; None: anything."""
    firsts, _ = _firsts(node)
    return None if "" in firsts else firsts


def _firsts(node: Node) -> tuple[set[str], bool]:
    """(first words, whether it may be left out)."""
    kind, *parts = node
    match kind:
        case "word":
            return {str(parts[0])}, False
        case "maybe":
            return _firsts(parts[0])[0], True
        case "any":
            each = [_firsts(part) for part in parts]
            return set().union(*(one for one, _ in each)), any(empty for _, empty in each)
        case "seq":
            found: set[str] = set()
            for part in parts:
                firsts, empty = _firsts(part)
                found |= firsts
                if not empty:
                    return found, False
            return found, True
        case "rule" if parts[0] in _rules() or parts[0] in _said():
            ways = [way for _, way in _rules().get(parts[0], ())] or _said()[parts[0]]
            return set().union(*(_firsts(way)[0] for way in ways)), False
        case "rule" if parts[0] in _NUMERIC:
            return {_NUMBER}, False
        case "rule" if parts[0] == "unit":
            return set(words_of_care().get("companies", ())), False
    return {""}, False


class _Match:
    """Matches wordings at a place of a message."""

    def __init__(self, words: Sequence[str]) -> None:
        self.words = words
        self._numbers: dict[int, list[NumberAt]] = {}
        self._slots: dict[str, Callable[[int], Iterator[tuple[int, Any]]]] = {
            "n": self._n, "d": self._d, "nth": self._nth, "span": self._span, "clock": self._clock, "unit": self._unit,
            "words": self._words, "few": self._few,
        }  # fmt: skip

    def counts(self, i: int) -> bool:
        """A number, or a stretch of time, may begin there."""
        return bool(self._at(i)) or self.words[i] in ("a", "an", "half")

    def _at(self, i: int) -> list[NumberAt]:
        if i not in self._numbers:
            self._numbers[i] = numbers_at(self.words, i)
        return self._numbers[i]

    def ends(self, node: Node, i: int) -> Iterator[tuple[int, Values]]:
        """Every end of the wording that begins at `i`, with what was taken."""
        kind, *parts = node
        if kind == "word":
            if i < len(self.words) and self.words[i] == parts[0]:
                yield i + 1, ()
        elif kind == "seq":
            yield from self._row(parts, i)
        elif kind == "any":
            for part in parts:
                yield from self.ends(part, i)
        elif kind == "maybe":
            yield from self.ends(parts[0], i)
            yield i, ()
        elif kind == "rule":
            yield from self._rule(str(parts[0]), i)

    def _row(self, parts: Sequence[Node], i: int) -> Iterator[tuple[int, Values]]:
        if not parts:
            yield i, ()
            return
        for end, values in self.ends(parts[0], i):
            for last, more in self._row(parts[1:], end):
                yield last, (*values, *more)

    def _rule(self, name: str, i: int) -> Iterator[tuple[int, Values]]:
        if i >= len(self.words):
            return
        if name in _rules():
            for value, way in _rules()[name]:
                for end, values in self.ends(way, i):
                    yield end, ((*values, (name, value)) if value is not None else values)
            return
        if name in _said():
            for way in _said()[name]:
                for end, values in self.ends(way, i):
                    yield end, (*values, (name, " ".join(self.words[i:end])))
            return
        for end, taken in self._slots[name](i):
            yield end, ((name, taken),)

    def _n(self, i: int) -> Iterator[tuple[int, float]]:
        """A number; the longest first."""
        found = [n for n in self._at(i) if n.form not in ("ordinal", "time") and n.cost <= _DEAREST]
        for n in sorted(found, key=lambda n: (-n.end, n.cost)):
            after = self.words[n.end] if n.end < len(self.words) else ""
            if after in _DECADES:
                continue  # "in the one forties" is no number
            if after == "point" and n.value == int(n.value):
                behind = [p for p in self._at(n.end) if p.form == "decimal"]
                yield from ((p.end, n.value + p.value) for p in behind)  # "one oh two point four"
                continue
            yield n.end, n.value

    def _d(self, i: int) -> Iterator[tuple[int, float]]:
        yield from ((end, value) for end, value in self._n(i) if end == i + 1 and 0 <= value <= _SMALL)

    def _nth(self, i: int) -> Iterator[tuple[int, float]]:
        yield from ((n.end, n.value) for n in self._at(i) if n.form == "ordinal")

    def _span(self, i: int) -> Iterator[tuple[int, float]]:
        """ "ten minutes", "an hour", "half an hour", "an hour and a half", "a couple of hours"."""
        words = self.words
        counts = list(self._n(i))
        if words[i] in ("a", "an", "one"):
            counts.append((i + 1, 1.0))
        if words[i : i + 2] in (["half", "an"], ["half", "a"]):
            counts.append((i + 2, 0.5))
        if words[i : i + 3] == ["a", "couple", "of"]:
            counts.append((i + 3, 2.0))
        for end, count in counts:
            if end < len(words) and words[end] in _SPANS:
                seconds = count * _SPANS[words[end]]
                if words[end + 1 : end + 4] == ["and", "a", "half"]:
                    yield end + 4, seconds + _SPANS[words[end]] / 2
                yield end + 1, seconds

    def _clock(self, i: int) -> Iterator[tuple[int, SaidTime]]:
        """ "14:05", "1405", "fourteen oh five", "nine thirty"."""
        for n in self._at(i):
            if n.form == "time":
                yield n.end, SaidTime(int(n.value) // 10000, int(n.value) // 100 % 100, int(n.value) % 100 or None)
            elif n.form in ("int", "hundreds", "digits") and 100 <= n.value < 2400 and n.value % 100 < 60:
                yield n.end, SaidTime(int(n.value) // 100, int(n.value) % 100)

    def _unit(self, i: int) -> Iterator[tuple[int, str]]:
        """ "medic 5", "engine twelve"; also who goes by no number: "the medics"."""
        if self.words[i] in words_of_care().get("companies", ()):
            for end, value in self._n(i + 1) if i + 1 < len(self.words) else ():
                if value == int(value):
                    yield end, f"{self.words[i]} {int(value)}"

    def _words(self, i: int) -> Iterator[tuple[int, str]]:
        end = i
        while end < len(self.words) and self.words[end] not in MARKS:
            end += 1
        if end > i:
            yield end, " ".join(self.words[i:end])

    def _few(self, i: int) -> Iterator[tuple[int, str]]:
        stop = words_of_care().get("few_ends", frozenset())
        end = i
        while end < len(self.words) and end < i + 4 and self.words[end] not in MARKS | stop:
            end += 1
        for last in range(end, i, -1):
            yield last, " ".join(self.words[i:last])


def find(tokens: Sequence[Token]) -> list[Found]:
    """The facts of a message from left to right, the longest at each place; no word stands in two of them."""
    words = [token.text for token in tokens]
    match = _Match(words)
    starts = _may_match(words)
    found: list[Found] = []
    i = 0
    while i < len(words):
        best: Found | None = None
        numeric = starts.get(_NUMBER, ()) if match.counts(i) else ()
        for fact, node in (*starts.get(words[i], ()), *numeric, *starts.get("", ())):
            for end, values in match.ends(node, i):
                if end > i and (best is None or _before(fact, end, best)) and _fits(fact, values, words[end : end + 1]):
                    best = Found(fact, i, end, _named(fact, values))
        if best is None:
            i += 1
            continue
        found.append(best)
        i = best.end
    return found


def _before(fact: Fact, end: int, best: Found) -> bool:
    """The longer goes before; of equals the strong one, then the one that isn't a last resort."""
    return (end, not fact.weak, not fact.last) > (best.end, not best.fact.weak, not best.fact.last)


def _fits(fact: Fact, values: Values, after: Sequence[str]) -> bool:
    if after and after[0] in fact.not_before:
        return False
    if fact.within is None:
        return True
    first = next((value for name, value in values if name in ("n", "d")), None)
    return first is None or (fact.within[0] <= first <= fact.within[1] and first == int(first))


def _named(fact: Fact, values: Values) -> dict[str, Any]:
    """What was taken, by name: numbers by the fact's `takes`, all else by its rule."""
    named: dict[str, Any] = dict(fact.sets)
    numbers = [value for name, value in values if name in ("n", "d")]
    named.update(zip(fact.takes, numbers, strict=False))
    named.update((name, value) for name, value in values if name not in ("n", "d"))
    return named
