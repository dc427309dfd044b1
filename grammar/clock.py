"""Tags clock times ("at 14:12", "half past two"), times ago ("two minutes ago") and durations of two parts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from grammar.commands import SaidTime
from grammar.costs import FAIR, HARDLY, LIKELY, SURE, UNSURE
from grammar.items import Item
from grammar.numbers import NumberAt, fraction_at, number_words, numbers_at
from grammar.quantities import article, at, item, said

_UNITS = {3600: "hr", 60: "min", 1: "s"}


def times(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """Clock times ("at 14:12", "at fourteen twelve", "1412 hours") and times ago ("two minutes ago")."""
    led = words[i] in said().clock["at"]
    j = i + led
    if led and j < len(words):
        yield from _spoken_clock(words, i, j)
    for n in numbers_at(words, j) if led and j < len(words) else () if led else numbers:
        if n.form == "time":  # hhmmss
            value = int(n.value)
            yield from _clock(words, i, n.end, value // 10000, value // 100 % 100, value % 100, words[j])
        elif n.value >= 0 and n.form != "ordinal":
            yield from _four_digits(words, i, j, n)
            yield from _past(words, i, n)
    if not led:
        yield from _ago(words, i, numbers)


def _four_digits(words: Sequence[str], i: int, j: int, n: NumberAt) -> Iterator[Item]:
    """ "at 1412", "fourteen twelve hours"."""
    hours = at(words, n.end, said().clock["hours"])
    typed = len(words[j]) == 4 and words[j].isdigit() and n.end == j + 1
    hour, minute = divmod(int(n.value), 100)
    if not (j > i or hours) or not (typed or (n.form in ("hundreds", "digits") and n.value >= 100)):
        return
    if hour < 24 and minute < 60:
        of_hose = not said().clock["not_beside"].isdisjoint(words)
        cost = SURE if hours else UNSURE if of_hose else HARDLY
        yield from _clock(words, i, n.end + hours, hour, minute, cost=n.cost + cost)


def _past(words: Sequence[str], i: int, n: NumberAt) -> Iterator[Item]:
    """ "Half past two", "ten past nine"."""
    if n.end + 1 >= len(words) or not at(words, n.end, said().clock["past"]) or not 0 < n.value < 60:
        return
    minute = int(n.value * 60 if n.value < 1 else n.value)
    for h in numbers_at(words, n.end + 1):
        if h.form == "int" and 0 < h.value < 25:
            yield from _clock(words, i, h.end, int(h.value) % 24, minute, cost=LIKELY)


def _spoken_clock(words: Sequence[str], i: int, j: int) -> Iterator[Item]:
    """ "at oh six twenty five", "at 14 22"."""
    if at(words, j, number_words().listed["oh"]) and j + 1 < len(words):
        for n in numbers_at(words, j + 1):
            hour, minute = divmod(int(n.value), 100)
            if n.form in ("hundreds", "digits") and 0 < hour < 10 and minute < 60:
                yield from _clock(words, i, n.end, hour, minute, cost=n.cost)
    two = words[j : j + 2]
    if len(two) == 2 and all(len(w) == 2 and w.isdigit() for w in two) and int(two[0]) < 24 and int(two[1]) < 60:
        yield from _clock(words, i, j + 2, int(two[0]), int(two[1]), cost=FAIR)


def _clock(
    words: Sequence[str],
    i: int,
    end: int,
    hour: int,
    minute: int,
    second: int = 0,
    written: str = "",
    cost: float = SURE,
) -> Iterator[Item]:
    clock = said().clock
    end += at(words, end, clock["hours"] | clock["hour_marks"])
    if at(words, end, clock["am"] | clock["pm"]) and hour <= 12:
        hour = hour % 12 + (12 if words[end] in clock["pm"] else 0)
        end += 1
    time = SaidTime(hour, minute, second if written.count(":") == 2 else None)
    good = hour < 24 and minute < 60 and second < 60
    yield item(words, i, end, time, "time" if good else "badtime", cost=cost)


# ------------------------------------------------------------------------------------------------------------ durations


def _durations(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[tuple[int, float, str]]:
    """How long, as (end, seconds, unit): "ten minutes", "an hour and ten minutes", "an hour and a half" are one each.

    The unit is the smallest that was said.
    """
    amounts = [(m.end, float(m.value)) for m in numbers if m.form not in ("ordinal", "time")]
    for end, amount in (*amounts, *_a_couple(words, i)):
        end += article(words, end) and end + 1 < len(words)
        if at(words, end, said().seconds):
            unit = said().seconds[words[end]]
            yield end + 1, amount * unit, _UNITS[unit]
            yield from _and_more(words, end + 1, amount * unit, unit)


def _and_more(words: Sequence[str], end: int, seconds: float, unit: int) -> Iterator[tuple[int, float, str]]:
    """What is added to a duration: "… and a half", "… and ten minutes", "… thirty seconds"; "an hour and ten"."""
    joined = at(words, end, number_words().listed["and"])
    end += joined
    if end >= len(words) or unit == 1:
        return
    part = fraction_at(words, end) if joined else None
    if part is not None:
        yield part[0], seconds + part[1] * unit, _UNITS[unit // 60]
        return
    for n in numbers_at(words, end):
        after = words[n.end] if n.end < len(words) else ""
        smaller = said().seconds.get(after, unit)
        if n.form != "int" or not 0 < n.value < 60:
            continue
        if smaller < unit:
            yield n.end + 1, seconds + n.value * smaller, _UNITS[smaller]
        elif joined and unit == 3600 and (after in ("", ".", ",") or after in said().clock["minutes_end"]):
            yield n.end, seconds + n.value * 60, "min"


def durations(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    """A duration of two parts, in its smaller unit."""
    joins, units = number_words().listed["and"], said().seconds
    for end, seconds, unit in _durations(words, i, numbers):
        if not joins.isdisjoint(words[i:end]) or len([word for word in words[i:end] if word in units]) > 1:
            yield item(words, i, end, seconds / 60 if unit == "min" else seconds, unit=unit, form="int")


def _ago(words: Sequence[str], i: int, numbers: Sequence[NumberAt]) -> Iterator[Item]:
    clock = said().clock
    before = words[i] in clock["ago_before"] and i + 1 < len(words)
    for end, seconds, _ in _durations(words, i + before, numbers_at(words, i + 1) if before else numbers):
        if before or at(words, end, clock["ago"]):
            yield item(words, i, end if before else end + 1, SaidTime(ago_s=seconds), "time")
        for tail in said().after_that:
            if tuple(words[end : end + len(tail)]) == tail:
                yield item(words, i, end + len(tail), SaidTime(after_s=seconds), "time", cost=HARDLY)


def _a_couple(words: Sequence[str], i: int) -> Iterator[tuple[int, float]]:
    """ "A minute", "a couple of minutes": where the count ends, and how many."""
    if article(words, i):
        yield i + 1, 1.0
        i += 1
    if at(words, i, said().two["word"]):
        yield i + 1 + at(words, i + 1, said().two["of"]), 2.0
