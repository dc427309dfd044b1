"""Reads the tank: how long it lasts, what its gauge shows, filling it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from grammar.commands import (
    Choice,
    Question,
    Status,
    TankTime,
    WaterSource,
)
from grammar.items import Item
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import lays_without, whichever
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_AROUND = (
    "for_noise",
    "flowing",
    "how_long",
    "last_word",
    "tank",
    "of_hose",
    "fraction_word",
    "on_tank",
    "hope",
    "through",
    "line",
    "unit:min",
    "water_left",
    "tank_time",
    "board",
    "cond",
    "charge",
    "open",
    "flow_on",
    "on_board",
    "carries",
    "nozzle",
    "tender",
    "feed",
)


def _tank_asked(span: Span) -> bool:
    """ "How long …", "half a tank and crosslay 1 open, what have I got"."""
    if span.has("tank_time", "water_left"):
        return True
    named = span.has("tank", "on_tank", "last_word", "water_word") or span.kinds("num", "line", "family")
    told = span.has("tank") or any(_in_the_tank(span.items[i]) for i in range(span.lo, span.hi))
    return bool((span.has("how_long") and named) or (span.has("what_then") and told))


@reads("tank_time", "how_long", "water_left", "last_word", "tank", "what_then")
def read_tank_time(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last", "how long at 300 gpm", "500 gallons at 150 gpm how long"."""
    asked = _tank_asked(span)
    tank_at = (
        span.has("tank")
        and not asked
        and any(
            span.items[i].unit == "gpm" or (span.items[i].unit is None and span.items[i].number >= 50)
            for i in span.kinds("num")
        )
    )
    if not asked and not tank_at:
        return
    if span.has("scba", "cylinder", "air_calc", "oxygen") and not span.has("tank_time", "water_left", "on_tank"):
        return
    if span.has("since", "longest", "draft_word", "elapsed"):
        return
    take = Take(span, *span.where("tank_time", "how_long", "water_left", "last_word", "what_then"))
    flow = take.number("gpm", "lpm")
    nozzle = _of_a_nozzle(span, take) if flow is None else None
    flow = _counted(span, take, nozzle if flow is None else flow)
    gallons = take.number("gal", "l")
    if gallons is None and (at := span.first("on_board")) >= 0:
        gallons = take.number_near(at, None, low=50, high=12000, reach=0)
    fraction = _fraction(span, take) if gallons is None else None
    told = flow is not None and (gallons is not None or fraction is not None or nozzle is not None)
    if span.kinds("line", "family") or span.has("crosslay") or (span.has("line") and span.kinds("num") and not told):
        yield from _with_lays(span)
        return
    bare: float | None = None
    if flow is None:
        at = span.first("flowing")
        if at >= 0:
            flow = take.number_near(at, "gpm", None, low=10, high=5000)
        else:
            bare = take.number("gpm", None, low=20, high=5000)
    take.terms(*_AROUND, "gauge_word", "dropped_to")
    if bare is not None and flow is None:
        if span.has("tank_time") or (span.has("tank") and asked) or gallons is not None or fraction is not None:
            yield _used(take, TankTime(bare, gallons, tank_fraction=fraction), 0.1)
        elif tank_at:
            yield take.asking(_which_tank(bare, Sayer(span.context.wording)), TankTime.intent, 0.1)
        else:
            yield take.asking(_tank_question(bare, Sayer(span.context.wording)), TankTime.intent, 0.15)
        return
    if flow is None and gallons is not None and any(span.items[i].text in ("at", "@") for i in range(span.lo, span.hi)):
        take.cost += 0.45  # "at 600 liters": a flow, or what is in the tank?
    if flow is None and gallons is None and not asked:
        return
    if flow is None and gallons is not None and not span.has("how_long", "tank_time"):
        return
    yield _used(take, TankTime(flow, gallons, tank_fraction=fraction), 0.0 if asked else 0.15)


def _counted(span: Span, take: Take, flow: float | None) -> float | None:
    """ "Two 50 gpm lines": what both flow."""
    at = next((i for i in span.kinds("num") if take.taken(i) and span.items[i].unit in ("gpm", "lpm", "gal", "l")), -1)
    count = span.items[at - 1] if at > span.lo else None
    behind = span.items[at + 1].concepts if at + 1 < span.hi else frozenset()
    many = count is not None and count.kind == "num" and count.unit is None and 1 <= count.number <= _MOST_LINES
    if flow is None or count is None or not many or not behind & {"line", "nozzle", "unit:gpm"}:
        return flow
    take.mark(at - 1)
    return flow * count.number


_MOST_LINES = 8


def _of_a_nozzle(span: Span, take: Take) -> float | None:
    """ "A 95 gallon line", "one 15 gallon nozzle": what it flows a minute."""
    for i in span.kinds("num"):
        after = span.items[i + 1] if i + 1 < span.hi else None
        if (
            span.items[i].unit in ("gal", "l")
            and after is not None
            and after.concepts & {"line", "nozzle", "tip", "fog"}
        ):
            one = [i - 1] if i > span.lo and span.items[i - 1].kind == "num" and span.items[i - 1].number == 1 else []
            take.mark(i, i + 1, *one)
            return in_unit(span.items[i], "gpm", "gal", "l")
    return None


def _used(take: Take, asked: TankTime, cost: float) -> Candidate:
    """The question; in an incident, what was told of the tank before it is a report of its gauge, too."""
    span = take.span
    told = [i for i in range(span.lo, span.hi) if take.taken(i) and _in_the_tank(span.items[i])]
    question = span.first("how_long", "tank_time", "water_left", "what_then")
    if not span.context.incident_open or not told or told[0] > question or span.stance(*told) != "said":
        return take.reading(asked, cost=cost)
    gauge = WaterSource(tank_fraction=asked.tank_fraction, tank_gal=asked.tank_gal)
    return take.reading(gauge, replace(asked, tank_fraction=None, tank_gal=None), cost=cost)


def _in_the_tank(item: Item) -> bool:
    return item.unit in _IN_THE_TANK or any(concept in item.concepts for concept, _ in _FRACTIONS)


def _fraction(span: Span, take: Take) -> float | None:
    """ "… with half a tank": what is in it, for this question."""
    spent = _spent(take)
    share = _share(span, take)
    return 1 - share if spent and share else share


def _share(span: Span, take: Take) -> float | None:
    """A share of a tank as it was said: "half a tank", "75 percent", "three quarters … tank"."""
    for i in span.kinds("num"):
        item = span.items[i]
        part = item.form == "fraction" and item.unit is None and 0 < item.number < 1
        if (part or item.unit == "percent") and span.has("tank", "fraction_word", "tank_empty"):
            take.mark(i)
            take.terms("tank_empty")  # "75 percent of the tank is gone"
            return item.number if part else item.number / 100
    return next((value for concept, value in _FRACTIONS if take.term(concept) >= 0), None)


def _spent(take: Take) -> bool:
    """Whether what is told of is no longer in the tank: "three quarters of the tank's gone", "used half the tank"."""
    items, gone = take.span.items, word_list("tank_spent")
    spent = [i for i in range(take.span.lo, take.span.hi) if items[i].text in gone or _gone_at_end(items[i])]
    take.mark(*(i for i in spent if items[i].text in gone))
    return bool(spent)


def _gone_at_end(item: Item) -> bool:
    """ "… of the tank is gone", "… of the tank is used up": the tank and its end in one term."""
    return item.text.endswith(tuple(f" {word}" for word in word_list("tank_spent")))


def _how_much_left(take: Take, gallons: float) -> Candidate:
    """Water that was used says what is left only with what was there before: asked."""
    spent = Sayer(take.span.context.wording).gal(gallons)
    question = Question(f"{spent} used: how much is left in the tank?", (), WaterSource(), "tank_gal")
    return take.asking(question, WaterSource.intent, 0.05)


def _tank_question(flow: float, say: Sayer) -> Question:
    return Question(f"How long the tank lasts at {say.gpm(flow)}?", (Choice("yes", (TankTime(flow),)), Choice("no")))


def _which_tank(value: float, say: Sayer) -> Question:
    return Question(
        f"Is {say.gpm(value)} flowing, or are {say.gal(value)} in the tank?",
        (
            Choice(f"{say.gpm(value)} flowing", (TankTime(value),)),
            Choice(f"{say.gal(value)} left", (WaterSource(tank_gal=value),)),
        ),
    )


def _with_lays(span: Span) -> Iterator[Candidate]:
    tank = Take(span)
    fraction = _fraction(span, tank)
    gallons = tank.number("gal", "l") if fraction is None else None
    without = lays_without(span, *(i for i in range(span.lo, span.hi) if tank.taken(i)))  # the tank's are no lay's
    for lay in map(whichever, without):
        take = Take(span, *span.where("tank_time", "how_long", "water_left", "last_word", "tank", "what_then"))
        take.used |= lay.used | tank.used
        take.terms(*_AROUND, "gauge_word", "dropped_to", "open", "flow_on", "charge", "charged_state", "at")
        named = all(
            line.name or line.nozzle.flow_gpm or (line.hose and line.hose[0].hose_in)
            for one in lay.lays
            for line in one.lines
        )
        if lay.unknown_name or lay.family or lay.wrong or not named:
            continue
        if lay.total_or_each:
            continue
        named_at = [i for i in span.kinds("line", "family", "num") if span.items[i].unit not in _IN_THE_TANK]
        told = gallons is not None or fraction is not None  # then lines and tank are one question's
        later = not told and span.first("tank_time", "how_long") > min([*named_at, span.hi])
        yield _used(take, TankTime(None, gallons, lay.lays, fraction), lay.cost + (0.35 if later else 0.03))


@reads("tank", "water_word", "ask_flow")
def read_bare_tank(span: Span) -> Iterable[Candidate]:
    """ "Tank?", "water?", "how much water": how it stands."""
    content = [span.items[i].text for i in span.content()]
    if (content in (["tank"], ["water"]) and _BARE_TANK.search(span.said)) or content == ["how much water"]:
        yield Take(span, *span.content()).reading(TankTime(), cost=0.1)


_BARE_TANK = re.compile(r"(?:^|[,.;] *)(?:the |and )*(?:tank|water) *\?|^tank[.!]?$", re.IGNORECASE)


@reads("is:num")
def read_gallons_at(span: Span) -> Iterable[Candidate]:
    """ "a thousand gallons at two hundred gallons a minute"."""
    nums = span.kinds("num")
    if len(nums) != 2 or span.kinds("unit", "line") or span.has("shuttle", "tender", "how_long", "tank_time"):
        return
    one, two = (span.items[i] for i in nums)
    at = nums[1] - 1
    if one.unit in ("gal", "l") and two.unit is None and at > span.lo and span.items[at].text in ("at", "@"):
        take = Take(span, *nums)  # "500 gallons at 150"
        take.terms(*_AROUND, "at")
        yield take.reading(TankTime(in_unit(two, "gpm", None), in_unit(one, "gal")), cost=0.15)
        return
    if {one.unit, two.unit} in ({"gal", "gpm"}, {"l", "lpm"}):
        take = Take(span, *nums)
        take.terms(*_AROUND)
        flow, tank = (one, two) if one.unit in ("gpm", "lpm") else (two, one)
        yield take.reading(TankTime(in_unit(flow, "gpm"), in_unit(tank, "gal")), cost=0.05)


_IN_THE_TANK = frozenset(("gal", "l", "percent"))
_ASKED = frozenset(("how_long", "tank_time"))
_FRACTIONS = (("half_tank", 0.5), ("quarter_tank", 0.25), ("three_quarter_tank", 0.75), ("tank_empty", 0.0))


@reads(
    "half_tank",
    "quarter_tank",
    "three_quarter_tank",
    "tank_empty",
    "tank",
    "last_word",
    "fraction_word",
    "gauge_word",
    "dropped_to",
)
def read_gauge(span: Span) -> Iterable[Candidate]:
    """ "half a tank", "tank reads 250 gallons", "300 gallons left"."""
    take = Take(span)
    fraction = _share(span, take)
    gallons = take.number("gal", "l") if fraction is None else None
    if fraction is None and gallons is None:
        return
    if fraction is not None and span.has("how_long", "tank_time"):
        return
    if not span.context.incident_open and any(item.concepts & _ASKED for item in span.items):
        return  # "half a tank, how long at 150 gpm": nothing is logged, it is used in the question
    if gallons is not None and span.has("how_long", "tank_time", "flowing", "shuttle", "tender"):
        return
    at = next(i for i in range(span.lo, span.hi) if take.taken(i))
    spent = _spent(take)
    if spent and fraction:
        fraction = 1 - fraction
    take.terms(
        "tank",
        "last_word",
        "fraction_word",
        "gauge_word",
        "for_noise",
        "air_word",
        "water_word",
        "dropped_to",
        "on_tank",
        "intake_gauge",
    )
    stance = span.stance(at)
    if stance == "said":
        if (gallons is not None and gallons < 0) or (fraction is not None and not 0 <= fraction <= 1):
            yield take.declining(
                "A tank can't hold less than nothing; say what the gauge shows.", WaterSource.intent, 0.05
            )
            return
        if spent and gallons is not None:
            yield _how_much_left(take, gallons)
            return
        yield take.reading(
            WaterSource(tank_fraction=fraction, tank_gal=gallons), cost=_of_what(span, at, fraction is not None)
        )
    elif stance == "asked":
        take.mark(*_marks(span))
        yield take.reading(Status(about="water"), cost=0.05)
    else:
        take.mark(*_marks(span))
        yield take.declining(
            sentence("source_not_so" if stance == "denied" else "source_to_come"), WaterSource.intent, 0.03
        )


def _marks(span: Span) -> list[int]:
    return [i for i in range(span.lo, span.hi) if span.items[i].polarity_mark]


def _of_what(span: Span, at: int, share: bool) -> float:
    """What it costs that no tank was named: "40 percent left" may be of anything, "250 gallons" aboard or gone."""
    if span.items[at].unit == "percent" and not any("tank" in i.text for i in span.items[span.lo : span.hi]):
        return 0.3
    return 0.0 if share or span.has("tank", "last_word", "gauge_word") else 0.2
