"""Tags numbers with their units, sizes in inches, floors and clock times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from grammar.commands import SaidTime
from grammar.items import Item
from grammar.numbers import WORDS as _NUMBER_WORDS
from grammar.numbers import NumberAt, fraction_at, numbers_at
from grammar.vocabulary import Vocabulary, matches


def unit_at(words: Sequence[str], i: int, terms: Vocabulary) -> list[tuple[int, str]]:
    """Units of measurement that begin at `i`, longest first."""
    found: list[tuple[int, str]] = []
    for end, concepts in matches(terms.tree, words, i, frozenset()) if i < len(words) else ():
        found.extend((end, str(c).partition(":")[2]) for c in concepts if str(c).startswith("unit:"))
    return found[::-1]


def quantities(words: Sequence[str], i: int, numbers: Sequence[NumberAt], terms: Vocabulary) -> Iterator[Item]:
    yield from _inch_and(words, i)
    yield from _one_inch(words, i)
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
            if not units and n.form == "fraction" and end < len(words) and words[end] in ("an", "a", "of"):
                units = unit_at(words, end + 1, terms)
            for stop, unit in units[:2]:
                if unit == "in" and words[stop - 1] == "in" and not 0 < n.value <= 12:
                    continue
                doubtful = (
                    words[stop - 1] == "in"
                    and stop < len(words)
                    and words[stop] in ("the", "a", "place", "out", "two", "2")
                )
                cost = n.cost + (0.3 if doubtful else 0.0)
                yield _number(words, i, stop, n, unit, cost, concepts)
            if units and words[end] not in ("in", "m") and not any(_inch_and(words, end)):
                continue
        yield _number(words, i, end, n, None, n.cost, concepts)
    if words[i] in ("a", "an") and not numbers:
        for stop, unit in unit_at(words, i + 1, terms)[:1]:
            if unit in ("min", "hr", "mi"):
                yield Item("num", i, stop, value=1.0, unit=unit, form="int", text=" ".join(words[i:stop]), cost=0.02)
                more = fraction_at(words, stop + 1) if words[stop : stop + 1] in (("and",), ["and"]) else None
                if more is not None:  # "a mile and a half"
                    text = " ".join(words[i : more[0]])
                    yield Item("num", i, more[0], value=1 + more[1], unit=unit, form="mixed", text=text)
    if words[i] in ("couple", "pair"):
        stop = i + 2 if i + 1 < len(words) and words[i + 1] == "of" else i + 1
        units = unit_at(words, stop, terms)
        for end, unit in units[:1] if units and units[0][1] != "in" else ():
            yield Item("num", i, end, value=2.0, unit=unit, form="int", text=" ".join(words[i:end]))
        if not units:
            yield Item(
                "num", i, stop, value=2.0, form="int", text=" ".join(words[i:stop]), concepts=frozenset(("pair",))
            )


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


def _one_inch(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "an inch tip", "an inch line", "200 feet of inch"."""
    j = i + 1 if words[i] in ("a", "an") else i
    if words[i] == "inch" and i and words[i - 1] == "of" and not (i + 1 < len(words) and words[i + 1] in _AND_A_PART):
        yield Item("num", i, i + 1, value=1.0, unit="in", form="int", text="inch", cost=0.02)
    if (
        words[j : j + 1] in (("inch",), ["inch"])
        and words[j + 1 : j + 2]
        and words[j + 1] in ("tip", "tips", "line", "hose", "smooth", "smoothbore", "nozzle")
    ):
        if (
            i == j
            and i
            and (words[i - 1][:1].isdigit() or words[i - 1] in _NUMBER_WORDS or words[i - 1] in ("a", "an"))
        ):
            return
        yield Item("num", i, j + 1, value=1.0, unit="in", form="int", text=" ".join(words[i : j + 1]), cost=0.02)


_AND_A_PART = frozenset(("and", "n", "an", "&", "+", "in_mark", "half", "quarter", "three", "3"))
_BARE_PARTS = {"eighth": 0.125, "quarter": 0.25, "sixteenth": 0.0625}
_AND = frozenset(("and", "n", "an", "in", "&", "+", "end"))


def _inch_and(words: Sequence[str], i: int) -> Iterator[Item]:
    """ "inch and three quarter", "an inch and a half", "two inch and a half", "deuce and a half"."""
    word = words[i]
    n = len(words)
    if word in ("deuce", "duce", "deuces", "duece") and i + 1 < n:
        start = i + 2 if words[i + 1] in _AND else i + 1
        part = fraction_at(words, start) if start < n else None
        if part and part[1] == 0.5:
            yield _inches(words, i, _inch_end(words, part[0]), 2.5, 0.0)
        return
    whole, j, cost = 1, i, 0.0
    if word in ("a", "an", "one", "1", "single") and i + 1 < n and words[i + 1] in ("inch", "inches", "in_mark"):
        j = i + 1
    elif word in ("two", "2", "three", "3") and i + 1 < n and words[i + 1] == "inch":
        whole, j, cost = (2 if word in ("two", "2") else 3), i + 1, 0.35
    if words[j] not in ("inch", "inches", "in_mark"):
        return
    start = j + 1
    joined = start < n and words[start] in _AND
    if joined:
        start += 1
    if start >= n:
        return
    part = fraction_at(words, start)
    if part is None and joined and words[start] in _BARE_PARTS:
        part = (start + 1, _BARE_PARTS[words[start]])  # "inch and eighth"
    if part is None or (not joined and part[1] in (0.5, 0.25) and words[start] in ("a", "an", "half", "quarter")):
        return
    unheard = part[1] * 8 % 1 and part[1] not in (1 / 16, 3 / 16)  # "inch and fifteen sixteenths": a hose, and its tip
    extra = 0.5 if unheard else 0.0 if joined else 0.02
    yield _inches(words, i, _inch_end(words, part[0]), whole + part[1], cost + extra)


def _inch_end(words: Sequence[str], end: int) -> int:
    """Past a unit that was said again, and a plural."""
    while end < len(words) and words[end] in ("inch", "inches", "in_mark", "s"):
        again = words[end] == "inch" and end + 2 < len(words) and words[end + 1] in _AND
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
        if "floor" in concepts and end < len(words) and words[end - 1] not in ("story", "storey", "floors"):
            for n in numbers_at(words, end):
                if n.form in ("int", "ordinal") and 0 < n.value < 120 and not unit_at(words, n.end, terms):
                    cut = n.end < len(words) and words[n.end] in ("hundred", "thousand")
                    yield _floor(words, i, n.end, int(n.value), _CUT_NUMBER if cut else 0.0)
        for concept, floor in (("basement", -1), ("sub_basement", -2), ("ground_floor", 1)):
            if concept in concepts:
                yield _floor(words, i, end, floor)


def _top_floor(words: Sequence[str], i: int, terms: Vocabulary) -> Iterator[Item]:
    """ "Top floor of a three story", "top floor of the three decker": the third."""
    if tuple(words[i : i + 3]) != ("top", "floor", "of"):
        return
    start = i + 4 if i + 4 < len(words) and words[i + 3] in ("a", "the", "that") else i + 3
    if start >= len(words):
        return
    for n in numbers_at(words, start):
        if n.form != "int" or not 0 < n.value < 120 or n.end >= len(words):
            continue
        ends = [end for end, concepts in matches(terms.tree, words, n.end, frozenset()) if "stories" in concepts]
        ends += [n.end + 1] if words[n.end] in ("decker", "deckers", "flat") else []
        if ends:
            yield _floor(words, i, max(ends), int(n.value))


_CUT_NUMBER = 0.35
"""Costs a floor that is the first word of a longer number: "floor five hundred feet" is asked, never told."""


def _floor(words: Sequence[str], i: int, end: int, floor: int, cost: float = 0.0) -> Item:
    return Item("floor", i, end, value=floor, cost=cost, text=" ".join(words[i:end]))


def times(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """Clock times ("at 14:12", "at fourteen twelve", "1412 hours") and times ago ("two minutes ago")."""
    at = words[i] in ("at", "@")
    j = i + 1 if at else i
    if at and j >= len(words):
        return
    if at:
        yield from _spoken_clock(words, i, j)
    for n in numbers_at(words, j) if at else numbers:
        if n.form == "time":
            yield from _clock(words, i, n.end, *_parts(int(n.value)), words[j])
            continue
        if n.value < 0 or n.form == "ordinal":
            continue
        after = words[n.end] if n.end < len(words) else ""
        four = (len(words[j]) == 4 and words[j].isdigit() and n.end == j + 1) or (
            n.form in ("hundreds", "digits") and n.value >= 100
        )
        hours = after in ("hours", "hrs")
        if four and (at or hours):
            end = n.end + 1 if hours else n.end
            hour, minute = divmod(int(n.value), 100)
            if hour < 24 and minute < 60:
                of_hose = not hours and not {*words}.isdisjoint(_OF_HOSE)  # "300 feet of … at one fifty" is a flow
                cost = n.cost + (0.0 if hours else 0.3 if of_hose else 0.03)
                yield from _clock(words, i, end, hour, minute, None, "", cost=cost)
        if after == "past" and n.end + 1 < len(words) and 0 < n.value < 60:
            for h in numbers_at(words, n.end + 1):
                if h.form == "int" and 0 < h.value < 25:
                    minute = 30 if n.value == 0.5 else 15 if n.value == 0.25 else int(n.value)
                    yield from _clock(words, i, h.end, int(h.value) % 24, minute, None, "", cost=0.05)
    if not at:
        yield from _ago(words, i, numbers)


_OF_HOSE = frozenset(
    ("feet", "ft", "foot", "ft_mark", "inch", "inches", "in_mark", "hose", "line", "lines", "crosslay", "tip", "fog")
)


def _spoken_clock(words: Sequence[str], i: int, j: int) -> Iterator[Item]:
    """ "at oh six twenty five", "at 14 22"."""
    if words[j] in ("oh", "o", "zero") and j + 1 < len(words):
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
    if end < len(words) and words[end] in ("hours", "hrs", "h"):
        end += 1
    if end < len(words) and words[end] in ("pm", "am") and hour <= 12:
        hour = hour % 12 + (12 if words[end] == "pm" else 0)
        end += 1
    text = " ".join(words[i:end])
    said = SaidTime(hour, minute, second if literal.count(":") == 2 else None)
    good = hour < 24 and minute < 60 and (second or 0) < 60
    yield Item("time" if good else "badtime", i, end, value=said, text=text, cost=cost)


_SECONDS = {
    "min": 60,
    "minute": 60,
    "minutes": 60,
    "mins": 60,
    "seconds": 1,
    "secs": 1,
    "sec": 1,
    "second": 1,
    "hour": 3600,
    "hours": 3600,
}


def _ago(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    amounts = [(n.end, n.value) for n in numbers if n.form not in ("ordinal", "time")]
    if words[i] in ("a", "an"):
        amounts.append((i + 1, 1.0))
        if i + 2 < len(words) and words[i + 1] == "couple":
            amounts.append((i + 3 if words[i + 2] == "of" else i + 2, 2.0))
    if words[i] == "couple":
        amounts.append((i + 2 if words[i + 1 : i + 2] == ("of",) else i + 1, 2.0))
    for end, amount in amounts:
        if end < len(words) and words[end] in ("an", "a") and end + 1 < len(words):
            end += 1
        if end >= len(words) or words[end] not in _SECONDS:
            continue
        seconds, end = float(amount * _SECONDS[words[end]]), end + 1
        part = fraction_at(words, end + 1) if end + 1 < len(words) and words[end] == "and" else None
        if part is not None:
            seconds, end = seconds + part[1] * _SECONDS[words[end - 1]], part[0]
        if end < len(words) and words[end] in ("ago", "back", "earlier"):
            yield Item("time", i, end + 1, value=SaidTime(ago_s=seconds), text=" ".join(words[i : end + 1]))
        for tail in _AFTER:
            if tuple(words[end : end + len(tail)]) == tail:
                stop = end + len(tail)
                yield Item("time", i, stop, value=SaidTime(after_s=seconds), text=" ".join(words[i:stop]), cost=0.02)


_AFTER = (("after", "that"), ("after", "it"), ("afterwards",), ("afterward",), ("past", "that"))
""" "Two minutes after that": counted from what was reported last."""
