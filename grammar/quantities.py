"""Tags numbers with their units, sizes in inches and floors; clock times and durations are told in grammar/clock.py."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from grammar.costs import DOUBTFUL, HARDLY, SURE, UNSURE
from grammar.items import Item
from grammar.lexicon import by_language, language
from grammar.numbers import NumberAt, fraction_at, number_words, numbers_at
from grammar.text import clean
from grammar.vocabulary import Vocabulary, matches, word_list

_MOST_FLOORS = 120
_MOST_INCHES = 12
"""Behind a larger number "in" is no unit."""


class Words(NamedTuple):
    """The lists of quantities.toml: `clock`, `inch`, `two`, each by name."""

    clock: Mapping[str, frozenset[str]]
    inch: Mapping[str, frozenset[str]]
    two: Mapping[str, frozenset[str]]
    seconds: Mapping[str, int]
    after_that: tuple[tuple[str, ...], ...]
    wholes: Mapping[str, int]
    parts: Mapping[str, float]
    most: Mapping[str, float]


@by_language
def said() -> Words:
    """The words around numbers, as loaded."""

    def listed(name: str) -> Mapping[str, frozenset[str]]:
        table: dict[str, Any] = language().get(name, {})
        found = {key: frozenset(map(clean, words)) for key, words in table.items() if isinstance(words, list)}
        return defaultdict(frozenset[str], found)

    clock, inch = language().get("clock", {}), language().get("inch", {})
    return Words(
        listed("clock"),
        listed("inch"),
        listed("two"),
        {clean(word): seconds for word, seconds in clock.get("seconds", {}).items()},
        tuple(tuple(clean(way).split()) for way in clock.get("after_that", ())),
        inch.get("whole", {}),
        inch.get("parts", {}),
        language().get("unit_most", {}),
    )


def at(words: Sequence[str], i: int, listed: Collection[str]) -> bool:
    """One of these words stands there."""
    return 0 <= i < len(words) and words[i] in listed


def item(words: Sequence[str], i: int, end: int, value: object, kind: str = "num", **more: Any) -> Item:
    """An item of words i..end."""
    return Item(kind, i, end, value=value, text=" ".join(words[i:end]), **more)


def article(words: Sequence[str], i: int) -> bool:
    """ "A", "an"."""
    return at(words, i, number_words().listed["a"])


def unit_at(words: Sequence[str], i: int, terms: Vocabulary) -> list[tuple[int, str]]:
    """Units of measurement that begin at `i`, longest first."""
    found: list[tuple[int, str]] = []
    for end, concepts in matches(terms.tree, words, i, frozenset()) if i < len(words) else ():
        found.extend((end, str(c).partition(":")[2]) for c in concepts if str(c).startswith("unit:"))
    return found[::-1]


def quantities(words: Sequence[str], i: int, numbers: Sequence[NumberAt], terms: Vocabulary) -> Iterator[Item]:
    """The numbers that begin at `i`, with the units that may be theirs."""
    yield from _inch_and(words, i)
    yield from _one_inch(words, i)
    for n in numbers:
        if n.form != "time":
            yield from _with_unit(words, i, n, terms)
    if not numbers:
        yield from _one_of(words, i, terms)
    yield from _two(words, i, terms)


def _with_unit(words: Sequence[str], i: int, n: NumberAt, terms: Vocabulary) -> Iterator[Item]:
    inch, ordinal = said().inch, n.form == "ordinal"
    concepts = frozenset(("hose_said",)) if n.form in ("mixed", "decimal") else frozenset[str]()
    end = n.end
    if at(words, end, "s") and not ordinal:
        end, concepts = end + 1, concepts | {"plural"}
    units = [] if ordinal else unit_at(words, end, terms)
    if not units and n.form == "fraction" and (article(words, end) or at(words, end, said().two["of"])):
        units = unit_at(words, end + 1, terms)
    for stop, unit in units[:2]:
        if n.value > said().most.get(unit, n.value):
            continue
        other_word = words[stop - 1] in inch["doubtful"]
        if other_word and not 0 < n.value <= _MOST_INCHES:
            continue
        doubt = UNSURE if other_word and at(words, stop, inch["no_unit_before"]) else SURE
        yield item(words, i, stop, float(n.value), unit=unit, form=n.form, cost=n.cost + doubt, concepts=concepts)
    if not units or words[end] in inch["doubtful"] | {"m"} or any(_inch_and(words, end)):
        yield item(words, i, end, float(n.value), form=n.form, cost=n.cost, concepts=concepts)


def _one_of(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "A minute", "a mile and a half", "mile and a half"."""
    one = article(words, i)
    for stop, unit in unit_at(words, i + one, terms)[:1]:
        if one and unit in ("min", "hr", "mi"):
            yield item(words, i, stop, 1.0, unit=unit, form="int", cost=HARDLY)
        joined = unit == "mi" and at(words, stop, number_words().listed["and"]) and stop + 1 < len(words)
        more = fraction_at(words, stop + 1) if joined else None
        if more is not None:
            yield item(words, i, more[0], 1 + more[1], unit=unit, form="mixed")


def _two(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "A couple of minutes", "a pair of"."""
    if not at(words, i, said().two["word"]):
        return
    stop = i + 2 if at(words, i + 1, said().two["of"]) else i + 1
    units = unit_at(words, stop, terms)
    if not units:
        yield item(words, i, stop, 2.0, form="int", concepts=frozenset(("pair",)))
    elif units[0][1] != "in":
        yield item(words, i, units[0][0], 2.0, unit=units[0][1], form="int")


# --------------------------------------------------------------------------------------------------------------- inches


def _one_inch(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "an inch tip", "an inch line", "200 feet of inch"."""
    inch, j = said().inch, i + article(words, i)
    if at(words, i, inch["single"]) and at(words, i - 1, inch["of"]) and not at(words, i + 1, inch["no_part_after"]):
        yield item(words, i, i + 1, 1.0, unit="in", form="int", cost=HARDLY)
    if not (at(words, j, inch["single"]) and at(words, j + 1, inch["before"])):
        return
    counted = i == j and i > 0 and (words[i - 1][:1].isdigit() or words[i - 1] in number_words().words)
    if not counted and not (i == j and article(words, i - 1)):
        yield item(words, i, j + 1, 1.0, unit="in", form="int", cost=HARDLY)


def _inch_and(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "inch and three quarter", "an inch and a half", "two inch and a half", "deuce and a half"."""
    inch, n = said().inch, len(words)
    if at(words, i, inch["two"]):
        start = i + 1 + at(words, i + 1, inch["and"])
        part = fraction_at(words, start) if start < n else None
        if part and part[1] == 1 / 2:
            yield _inches(words, i, part[0], 2 + part[1], SURE)
        return
    counted = words[i] in said().wholes and at(words, i + 1, inch["word"])
    whole, j = (said().wholes[words[i]], i + 1) if counted else (1, i)
    if not at(words, j, inch["single"] if whole > 1 else inch["word"]):
        return
    joined = at(words, j + 1, inch["and"])
    start = j + 1 + joined
    part = fraction_at(words, start) if start < n else None
    if part is None and joined and start < n and words[start] in said().parts:
        part = (start + 1, said().parts[words[start]])  # "inch and eighth"
    if part is None or (not joined and part[1] in (1 / 2, 1 / 4) and _begins_part(words, start)):
        return
    unheard = part[1] * 8 % 1 and part[1] not in (1 / 16, 3 / 16)  # "inch and fifteen sixteenths": a hose, and its tip
    cost = (UNSURE if whole > 1 else SURE) + (DOUBTFUL if unheard else SURE if joined else HARDLY)
    yield _inches(words, i, part[0], whole + part[1], cost)


def _begins_part(words: Sequence[str], i: int) -> bool:
    return article(words, i) or at(words, i, number_words().listed["bare_parts"])


def _inches(words: Sequence[str], i: int, end: int, value: float, cost: float) -> Item:
    """With a unit that was said again, and a plural."""
    inch = said().inch
    while at(words, end, inch["word"]) or at(words, end, "s"):
        again = at(words, end, inch["single"]) and at(words, end + 1, inch["and"]) and end + 2 < len(words)
        if again and fraction_at(words, end + 2) is not None:
            break
        end += 1
    concepts = frozenset(("hose_said", "plural") if words[end - 1].endswith("s") else ("hose_said",))
    return item(words, i, end, value, unit="in", form="mixed", cost=cost, concepts=concepts)


# --------------------------------------------------------------------------------------------------------------- floors


def floors(
    words: Sequence[str],
    numbers: Sequence[NumberAt],
    i: int,
    terms: Vocabulary,
    found: Sequence[tuple[int, tuple[object, ...]]],
) -> Iterator[Item]:
    """ "second floor", "floor 2", "basement"; `found`: the terms that begin at `i`."""
    for n in numbers:
        if n.form == "ordinal" and n.end < len(words):
            for end, concepts in matches(terms.tree, words, n.end, frozenset()):
                if "floor" in concepts:
                    yield item(words, i, end, int(n.value), "floor")
    yield from _top_floor(words, i, terms)
    for end, concepts in found:
        if "floor" in concepts and words[end - 1] not in word_list("floors_counted"):
            yield from _numbered_floor(words, i, end, terms)
        for concept, floor in (("basement", -1), ("sub_basement", -2), ("ground_floor", 1)):
            if concept in concepts:
                yield item(words, i, end, floor, "floor")


def _numbered_floor(words: Sequence[str], i: int, end: int, terms: Vocabulary) -> Iterator[Item]:
    """ "Floor 2"; the first word of a longer number, "floor five hundred feet", is asked, never told."""
    for n in numbers_at(words, end) if end < len(words) else ():
        if n.form in ("int", "ordinal") and 0 < n.value < _MOST_FLOORS and not unit_at(words, n.end, terms):
            cut = at(words, n.end, number_words().scales)
            yield item(words, i, n.end, int(n.value), "floor", cost=UNSURE if cut else SURE)


def _top_floor(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "Top floor of a three story", "top floor of the three decker": the third."""
    if " ".join(words[i : i + 3]) not in word_list("floors_top"):
        return
    start = i + 3 + at(words, i + 3, word_list("floors_of"))
    for n in numbers_at(words, start) if start < len(words) else ():
        if n.form == "int" and 0 < n.value < _MOST_FLOORS and n.end < len(words):
            ends = [end for end, concepts in matches(terms.tree, words, n.end, frozenset()) if "stories" in concepts]
            ends += [n.end + 1] if words[n.end] in word_list("floors_deckers") else []
            if ends:
                yield item(words, i, max(ends), int(n.value), "floor")
