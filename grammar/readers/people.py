"""Reads crews going in and out, and their air."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import AirReading, AirTime, Choice, Entry, Exit, Mayday, Question, Status
from grammar.readers.base import BAR, Candidate, Span, Take, gauge_psi, in_unit, reads
from grammar.readers.said import sentence
from grammar.readers.incident import marks
from grammar.readers.par import EVERYONE
from grammar.readers.tasks import task_said
from grammar.readers.ways_out import brought, together
from grammar.saying import Sayer
from grammar.vocabulary import word_list


def gauge(take: Take) -> float | None:
    """Takes a cylinder gauge reading, psi: "4200", "forty two hundred", "200 bar"."""
    value = take.number("psi", "bar", "kpa", low=100, high=6000)
    if value is None:
        value = take.number(None, low=400, high=6000, whole=True)
    if value is None and take.span.context.units == "metric" and take.span.has("lowest_word", "air_word", "air_firm"):
        bar = take.number(None, low=20, high=350, whole=True)
        value = bar * BAR if bar is not None else None
    if value is not None and value % 5 > 1e-6 and take.span.context.units == "us":
        take.cost += 0.4  # no one reads a gauge that finely
    return value


def lowest_gauge(take: Take) -> float | None:
    """The lowest of the gauges that are named one after the other: "4400 and 4200"."""
    read = [psi for psi in iter(lambda: gauge(take), None) if psi is not None]
    if len(read) > 1:
        take.notes.append(f"the lowest gauge, {Sayer(take.span.context.wording).gauge(min(read))}")
    return min(read, default=None)


_CREWS = frozenset(("crews", "teams", "companies", "more crews", "more companies"))


def _ratings(span: Span) -> Iterator[int]:
    """Minutes that a cylinder is rated at: "45 minute bottles"."""
    for i in span.kinds("num"):
        after = span.items[i + 1 : i + 3]
        words = {word for one in after for word in one.text.split()}
        packs = not words.isdisjoint(_PACKS) or any(one.concepts & {"scba", "cylinder"} for one in after[:1])
        if span.items[i].unit == "min" and packs:
            yield i


_PACKS = frozenset(
    ("bottle", "bottles", "cylinder", "cylinders", "pack", "packs", "scba", "airpack", "airpacks", "tanks")
)


def members(take: Take) -> int | None:
    value = take.number(None, low=1, high=12, whole=True)
    return int(value) if value is not None else None


_BEING_IN = frozenset(
    ("in", "inside", "is in", "are in", "interior", "is interior", "is inside", "are inside", "on air")
)


@reads("entry", "exit")
def read_in_out(span: Span) -> Iterable[Candidate]:
    """ "engine 9 going in with 3, lowest gauge 4200", "engine 9 is out with 1200"."""
    yield from _way(span, "entry")
    yield from _way(span, "exit")


def _way(span: Span, way: str) -> Iterator[Candidate]:
    texts = word_list("people_firm_in") if way == "entry" else word_list("people_firm_out")
    firm = next((i for i in span.where(way) if span.items[i].text in texts), -1)
    at = firm if firm >= 0 else span.first(way)
    if at < 0:
        return
    if span.has(
        "victim_found",
        "victim_removed",
        "evacuate",
        "fire_out",
        "showing",
        "readiness_start",
        "rehab",
        "par",
        "cpr_started",
        "pulses_back",
        "hydrant_word",
        "on_hydrant",
        "laying_in",
        "tank",
    ):
        return
    if any(span.items[i + 1].text in _CREWS for i in span.kinds("num") if i + 1 < span.hi):
        return  # "two crews going in": whose?
    ratings = list(_ratings(span)) if way == "entry" else []
    if any(span.items[i].unit == "min" and i not in ratings for i in span.kinds("num")):
        return
    if span.has("crew:everyone"):
        return
    units = span.kinds("unit")
    words = {span.items[i].text for i in range(span.lo, span.hi)}
    who = (
        bool(units)
        or bool({w for text in words for w in text.split()} & {"we", "us", "crew", "i"})
        or span.has("crew_word")
    )
    own = span.context.speaker_unit
    of_itself = own is not None and (firm >= 0 if way == "entry" else own in span.context.inside and not units)
    of_itself = of_itself and not span.has("line", "wye", "floor", "ask_pressure") and not span.kinds("line")
    who = who or (firm >= 0 and span.has("lowest_word")) or of_itself
    if not who or (firm < 0 and not units and not of_itself):
        return
    take = Take(span, at)
    unit = take.unit()
    if unit in EVERYONE or span.has("no_air") or (way == "exit" and brought(span, at) >= 0):
        return
    stance = span.stance(at)
    if stance == "said" and at > span.lo and span.items[at - 1].text in word_list("people_told"):
        stance = "ordered"  # "ladder 4 come in with me"
    take.terms(
        way,
        "air_word",
        "people_word",
        "with_crew",
        "crew_word",
        "building",
        "for_noise",
        "place:interior",
        "lowest_word",
        "move_to",
        "through",
        *(["line"] if way == "entry" else []),
    )
    if stance == "asked":
        take.mark(*marks(span))
        yield take.reading(Status(about="crews", unit=unit), cost=0.08)
        return
    if stance in ("denied", "hoped", "ordered"):
        take.mark(*marks(span), *span.kinds("num", "place", "floor"))
        command = Entry if way == "entry" else Exit
        yield take.declining(sentence(stance), command.intent, 0.05)
        return
    rated = None
    if ratings:
        take.mark(*ratings)
        take.terms("scba", "cylinder", "cut_and")
        take.free("on", "and", "with", "packs", "pack", "bottle", "bottles")
        rated = in_unit(span.items[ratings[0]], "min")
    others = together(span, at) if way == "exit" else []
    if others and stance == "said" and not span.kinds("num"):
        take.mark(*others)
        take.terms("and")
        yield take.reading(*(Exit(str(span.items[k].value), time=take.time()) for k in others), cost=0.0)
        return
    psi = lowest_gauge(take) if way == "entry" else gauge(take)
    time = take.time()
    count = members(take)
    if count is None and span.items[span.lo].text.startswith("one"):
        count = 1
    place = take.place()
    task = task_said(take) if way == "entry" else None
    if units and units[0] > at and at != firm:
        return  # "two out is engine 9"
    soft = span.items[at].text in (
        "in",
        "out",
        "inside",
        "outside",
        "interior",
        "is in",
        "are in",
        "in with",
        "on air",
        "in position",
    )
    cost = 0.12 if soft else 0.0
    if way == "exit" and span.items[at].text in ("out",) and not units and not of_itself:
        return
    if way == "entry" and any(span.items[k].text == "still" for k in range(span.lo, span.hi)):
        yield take.declining("Nothing was logged: nothing changed.", Entry.intent, 0.05)
        return
    if way == "entry" and unit in span.context.inside and psi is not None and span.items[at].text in _BEING_IN:
        yield take.reading(AirReading(psi, unit, time), cost=0.0)  # it is inside already: its air is told
        return
    if way == "entry":
        yield take.reading(Entry(unit, count, psi, place, task, time, rated), cost=cost)
    else:
        yield take.reading(Exit(unit, count, psi, time), cost=cost)


@reads("lowest_word")
def read_sent_in(span: Span) -> Iterable[Candidate]:
    """ "engine 9 going to the second floor for primary, 3 people, lowest air 4000": a crew with a gauge that wasn't
    inside goes in.
    """
    if (
        not span.kinds("unit")
        or not span.has("move_to", "task_search", "into", "assign")
        or span.has("entry_firm", "exit_firm", "par", "rehab")
    ):
        return
    take = Take(span, *span.where("lowest_word", "move_to", "assign"))
    unit = take.unit()
    psi = gauge(take)
    if psi is None or unit in span.context.inside or span.stance(span.first("lowest_word")) != "said":
        return
    count = members(take)
    take.terms("people_word", "with_crew", "air_word", "into", "for_noise")
    yield take.reading(Entry(unit, count, psi, take.place(), task_said(take), take.time()), cost=0.1)


@reads("no_air")
def read_no_air(span: Span) -> Iterable[Candidate]:
    """ "engine 9 is out of air": nobody says so who isn't in trouble."""
    take = Take(span, *span.where("no_air"))
    unit, place = take.unit(), take.place()
    take.terms("air_word", "air_firm", "people_word", "crew_word", "exit", "for_noise")
    stance = span.stance(span.first("no_air"))
    if stance in ("denied", "hoped", "asked") and span.items[span.first("no_air")].text.split()[0] not in ("no", "not"):
        return
    mayday = Mayday(location=place, unit=unit, air="out of air", text=span.said)
    choices = (Choice("Mayday", (mayday,)), Choice("low air only", (AirReading(None, unit, low_air_alarm=True),)))
    yield take.asking(Question("Out of air: is it a Mayday?", choices), Mayday.intent, 0.02)


@reads("lowest_word", "air_word", "low_air", "is:unit", "is:num")
def read_air(span: Span) -> Iterable[Candidate]:
    """ "engine 9 lowest 3000", "truck 4 air twenty eight fifty", "low air alarm, engine 9"."""
    alarm = span.first("low_air")
    if not (span.kinds("unit") or alarm >= 0 or span.has("lowest_word")) and not (
        span.context.inside and span.has("air_word")
    ):
        return
    if span.has(
        "entry",
        "exit",
        "ask_flow",
        "longest",
        "on_scene",
        "par",
        "oxygen",
        "relay",
        "supply_to",
        "feed",
        "static",
        "pitot",
        "tender",
        "intake_gauge",
        "air_calc",
        "flowing",
        "laying_in",
    ):
        return
    take = Take(span, *span.where("lowest_word", "low_air"))
    unit = take.unit()
    psi = gauge(take)
    if psi is None and alarm < 0:
        return
    take.terms("air_word", "air_ask", "for_noise", "people_word", "dropped_to", "flow_on")
    time = take.time()
    firm = span.has("lowest_word", "low_air", "air_firm", "air_ask") or (
        unit is not None and unit in span.context.inside
    )
    at = alarm if alarm >= 0 else next(i for i in range(span.lo, span.hi) if take.taken(i))
    stance = span.stance(at)
    if stance in ("denied", "hoped"):
        return
    if stance == "asked":
        if psi is None:
            return
        take.mark(*marks(span))
    if psi is None:
        take.mark(*marks(span))
        extra = 0.4 if time is not None else 0.0  # "alarm at 1500": a gauge rather than a time
        yield take.reading(AirReading(None, unit, time, low_air_alarm=True), cost=extra + (0.05 if unit else 0.1))
        return
    cost = 0.0 if firm else 0.25 if span.context.inside else 0.9
    if unit is None and not span.context.inside and span.context.speaker_unit is None:
        cost += 0.6
    yield take.reading(AirReading(psi, unit, time, low_air_alarm=alarm >= 0), cost=cost)


@reads("air_calc", "scba", "cylinder", "dropped_to", "started", "is:num")
def read_air_time(span: Span) -> Iterable[Candidate]:
    """ "4500 to 3700 in five minutes", "how long does a 45 minute bottle last"."""
    if span.kinds("line") or span.has(
        "oxygen", "tank_time", "hydrant_word", "static", "intake_gauge", "timer", "draft_word"
    ):
        return
    if span.has("snooze") and not span.has("minutes_later"):
        return
    minutes = [i for i in span.kinds("num") if span.items[i].unit in ("min", "s")]
    bar = any(span.items[i].unit == "bar" for i in span.kinds("num"))
    gauges = [i for i in span.kinds("num") if _gauge_like(span, i, bar)]
    take = Take(span)
    elapsed = rated = None
    for i in minutes:
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if after & {"scba", "cylinder"} or "bottle" in span.items[min(i + 1, span.hi - 1)].text:
            rated = in_unit(span.items[i], "min")
        else:
            elapsed = in_unit(span.items[i], "min")
        take.mark(i)
    if len(gauges) == 2 and not minutes and (fell := _fell(span, gauges, bar)) is not None:
        yield fell
        return
    two = len(gauges) == 2 and elapsed is not None
    single = len(gauges) <= 1 and (span.has("air_calc") or rated is not None)
    if (not two and not single) or (span.kinds("unit") and not two):
        return
    if not span.has("air_calc", "scba", "cylinder", "how_long", "dropped_to", "started", "into") and not two:
        return
    rate = take.number("lpm", "l", low=10, high=200)
    take.mark(*gauges)
    values = [gauge_psi(span.items[i], bar=bar) for i in gauges]
    take.terms(
        "air_calc",
        "scba",
        "cylinder",
        "dropped_to",
        "into",
        "started",
        "last_word",
        "how_long",
        "breathing_rate",
        "for_noise",
        "air_word",
        "since",
        "of_hose",
        "down",
        "cond",
        "shut",
        "hope",
        "flow_on",
        "lowest_word",
        "move_to",
        "exit",
        "hard_work",
    )
    take.terms("minutes_later")
    take.unit()  # whose they are changes no minute
    take.free("guy", "and", "man")
    if any(v is not None and v % 5 for v in values) and span.context.units == "us" and not bar:
        take.cost += 0.4
    if two:
        first, last = (v or 0.0 for v in values)
        between = range(gauges[0] + 1, gauges[1])
        its_own = between[1:2] if span.items[gauges[0] + 1].text in ("at", "to") else ()  # "4500 at start, 3500 now"
        if any(span.items[k].text in _BACK for k in between if k not in its_own):
            first, last = last, first
        yield take.reading(
            AirTime(start_psi=first, gauge_psi=last, minutes=elapsed, rated_min=rated, rate_lpm=rate), cost=0.02
        )
        return
    psi = values[0] if values else None
    yield take.reading(AirTime(rated_min=rated, start_psi=psi, minutes=elapsed, rate_lpm=rate), cost=0.02)


_LEAST_PSI = 1000
"""A fall said in psi, or without a unit, is a cylinder's only from here on: pumps work below."""


def _fell(span: Span, gauges: list[int], bar: bool) -> Candidate | None:
    """ "300 bar to 250", unsaid in what time: the crew's gauge now, or asked."""
    first, last = (gauge_psi(span.items[i], bar=bar) or 0.0 for i in gauges)
    between = [span.items[i] for i in range(gauges[0] + 1, gauges[1])]
    said = bar or (min(first, last) >= _LEAST_PSI and (span.context.inside or any(span.items[i].unit for i in gauges)))
    if not said or not last < first or not any(item.concepts & {"into", "dropped_to", "move_to"} for item in between):
        return None
    take = Take(span, *gauges)
    take.terms("into", "dropped_to", "move_to", "air_word", "for_noise", "lowest_word", "started", "shut")
    if span.context.inside:
        return take.reading(AirReading(last), cost=0.05)
    fall = AirTime(start_psi=first, gauge_psi=last)
    say = Sayer(span.context.wording)
    question = Question(f"{say.gauge(first)} to {say.gauge(last)} in how many minutes?", (), fall, "minutes")
    return take.asking(question, AirTime.intent, 0.05)


_BACK = frozenset(
    (
        "started",
        "start",
        "started at",
        "started with",
        "started from",
        "from",
        "down from",
        "was",
        "were",
        "since",
        "went in with",
        "went in at",
        "entered with",
        "began",
    )
)
"""Between two gauges: the second is the earlier one."""


def _gauge_like(span: Span, i: int, bar: bool) -> bool:
    item = span.items[i]
    psi = gauge_psi(item, bar=bar)
    return psi is not None and 400 <= psi <= 6000 and item.form != "ordinal"
