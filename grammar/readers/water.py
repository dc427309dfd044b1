"""Reads the tank and the source: tank time, on the hydrant, gauge readings, lost water, hydrant tests."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

import msgspec

from grammar.commands import (
    Choice,
    Hydrant,
    HydrantFlow,
    Intake,
    Question,
    Status,
    SupplyExpected,
    TankTime,
    WaterSource,
)
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import read_lays

replace = msgspec.structs.replace

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
)


# ----------------------------------------------------------------------------------------------------------------- tank time


@reads("tank_time", "how_long", "water_left", "last_word", "tank")
def read_tank_time(span: Span) -> Iterable[Candidate]:
    """ "how long will the tank last", "how long at 300 gpm", "500 gallons at 150 gpm how long"."""
    asked = span.has("tank_time", "water_left") or (
        span.has("how_long")
        and (span.has("tank", "on_tank", "last_word", "water_word") or span.kinds("num", "line", "family"))
    )
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
    take = Take(span, *span.where("tank_time", "how_long", "water_left", "last_word"))
    flow = take.number("gpm", "lpm")
    gallons = take.number("gal", "l")
    if span.kinds("line", "family") or span.has("crosslay") or (span.has("line") and span.kinds("num")):
        yield from _with_lays(span)
        return
    bare: float | None = None
    if flow is None:
        at = span.first("flowing")
        if at >= 0:
            flow = take.number_near(at, None, low=10, high=5000)
        else:
            bare = take.number(None, low=20, high=5000, whole=True)
    take.terms(*_AROUND)
    if bare is not None and flow is None:
        if span.has("tank_time") or (span.has("tank") and asked) or gallons is not None:
            yield take.reading(TankTime(bare, gallons), cost=0.1)
        elif tank_at:
            yield take.asking(_which_tank(bare), TankTime.intent, 0.1)
        else:
            yield take.asking(_tank_question(bare), TankTime.intent, 0.15)
        return
    if flow is None and gallons is not None and any(span.items[i].text in ("at", "@") for i in range(span.lo, span.hi)):
        take.cost += 0.45  # "at 600 liters": a flow, or what is in the tank?
    if flow is None and gallons is None and not asked:
        return
    if flow is None and gallons is not None and not span.has("how_long", "tank_time"):
        return
    yield take.reading(TankTime(flow, gallons), cost=0.0 if asked else 0.15)


def _tank_question(flow: float) -> Question:
    return Question(f"How long the tank lasts at {flow:g} gpm?", (Choice("yes", (TankTime(flow),)), Choice("no")))


def _which_tank(value: float) -> Question:
    return Question(
        f"Is {value:g} the gpm, or the gallons in the tank?",
        (
            Choice(f"{value:g} gpm", (TankTime(value),)),
            Choice(f"{value:g} gallons left", (WaterSource(tank_gal=value),)),
        ),
    )


def _with_lays(span: Span) -> Iterator[Candidate]:
    for lay in read_lays(span):
        take = Take(span, *span.where("tank_time", "how_long", "water_left", "last_word", "tank"))
        take.used |= lay.used
        take.terms(*_AROUND)
        named = all(
            line.name or line.nozzle.flow_gpm or (line.hose and line.hose[0].hose_in)
            for one in lay.lays
            for line in one.lines
        )
        if lay.unknown_name or lay.family or lay.wrong or not named:
            continue
        if lay.total_or_each:
            continue
        later = span.first("tank_time", "how_long") > min([*span.kinds("line", "family", "num"), span.hi])
        yield take.reading(TankTime(lays=lay.lays), cost=lay.cost + (0.35 if later else 0.03))


@reads("is:num")
def read_gallons_at(span: Span) -> Iterable[Candidate]:
    """ "a thousand gallons at two hundred gallons a minute"."""
    nums = span.kinds("num")
    if len(nums) != 2 or span.kinds("unit", "line") or span.has("shuttle", "tender"):
        return
    one, two = (span.items[i] for i in nums)
    if {one.unit, two.unit} in ({"gal", "gpm"}, {"l", "lpm"}):
        take = Take(span, *nums)
        take.terms(*_AROUND)
        flow, tank = (one, two) if one.unit in ("gpm", "lpm") else (two, one)
        yield take.reading(TankTime(in_unit(flow, "gpm"), in_unit(tank, "gal")), cost=0.05)


# -------------------------------------------------------------------------------------------------------------------- source

Source = Literal["tank", "hydrant", "draft", "relay", "nurse"]
_SOURCES: tuple[tuple[str, Source], ...] = (
    ("on_hydrant", "hydrant"),
    ("on_draft", "draft"),
    ("on_nurse", "nurse"),
    ("on_relay", "relay"),
    ("on_tank", "tank"),
)


@reads("on_hydrant", "on_draft", "on_nurse", "on_relay", "on_tank")
def read_source(span: Span) -> Iterable[Candidate]:
    """ "on the hydrant" — the only report that stops the tank clock (convention 3)."""
    for concept, source in _SOURCES:
        i = span.first(concept)
        if i < 0 or (source == "tank" and span.has("how_long", "tank_time", "off_hydrant", "on_hydrant")):
            continue
        take = Take(span, i)
        if any(span.items[k].text.split()[-1] in ("were", "was") for k in (i - 1, i - 2) if k >= 0) or span.items[
            i
        ].text.split()[0] in ("were", "was"):
            take.cost += 0.6  # were, and are no longer?
        take.terms(concept, "hydrant_word", "tank", "for_noise", "supply_word", "water_word", "relay", "feed", "tender")
        if source in ("relay", "nurse"):
            take.unit()
            if (
                source == "relay"
                and span.items[i].text in ("water from", "supplied by", "fed by", "feeding us")
                and not span.kinds("unit")
            ):
                continue
        stance = span.stance(i)
        if stance == "asked":
            take.mark(*_marks(span))
            yield take.reading(Status(about="water"), cost=0.05)
        elif stance == "said":
            yield take.reading(
                WaterSource(source), cost=0.02 if source == "draft" and span.items[i].text == "drafting" else 0.0
            )
        else:
            yield _not_yet(take, stance)


def _marks(span: Span) -> list[int]:
    return [
        k
        for k in range(span.lo, span.hi)
        if span.items[k].polarity_mark or (span.items[k].kind == "num" and span.items[k].unit in ("min", "s"))
    ]


def _not_yet(take: Take, stance: str) -> Candidate:
    take.mark(*_marks(take.span))
    what = "that says it isn't so." if stance == "denied" else "that is still to come. Say it when it is."
    return take.declining(f"The water source stays as it is: {what}", WaterSource.intent, 0.03)


@reads("off_hydrant", "lost_supply")
def read_lost(span: Span) -> Iterable[Candidate]:
    """ "lost water", "hydrant's dead", "coming off the hydrant"."""
    i = span.first("lost_supply", "off_hydrant")
    lost = "lost_supply" in span.items[i].concepts
    take = Take(span, i)
    take.terms(
        "lost_supply",
        "off_hydrant",
        "hydrant_word",
        "on_tank",
        "tank",
        "move_to",
        "burst",
        "feed",
        "water_word",
        "flow_on",
    )
    text = span.items[i].text
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*_marks(span))
        yield take.reading(Status(about="water"), cost=0.05)
        return
    if (
        lost
        and span.items[i].text in ("no water", "losing water", "losing the hydrant")
        and len(span.content()) > 1
        and span.has("water_on_fire")
    ):
        return
    if stance in ("denied", "hoped"):
        yield _not_yet(take, stance)
        return
    meant = not lost and text.split()[0] in (
        "coming",
        "disconnecting",
        "shutting",
        "leaving",
        "closing",
        "going",
        "breaking",
    )
    cost = 0.0 if text not in ("no water", "supply is lost", "losing water") else 0.1
    if span.context.source == "tank" and not lost:
        cost += 0.1
    yield take.reading(WaterSource("tank", lost=not meant, meant=meant), cost=cost)


_FRACTIONS = (("half_tank", 0.5), ("quarter_tank", 0.25), ("three_quarter_tank", 0.75), ("tank_empty", 0.0))


@reads(
    "half_tank", "quarter_tank", "three_quarter_tank", "tank_empty", "tank", "last_word", "fraction_word", "gauge_word"
)
def read_gauge(span: Span) -> Iterable[Candidate]:
    """ "half a tank", "tank reads 250 gallons", "300 gallons left"."""
    take = Take(span)
    fraction = next((value for concept, value in _FRACTIONS if take.term(concept) >= 0), None)
    gallons = None
    if fraction is None:
        for i in span.kinds("num"):
            item = span.items[i]
            if (
                item.form == "fraction"
                and item.unit is None
                and 0 < item.number < 1
                and span.has("tank", "fraction_word")
            ):
                take.mark(i)
                fraction = item.number
                break
            if item.unit == "percent" and span.has("tank"):
                take.mark(i)
                fraction = item.number / 100
                break
        else:
            gallons = take.number("gal", "l")
    if fraction is None and gallons is None:
        return
    if gallons is not None and span.has("how_long", "tank_time", "flowing", "shuttle", "tender"):
        return
    at = next(i for i in range(span.lo, span.hi) if take.taken(i))
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
        yield take.reading(
            WaterSource(tank_fraction=fraction, tank_gal=gallons),
            cost=0.0 if span.has("tank", "last_word", "gauge_word") or fraction is not None else 0.2,
        )
    elif stance == "asked":
        take.mark(*_marks(span))
        yield take.reading(Status(about="water"), cost=0.05)
    else:
        yield _not_yet(take, stance)


@reads("refilled", "topping_off")
def read_refill(span: Span) -> Iterable[Candidate]:
    """ "tank's full", "topping off the tank"."""
    i = span.first("refilled", "topping_off")
    take = Take(span, i)
    take.terms("refilled", "topping_off", "tank", "for_noise")
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*_marks(span))
        yield take.reading(Status(about="water"), cost=0.05)
    elif stance != "said":
        yield _not_yet(take, stance)
    elif "topping_off" in span.items[i].concepts:
        yield take.reading(WaterSource(topping_off=True))
    else:
        yield take.reading(WaterSource(refilled=True))


_TROUBLES: tuple[Literal["lost_prime", "cavitating", "overheating"], ...] = ("lost_prime", "cavitating", "overheating")


@reads(*_TROUBLES)
def read_trouble(span: Span) -> Iterable[Candidate]:
    """ "lost my prime", "pump's cavitating"."""
    if span.has("prime_help"):
        return
    for trouble in _TROUBLES:
        i = span.first(trouble)
        if i < 0:
            continue
        take = Take(span, *span.where(trouble))
        take.terms("pump_word", "off_hydrant", "lost_supply", "cavitating")
        stance = span.stance(i)
        if stance == "said":
            yield take.reading(WaterSource(trouble=trouble))
        elif stance in ("denied", "hoped"):
            yield _not_yet(take, stance)


@reads("intake_gauge")
def read_intake(span: Span) -> Iterable[Candidate]:
    """ "intake's at 30", "I've got 60 on the intake"."""
    at = span.first("intake_gauge")
    take = Take(span, at)
    take.terms(
        "intake_gauge",
        "intake_at",
        "dropped_to",
        "for_noise",
        "residual",
        "air_word",
        "move_to",
        "shut",
        "gauge_word",
        "supply_word",
        "ask_pressure",
    )
    vacuum = take.number("inhg")
    if vacuum is None and span.has("vacuum"):
        vacuum = take.number("in", None, low=0, high=30)
    take.terms("vacuum")
    if vacuum is not None:
        yield take.reading(Intake(0.0, vacuum_inhg=vacuum), cost=0.05)
        return
    psi = take.number_near(at, "psi", "bar", "kpa", None, low=-30, high=300, reach=4)
    before = [i for i in span.kinds("num") if i < at and take.taken(i) and span.items[i].unit is None]
    if before and not span.items[at].text.startswith(("on", "at")):
        take.cost += 0.5  # "three inlet"
    stance = span.stance(at)
    if stance == "asked" and psi is None:
        yield take.reading(Status(about="water"), cost=0.1)
    elif psi is None:
        if not span.kinds("num", "line"):
            yield take.asking(
                Question("What does the intake gauge read?", (), Intake(0.0), "intake_psi"), Intake.intent, 0.15
            )
    elif stance in ("denied", "hoped"):
        yield _not_yet(take, stance)
    else:
        yield take.reading(Intake(psi))


# ------------------------------------------------------------------------------------------------------------------- hydrant


@reads("static", "residual", "drop_percent", "hydrant_word")
def read_hydrant(span: Span) -> Iterable[Candidate]:
    """ "static 70, residual 62", "hydrant dropped from 70 to 62, flowing 500"."""
    if span.has("pitot"):
        return
    labels = {"static": span.first("static"), "residual": span.first("residual")}
    take = Take(span, *(i for i in labels.values() if i >= 0))
    second = bool(take.terms("second_hydrant"))
    flow = take.number("gpm", "lpm")
    if flow is None and span.first("flowing") >= 0:
        flow = take.number_near(span.first("flowing"), None, low=100, high=5000)
    static, residual = _gauges(span, take, labels)
    dropped = span.first("dropped_to")
    if static is None and residual is None and dropped >= 0 and span.has("hydrant_word"):
        two = [i for i in span.kinds("num") if not take.taken(i) and in_unit(span.items[i], "psi", None) is not None]
        if len(two) == 2:
            static, residual = (in_unit(span.items[i], "psi", None) for i in two)
            take.mark(*two)
    take.terms(
        "hydrant_word",
        "drop_percent",
        "dropped_to",
        "flowing",
        "for_noise",
        "from_hydrant",
        "lost_psi",
        "another",
        "can_add",
        "hope",
        "line",
        "water_left",
        "ask_flow",
        "shut",
        "off_hydrant",
    )
    if static is not None or residual is not None:
        last = max(
            i
            for i in range(span.lo, span.hi)
            if take.taken(i) and (span.items[i].kind == "num" or span.items[i].concepts & {"static", "residual"})
        )
        take.used &= ~sum(1 << i for i in span.where("hydrant_word") if i > last)
        hydrant = Hydrant(static, residual, flow, second)
        if static is None or residual is None:
            lacking = "static" if static is None else "residual"
            if span.has("intake_gauge") or (
                residual is not None and not span.has("static", "hydrant_word") and span.context.source == "hydrant"
            ):
                take.cost += 0.1
            yield take.asking(Question(f"And the {lacking}?", (), hydrant, f"{lacking}_psi"), Hydrant.intent, 0.1)
        else:
            yield take.reading(hydrant)
    elif span.has("drop_percent") and span.has("hydrant_word", "from_hydrant", "off_hydrant"):
        yield take.reading(Hydrant(flow_gpm=flow), cost=0.1)
    elif span.has("hydrant_word") and len(span.kinds("num")) == 2 and not span.kinds("street", "unit"):
        one, two_ = (in_unit(span.items[i], "psi", None) for i in span.kinds("num"))
        if one is not None and two_ is not None and 20 <= two_ <= one <= 200:
            take.mark(*span.kinds("num"))
            command = Hydrant(one, two_)
            yield take.asking(
                Question(f"Static {one:g}, residual {two_:g}?", (Choice("yes", (command,)), Choice("no"))),
                Hydrant.intent,
                0.1,
            )


def _gauges(span: Span, take: Take, labels: dict[str, int]) -> tuple[float | None, float | None]:
    """Static and residual: each the number beside its label, before or after as the sentence goes."""
    nums = [
        i
        for i in span.kinds("num")
        if not take.taken(i)
        and in_unit(span.items[i], "psi", "bar", "kpa", None) is not None
        and span.items[i].form != "ordinal"
    ]
    placed = {name: i for name, i in labels.items() if i >= 0}
    if not placed or not nums:
        return None, None
    leading = nums[0] < min(placed.values())
    values: dict[str, float | None] = {"static": None, "residual": None}
    for name, i in placed.items():
        before = [k for k in nums if k < i and not take.taken(k)]
        after = [k for k in nums if k > i and not take.taken(k)]
        pick = before[-1] if leading and before else after[0] if after else before[-1] if before else None
        if pick is not None and abs(pick - i) <= 4:
            take.mark(pick)
            values[name] = in_unit(span.items[pick], "psi", "bar", "kpa", None)
    return values["static"], values["residual"]


@reads("pitot")
def read_pitot(span: Span) -> Iterable[Candidate]:
    """ "pitot 40 on the two and a half, coefficient .9"."""
    at = span.first("pitot")
    take = Take(span, at)
    labels = {"static": span.first("static"), "residual": span.first("residual")}
    take.mark(*(i for i in labels.values() if i >= 0))
    coefficient = None
    c = span.first("coeff_word", "coefficient")
    if c >= 0:
        take.mark(c)
        coefficient = take.number_near(c, None, low=0.3, high=1)
    outlet = None
    for i in span.kinds("num"):
        item = span.items[i]
        near_outlet = any("outlet" in span.items[k].concepts for k in range(max(i - 2, span.lo), min(i + 2, span.hi)))
        if (
            not take.taken(i)
            and item.number <= 6
            and item.form != "ordinal"
            and (item.unit == "in" or (item.unit is None and (item.form in ("mixed", "decimal") or near_outlet)))
        ):
            take.mark(i)
            outlet = item.number
            break
    pitot = take.number_near(at, "psi", "bar", "kpa", None, low=0, high=200)
    static, residual = _gauges(span, take, labels)
    take.terms("pitot", "outlet", "for_noise", "hydrant_word", "flow_test_word", "lost_psi", "air_word")
    if pitot is None:
        yield take.asking(
            Question("What does the pitot gauge read?", (), HydrantFlow(0.0, outlet), "pitot_psi"),
            HydrantFlow.intent,
            0.15,
        )
    else:
        yield take.reading(HydrantFlow(pitot, outlet, coefficient, static, residual))


# ------------------------------------------------------------------------------------------------------------ supply to come

_KINDS: tuple[tuple[str, Literal["hydrant", "tender", "relay", "draft"]], ...] = (
    ("hydrant_word", "hydrant"),
    ("from_hydrant", "hydrant"),
    ("laying_hydrant", "hydrant"),
    ("tender", "tender"),
    ("relay", "relay"),
    ("draft_word", "draft"),
)


@reads(
    "laying_in",
    "supply_coming",
    "minutes_out",
    "hydrant_word",
    "water_supply",
    "tender",
    "supply_word",
    "bringing",
    "laying_hydrant",
    "is:unit",
)
def read_supply_expected(span: Span) -> Iterable[Candidate]:
    """ "engine 9 laying in, four minutes out", "hydrant in two minutes"."""
    minutes = next((i for i in span.kinds("num") if span.items[i].unit in ("min", "s", "hr")), -1)
    tender_unit = next((i for i in span.kinds("unit") if str(span.items[i].value).startswith(("tender", "tanker"))), -1)
    hose_too = any(span.items[i].unit in ("ft", "m") for i in span.kinds("num"))
    laying = span.has("laying_in", "laying_hydrant", "bringing")
    laying = laying or (
        hose_too
        and bool(span.kinds("unit"))
        and any(span.items[i].text in ("laying", "lay", "laying out") for i in range(span.lo, span.hi))
    )
    coming = span.has("supply_coming")
    ahead = minutes >= 0 and _ahead(span, minutes)
    about_supply = span.has("hydrant_word", "water_supply", "supply_word", "tender") or tender_unit >= 0
    if not (laying or coming or (ahead and about_supply)):
        return
    if span.has("timer", "how_long", "needed_flow", "shuttle", "water_on_fire", "ask_flow", "longest"):
        return
    at = span.first(
        "laying_in",
        "laying_hydrant",
        "bringing",
        "supply_coming",
        "hydrant_word",
        "water_supply",
        "supply_word",
        "tender",
    )
    if at >= 0 and span.stance(at) in ("asked", "denied"):
        return
    take = Take(
        span,
        *span.where(
            "laying_in",
            "laying_hydrant",
            "bringing",
            "supply_coming",
            "minutes_out",
            "hydrant_word",
            "water_supply",
            "supply_word",
            "hope",
            "for_noise",
            "of_hose",
            "from_hydrant",
            "order",
            "started",
            "water_word",
        ),
    )
    unit = take.unit()
    kind = next((k for concept, k in _KINDS if span.has(concept)), None)
    if kind is None and any(
        "hydrant" in span.items[i].text or "plug" in span.items[i].text
        for i in span.where("laying_in", "supply_coming", "laying_hydrant")
    ):
        kind = "hydrant"
    if kind is None and tender_unit >= 0:
        kind = "tender"
    take.terms("tender", "relay")
    gallons = take.number("gal", "l")
    wait = None
    if minutes >= 0:
        wait = in_unit(span.items[minutes], "min")
        take.mark(minutes)
    hose = ()
    if any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")):
        from grammar.readers.supply import supply_hose

        hose = supply_hose(span, take)
    take.terms("feed", "line", "on_hydrant", "supply_to", "with_crew", "into", "dropped_to", "distance", "exit")
    cost = 0.0 if (laying or coming) else 0.05
    if not unit and wait is None and not hose and kind is None:
        cost += 0.35
    yield take.reading(SupplyExpected(unit, wait, kind, hose, gallons), cost=cost)


def _ahead(span: Span, i: int) -> bool:
    before = span.items[i - 1].text if i > span.lo else ""
    after = span.items[i + 1].text if i + 1 < span.hi else ""
    return (
        before in ("in", "within", "about", "eta", "in about", "is", "are")
        or after in ("out", "away", "eta", "till", "from now")
        or "minutes_out" in (span.items[i + 1].concepts if i + 1 < span.hi else ())
    )
