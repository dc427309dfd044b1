"""Reads a crew's air: its gauge, its low air alarm, and how long a cylinder lasts."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import AirReading, AirTime, Choice, Entry, Mayday, Question
from grammar.costs import DOUBTFUL, FAIR, HARDLY, LIKELY, UNLIKELY, UNSURE
from grammar.readers.base import Candidate, Span, Take, gauge_psi, in_unit, reads
from grammar.readers.gauges import gauge, ratings, too_fine
from grammar.readers.said import beside, holds, marks, text_at
from grammar.saying import Sayer
from grammar.vocabulary import word_list


@reads("no_air")
def read_no_air(span: Span) -> Iterable[Candidate]:
    """ "engine 9 is out of air": nobody says so who isn't in trouble."""
    at = span.first("no_air")
    if span.stance(at) in ("denied", "hoped", "asked") and not holds(span, "air_none", at, at + 1):
        return
    take = Take(span, *span.where("no_air"))
    unit, place = take.unit(), take.place()
    take.terms("air_word", "air_firm", "people_word", "crew_word", "exit", "for_noise")
    mayday = Mayday(location=place, unit=unit, air="out of air", text=span.said)
    choices = (Choice("Mayday", (mayday,)), Choice("low air only", (AirReading(None, unit, low_air_alarm=True),)))
    yield take.asking(Question("Out of air: is it a Mayday?", choices), Mayday.intent, HARDLY)


@reads("lowest_word", "air_word", "low_air", "is:unit", "is:num")
def read_air(span: Span) -> Iterable[Candidate]:
    """ "engine 9 lowest 3000", "truck 4 air twenty eight fifty", "low air alarm, engine 9"."""
    inside = span.context.inside
    of_a_crew = span.has("is:unit", "low_air", "lowest_word") or (bool(inside) and span.has("air_word"))
    if not (of_a_crew or _again(span)) or span.has(*word_list("air_otherwise")):
        return
    take = Take(span, *span.where("lowest_word", "low_air"))
    unit, psi = take.unit(), gauge(take)
    alarm = span.has("low_air")
    if psi is None and not alarm:
        return
    beside(take, "air_beside")
    time = take.time()
    at = span.first("low_air") if alarm else next(i for i in range(span.lo, span.hi) if take.taken(i))
    stance = span.stance(at)
    if stance in ("denied", "hoped") or (stance == "asked" and psi is None):
        return
    take.mark(*(marks(span) if stance == "asked" or psi is None else ()))
    if psi is None:
        extra = DOUBTFUL if time is not None else 0  # "alarm at 1500": a gauge rather than a time
        yield take.reading(AirReading(None, unit, time, low_air_alarm=True), cost=extra + (LIKELY if unit else FAIR))
        return
    yield take.reading(AirReading(psi, unit, time, low_air_alarm=alarm), cost=_whose(span, unit))


def _again(span: Span) -> bool:
    """ "3100 now", right after air was spoken of, and one crew is inside."""
    last = span.context.last[-1:]
    alone = len(span.context.inside) == 1 and len(span.content()) == 1 and len(span.kinds("num")) == 1
    spoken_of = any(isinstance(c, AirReading | AirTime | Entry) or getattr(c, "about", "") == "air" for c in last)
    return alone and spoken_of and holds(span, "incident_now")


def _whose(span: Span, unit: str | None) -> float:
    """What it costs that it may be another number, or nobody's."""
    inside = span.context.inside
    firm = unit in inside or _again(span) or span.has("lowest_word", "low_air", "air_firm", "air_ask")
    nobodys = unit is None and not inside and span.context.speaker_unit is None
    return (0 if firm else UNSURE if inside else UNLIKELY) + (DOUBTFUL if nobodys else 0)


@reads("air_calc", "scba", "cylinder", "dropped_to", "started", "is:num")
def read_air_time(span: Span) -> Iterable[Candidate]:
    """ "4500 to 3700 in five minutes", "how long does a 45 minute bottle last"."""
    if span.has(*word_list("air_time_otherwise")) or (span.has("snooze") and not span.has("minutes_later")):
        return
    bar = any(span.items[i].unit == "bar" for i in span.kinds("num"))
    read = [i for i in span.kinds("num") if _gauge_like(span, i, bar)]
    minutes = [i for i in span.kinds("num") if span.items[i].unit in ("min", "s")]
    if len(read) == 2 and not minutes:
        yield from _fell(span, read, bar)
    else:
        yield from _asked_of(span, read, minutes, bar)


def _asked_of(span: Span, read: list[int], minutes: list[int], bar: bool) -> Iterable[Candidate]:
    """Two gauges and the time between, or a cylinder by what it is rated at."""
    rated = [i for i in minutes if i in ratings(span) or _of_a_pack(span, i + 1)]
    timed = [i for i in minutes if i not in rated]
    two = len(read) == 2 and bool(timed)
    if not two and not (len(read) < 2 and _of_a_cylinder(span, bool(rated))):
        return
    take = Take(span, *minutes)
    rate = take.number("lpm", "l", low=10, high=200)
    take.mark(*read)
    beside(take, "air_time_beside")
    take.unit()  # whose they are changes no minute
    take.free(*word_list("air_time_idle"))
    gauges = [gauge_psi(span.items[i], bar=bar) or 0 for i in read]
    take.cost += DOUBTFUL if span.context.units == "us" and not bar and any(map(too_fine, gauges)) else 0
    elapsed, rating = (in_unit(span.items[i[-1]], "min") if i else None for i in (timed, rated))
    start, last = _first_and_last(span, read, gauges) if two else (next(iter(gauges), None), None)
    answer = AirTime(start_psi=start, gauge_psi=last, minutes=elapsed, rated_min=rating, rate_lpm=rate)
    yield take.reading(answer, cost=HARDLY)


def _of_a_cylinder(span: Span, rated: bool) -> bool:
    asked = (rated or span.has("air_calc")) and span.has(*word_list("air_time_asked"))
    return asked and not span.has("is:unit")


def _first_and_last(span: Span, read: list[int], gauges: list[float]) -> tuple[float, float]:
    """ "3500 now, 4500 at start": the second is the earlier one; "4500 at start, 3500 now"."""
    its_own = read[0] + 2 if text_at(span, read[0] + 1) in word_list("air_at") else -1
    back = (text_at(span, k) for k in range(read[0] + 1, read[1]) if k != its_own)
    first, last = gauges
    return (first, last) if word_list("air_back").isdisjoint(back) else (last, first)


def _of_a_pack(span: Span, k: int) -> bool:
    return k < span.hi and bool(span.items[k].concepts & {"scba", "cylinder"})


_LEAST_PSI = 1000
"""A fall said in psi, or without a unit, is a cylinder's only from here on: pumps work below."""


def _fell(span: Span, read: list[int], bar: bool) -> Iterable[Candidate]:
    """ "300 bar to 250", unsaid in what time: the crew's gauge now, or asked."""
    first, last = (gauge_psi(span.items[i], bar=bar) or 0 for i in read)
    inside = bool(span.context.inside)
    between = {concept for item in span.items[read[0] + 1 : read[1]] for concept in item.concepts}
    named = inside or any(span.items[i].unit for i in read)
    if not last < first or between.isdisjoint(word_list("air_falls")) or not (bar or (last >= _LEAST_PSI and named)):
        return
    take = Take(span, *read)
    beside(take, "air_falls_beside")
    if inside:
        yield take.reading(AirReading(last), cost=LIKELY)
        return
    say = Sayer(span.context.wording)
    asked = f"{say.gauge(first)} to {say.gauge(last)} in how many minutes?"
    yield take.asking(Question(asked, (), AirTime(start_psi=first, gauge_psi=last), "minutes"), AirTime.intent, LIKELY)


_GAUGES_PSI = range(400, 6001)


def _gauge_like(span: Span, i: int, bar: bool) -> bool:
    item = span.items[i]
    psi = gauge_psi(item, bar=bar)
    return psi is not None and round(psi) in _GAUGES_PSI and item.form != "ordinal"
