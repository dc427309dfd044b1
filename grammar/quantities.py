"""Tags numbers with their units, sizes in inches, floors and clock times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from grammar.commands import SaidTime
from grammar.items import Item
from grammar.lexicon import by_language, language
from grammar.numbers import NumberAt, fraction_at, number_words, numbers_at
from grammar.text import clean
from grammar.vocabulary import Vocabulary, matches, word_list


class _Words(NamedTuple):
    """The lists of quantities.toml: `clock`, `inch`, `two`, each by name."""

    clock: Mapping[str, frozenset[str]]
    inch: Mapping[str, frozenset[str]]
    two: Mapping[str, frozenset[str]]
    seconds: Mapping[str, int]
    after_that: tuple[tuple[str, ...], ...]
    wholes: Mapping[str, int]
    parts: Mapping[str, float]


@by_language
def _said() -> _Words:
    def listed(name: str) -> Mapping[str, frozenset[str]]:
        table: dict[str, Any] = language().get(name, {})
        found = {key: frozenset(map(clean, words)) for key, words in table.items() if isinstance(words, list)}
        return defaultdict(frozenset[str], found)

    clock, inch = language().get("clock", {}), language().get("inch", {})
    return _Words(
        listed("clock"),
        listed("inch"),
        listed("two"),
        {clean(word): seconds for word, seconds in clock.get("seconds", {}).items()},
        tuple(tuple(clean(way).split()) for way in clock.get("after_that", ())),
        inch.get("whole", {}),
        inch.get("parts", {}),
    )


def unit_at(words: Sequence[str], i: int, terms: Vocabulary) -> list[tuple[int, str]]:
    """Units of measurement that begin at `i`, longest first."""
    found: list[tuple[int, str]] = []
    for end, concepts in matches(terms.tree, words, i, frozenset()) if i < len(words) else ():
        found.extend((end, str(c).partition(":")[2]) for c in concepts if str(c).startswith("unit:"))
    return found[::-1]


def quantities(words: Sequence[str], i: int, numbers: Sequence[NumberAt], terms: Vocabulary) -> Iterator[Item]:
    said = _said()
    yield from _inch_and(words, i)
    yield from _one_inch(words, i)
    yield from _longer(words, i, numbers)
    for n in numbers:
        if n.form == "time":
            continue
        end = n.end
        concepts = frozenset(("hose_said",)) if n.form in ("mixed", "decimal") else frozenset()
        if end < len(words) and words[end] == "s" and n.form != "ordinal":
            end += 1
            concepts |= {"plural"}
        if n.form != "ordinal":
            units = unit_at(words, end, terms)
            if (
                not units
                and n.form == "fraction"
                and end < len(words)
                and (_a(words[end]) or words[end] in said.two["of"])
            ):
                units = unit_at(words, end + 1, terms)
            for stop, unit in units[:2]:
                other_word = words[stop - 1] in said.inch["doubtful"]
                if other_word and not 0 < n.value <= 12:
                    continue
                doubtful = other_word and stop < len(words) and words[stop] in said.inch["no_unit_before"]
                cost = n.cost + (0.3 if doubtful else 0.0)
                yield _number(words, i, stop, n, unit, cost, concepts)
            if units and words[end] not in said.inch["doubtful"] | {"m"} and not any(_inch_and(words, end)):
                continue
        yield _number(words, i, end, n, None, n.cost, concepts)
    if not numbers:
        yield from _one_of(words, i, terms)
    if words[i] in said.two["word"]:
        stop = i + 2 if i + 1 < len(words) and words[i + 1] in said.two["of"] else i + 1
        units = unit_at(words, stop, terms)
        for end, unit in units[:1] if units and units[0][1] != "in" else ():
            yield Item("num", i, end, value=2.0, unit=unit, form="int", text=" ".join(words[i:end]))
        if not units:
            yield Item(
                "num", i, stop, value=2.0, form="int", text=" ".join(words[i:stop]), concepts=frozenset(("pair",))
            )


def _one_of(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "A minute", "a mile and a half", "mile and a half"."""
    for stop, unit in unit_at(words, i + _a(words[i]), terms)[:1]:
        if unit not in ("min", "hr", "mi"):
            continue
        if _a(words[i]):
            yield Item("num", i, stop, value=1.0, unit=unit, form="int", text=" ".join(words[i:stop]), cost=0.02)
        joined = stop < len(words) and words[stop] in number_words().listed["and"]
        more = fraction_at(words, stop + 1) if joined and stop + 1 < len(words) else None
        if more is not None and unit == "mi":
            text = " ".join(words[i : more[0]])
            yield Item("num", i, more[0], value=1 + more[1], unit=unit, form="mixed", text=text)


def _number(
    words: Sequence[str], i: int, end: int, n: NumberAt, unit: str | None, cost: float, concepts: frozenset[str]
) -> Item:
    return Item(
        "num",
        i,
        end,
        value=float(n.value),
        unit=unit,
        form=n.form,
        cost=cost,
        concepts=concepts,
        text=" ".join(words[i:end]),
    )


def _a(word: str) -> bool:
    return word in number_words().listed["a"]


def _one_inch(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "an inch tip", "an inch line", "200 feet of inch"."""
    inch = _said().inch
    if (
        words[i] in inch["single"]
        and i
        and words[i - 1] in inch["of"]
        and inch["no_part_after"].isdisjoint(words[i + 1 : i + 2])
    ):
        yield Item("num", i, i + 1, value=1.0, unit="in", form="int", text=words[i], cost=0.02)
    j = i + 1 if _a(words[i]) else i
    if j + 1 >= len(words) or words[j] not in inch["single"] or words[j + 1] not in inch["before"]:
        return
    before = words[i - 1] if i else ""
    if i == j and (before[:1].isdigit() or before in number_words().words or _a(before)):
        return
    yield Item("num", i, j + 1, value=1.0, unit="in", form="int", text=" ".join(words[i : j + 1]), cost=0.02)


def _inch_and(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "inch and three quarter", "an inch and a half", "two inch and a half", "deuce and a half"."""
    said, n = _said(), len(words)
    if words[i] in said.inch["two"]:
        start = i + 2 if i + 1 < n and words[i + 1] in said.inch["and"] else i + 1
        part = fraction_at(words, start) if start < n else None
        if part and part[1] == 0.5:
            yield _inches(words, i, _inch_end(words, part[0]), 2.5, 0.0)
        return
    whole, j = 1, i
    if words[i] in said.wholes and i + 1 < n and words[i + 1] in said.inch["word"]:
        whole, j = said.wholes[words[i]], i + 1
        if whole > 1 and words[j] not in said.inch["single"]:
            return
    if words[j] not in said.inch["word"]:
        return
    cost = 0.35 if whole > 1 else 0.0
    start = j + 1
    joined = start < n and words[start] in said.inch["and"]
    start += joined
    if start >= n:
        return
    part = fraction_at(words, start)
    if part is None and joined and words[start] in said.parts:
        part = (start + 1, said.parts[words[start]])  # "inch and eighth"
    if part is None or (not joined and part[1] in (0.5, 0.25) and _begins_part(words[start])):
        return
    unheard = part[1] * 8 % 1 and part[1] not in (1 / 16, 3 / 16)  # "inch and fifteen sixteenths": a hose, and its tip
    extra = 0.5 if unheard else 0.0 if joined else 0.02
    yield _inches(words, i, _inch_end(words, part[0]), whole + part[1], cost + extra)


def _begins_part(word: str) -> bool:
    return _a(word) or word in number_words().listed["bare_parts"]


def _inch_end(words: Sequence[str], end: int) -> int:
    """Past a unit that was said again, and a plural."""
    inch = _said().inch
    while end < len(words) and (words[end] in inch["word"] or words[end] == "s"):
        again = words[end] in inch["single"] and end + 2 < len(words) and words[end + 1] in inch["and"]
        if again and fraction_at(words, end + 2) is not None:
            break
        end += 1
    return end


def _inches(words: Sequence[str], i: int, end: int, value: float, cost: float) -> Item:
    plural = words[end - 1].endswith("s")
    concepts = frozenset(("hose_said", "plural") if plural else ("hose_said",))
    text = " ".join(words[i:end])
    return Item("num", i, end, value=value, unit="in", form="mixed", cost=cost, concepts=concepts, text=text)


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
                    yield _floor(words, i, end, int(n.value))
    yield from _top_floor(words, i, terms)
    for end, concepts in found:
        if "floor" in concepts and end < len(words) and words[end - 1] not in word_list("floors_counted"):
            for n in numbers_at(words, end):
                if n.form in ("int", "ordinal") and 0 < n.value < 120 and not unit_at(words, n.end, terms):
                    cut = n.end < len(words) and words[n.end] in number_words().scales
                    yield _floor(words, i, n.end, int(n.value), _CUT_NUMBER if cut else 0.0)
        for concept, floor in (("basement", -1), ("sub_basement", -2), ("ground_floor", 1)):
            if concept in concepts:
                yield _floor(words, i, end, floor)


def _top_floor(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "Top floor of a three story", "top floor of the three decker": the third."""
    if " ".join(words[i : i + 3]) not in word_list("floors_top"):
        return
    start = i + 4 if i + 4 < len(words) and words[i + 3] in word_list("floors_of") else i + 3
    if start >= len(words):
        return
    for n in numbers_at(words, start):
        if n.form != "int" or not 0 < n.value < 120 or n.end >= len(words):
            continue
        ends = [end for end, concepts in matches(terms.tree, words, n.end, frozenset()) if "stories" in concepts]
        ends += [n.end + 1] if words[n.end] in word_list("floors_deckers") else []
        if ends:
            yield _floor(words, i, max(ends), int(n.value))


_CUT_NUMBER = 0.35
"""Costs a floor that is the first word of a longer number: "floor five hundred feet" is asked, never told."""


def _floor(words: Sequence[str], i: int, end: int, floor: int, cost: float = 0.0) -> Item:
    return Item("floor", i, end, value=floor, cost=cost, text=" ".join(words[i:end]))


def times(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """Clock times ("at 14:12", "at fourteen twelve", "1412 hours") and times ago ("two minutes ago")."""
    clock = _said().clock
    at = words[i] in clock["at"]
    j = i + 1 if at else i
    if at and j >= len(words):
        return
    if at:
        yield from _spoken_clock(words, i, j)
    for n in numbers_at(words, j) if at else numbers:
        if n.form == "time":
            yield from _clock(words, i, n.end, *_parts(int(n.value)), words[j])
        elif n.value >= 0 and n.form != "ordinal":
            yield from _four_digits(words, i, j, n)
            yield from _past(words, i, n)
    if not at:
        yield from _ago(words, i, numbers)


def _four_digits(words: Sequence[str], i: int, j: int, n: NumberAt) -> Iterator[Item]:
    """ "at 1412", "fourteen twelve hours"."""
    hours = n.end < len(words) and words[n.end] in _said().clock["hours"]
    four = (len(words[j]) == 4 and words[j].isdigit() and n.end == j + 1) or (
        n.form in ("hundreds", "digits") and n.value >= 100
    )
    if four and (j > i or hours):
        hour, minute = divmod(int(n.value), 100)
        if hour < 24 and minute < 60:
            end = n.end + 1 if hours else n.end
            of_hose = not hours and not _said().clock["not_beside"].isdisjoint(words)
            cost = n.cost + (0.0 if hours else 0.3 if of_hose else 0.03)
            yield from _clock(words, i, end, hour, minute, None, "", cost=cost)


def _past(words: Sequence[str], i: int, n: NumberAt) -> Iterator[Item]:
    """ "Half past two", "ten past nine"."""
    if n.end + 1 >= len(words) or words[n.end] not in _said().clock["past"] or not 0 < n.value < 60:
        return
    for h in numbers_at(words, n.end + 1):
        if h.form == "int" and 0 < h.value < 25:
            minute = 30 if n.value == 0.5 else 15 if n.value == 0.25 else int(n.value)
            yield from _clock(words, i, h.end, int(h.value) % 24, minute, None, "", cost=0.05)


def _spoken_clock(words: Sequence[str], i: int, j: int) -> Iterator[Item]:
    """ "at oh six twenty five", "at 14 22"."""
    if words[j] in number_words().listed["oh"] and j + 1 < len(words):
        for n in numbers_at(words, j + 1):
            hour, minute = divmod(int(n.value), 100)
            if n.form in ("hundreds", "digits") and 0 < hour < 10 and minute < 60:
                yield from _clock(words, i, n.end, hour, minute, None, "", cost=n.cost)
    two = words[j : j + 2]
    if len(two) == 2 and all(len(w) == 2 and w.isdigit() for w in two) and int(two[0]) < 24 and int(two[1]) < 60:
        yield from _clock(words, i, j + 2, int(two[0]), int(two[1]), None, "", cost=0.1)


def _parts(value: int) -> tuple[int, int, int]:
    """Hour, minute and second of a clock time as `numbers` gives it (hhmmss)."""
    return value // 10000, value // 100 % 100, value % 100


def _clock(
    words: Sequence[str], i: int, end: int, hour: int, minute: int, second: int | None, literal: str, cost: float = 0.0
) -> Iterator[Item]:
    clock = _said().clock
    if end < len(words) and words[end] in clock["hours"] | clock["hour_marks"]:
        end += 1
    if end < len(words) and words[end] in clock["am"] | clock["pm"] and hour <= 12:
        hour = hour % 12 + (12 if words[end] in clock["pm"] else 0)
        end += 1
    text = " ".join(words[i:end])
    said = SaidTime(hour, minute, second if literal.count(":") == 2 else None)
    good = hour < 24 and minute < 60 and (second or 0) < 60
    yield Item("time" if good else "badtime", i, end, value=said, text=text, cost=cost)


def _durations(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[tuple[int, float, str]]:
    """How long, as (end, seconds, unit): "ten minutes", "an hour and ten minutes", "an hour and a half" are one each.

    The unit is the smallest that was said.
    """
    said, n = _said(), len(words)
    amounts = [(m.end, m.value) for m in numbers if m.form not in ("ordinal", "time")]
    amounts += _a_couple(words, i) if i < n else ()
    for end, amount in amounts:
        if end + 1 < n and _a(words[end]):
            end += 1
        if end >= n or words[end] not in said.seconds:
            continue
        unit = said.seconds[words[end]]
        yield end + 1, float(amount * unit), _UNITS[unit]
        yield from _and_more(words, end + 1, float(amount * unit), unit)


def _and_more(words: Sequence[str], end: int, seconds: float, unit: int) -> Iterator[tuple[int, float, str]]:
    """What is added to a duration: "… and a half", "… and ten minutes", "… thirty seconds"; "an hour and ten"."""
    said = _said()
    joined = end < len(words) and words[end] in number_words().listed["and"]
    end += joined
    if end >= len(words) or unit == 1:
        return
    part = fraction_at(words, end) if joined else None
    if part is not None:
        yield part[0], seconds + part[1] * unit, _UNITS[unit // 60]
        return
    for n in numbers_at(words, end):
        after = words[n.end] if n.end < len(words) else ""
        if n.form != "int" or not 0 < n.value < 60:
            continue
        if said.seconds.get(after, unit) < unit:
            yield n.end + 1, seconds + n.value * said.seconds[after], _UNITS[said.seconds[after]]
        elif joined and unit == 3600 and (after in ("", ".", ",") or after in said.clock["minutes_end"]):
            yield n.end, seconds + n.value * 60, "min"


_UNITS = {3600: "hr", 60: "min", 1: "s"}


def _longer(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """A duration of two parts, in its smaller unit."""
    joins, units = number_words().listed["and"], _said().seconds
    for end, seconds, unit in _durations(words, i, numbers):
        said = words[i:end]
        if not joins.isdisjoint(said) or len([word for word in said if word in units]) > 1:
            value = seconds / 60 if unit == "min" else seconds
            yield Item("num", i, end, value=value, unit=unit, form="int", text=" ".join(said))


def _ago(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    said, n = _said(), len(words)
    before = words[i] in said.clock["ago_before"] and i + 1 < n
    counts = numbers_at(words, i + 1) if before else numbers
    for end, seconds, _ in _durations(words, i + before, counts):
        if before or (end < n and words[end] in said.clock["ago"]):
            stop = end if before else end + 1
            yield Item("time", i, stop, value=SaidTime(ago_s=seconds), text=" ".join(words[i:stop]))
        for tail in said.after_that:
            if tuple(words[end : end + len(tail)]) == tail:
                stop = end + len(tail)
                yield Item("time", i, stop, value=SaidTime(after_s=seconds), text=" ".join(words[i:stop]), cost=0.02)


def _a_couple(words: Sequence[str], i: int) -> Iterator[tuple[int, float]]:
    """ "A minute", "a couple of minutes": where the count ends, and how many."""
    two = _said().two
    if _a(words[i]):
        yield i + 1, 1.0
        i += 1
    if i < len(words) and words[i] in two["word"]:
        yield (i + 2 if i + 1 < len(words) and words[i + 1] in two["of"] else i + 1), 2.0
