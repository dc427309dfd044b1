"""Reads needed fire flow and tender shuttles."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from msgspec.structs import replace

from grammar.commands import Choice, NeededFlow, Question, Shuttle
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.saying import Sayer
from grammar.vocabulary import word_list


@reads(
    "needed_flow",
    "involved",
    "fully_involved",
    "half_involved",
    "rural_supply",
    "volume_method",
    "area_method",
    "iso_method",
    "building",
)
def read_needed_flow(span: Span) -> Iterable[Candidate]:
    """ "needed fire flow 40 by 30, two floors, 25 percent involved"."""
    area = next((i for i in span.kinds("num") if span.items[i].unit in ("sqft", "m2")), -1)
    if not span.has("needed_flow", "rural_supply", "volume_method", "area_method", "iso_method") and not (
        (area >= 0 or span.has("building", "stories")) and span.has("involved", "fully_involved", "half_involved")
    ):
        return
    take = Take(span, area)
    percent = _involved(span, take)
    burning = _floors_involved(span, take)
    floors = _counted(span, take, "stories", "floor", "floors_up")
    if floors is None:
        floors = _story_item(span, take)
    exposures = _counted(span, take, "exposure")
    iso_class = any("iso" in span.items[i].text.split() for i in span.where("construction_class"))
    construction = _labelled(span, take, "construction_class")
    kind = None if construction else _named_construction(take)
    if kind is None and construction is None and (bare := _labelled(span, take, "construction_word")) is not None:
        construction = -bare  # which of the two scales is asked below
    hazard = _labelled(span, take, "hazard_class")
    sides = _sides(span, take)
    occupancy = next((o for o in _OCCUPANCIES if take.term(f"occupancy_{o}") >= 0), None)
    method: Literal["area_third", "volume_hundredth", "iso"] | None = None
    rural = bool(take.terms("rural_supply"))
    if take.terms("volume_method"):
        method = "volume_hundredth"
        for i in span.kinds("num"):
            if span.items[i].number == 100 and not take.taken(i):
                take.mark(i)
    elif take.terms("iso_method") or iso_class:
        method = "iso"
    elif take.terms("area_method"):
        method = "area_third"
    take.terms(*word_list("fire_flow_around"))
    if area < 0 and len(sides) < 2:
        yield take.asking(
            Question(
                f"How long and how wide is the building, in {Sayer(span.context.wording).length_unit}?",
                (),
                NeededFlow(),
                "sides",
            ),
            NeededFlow.intent,
            0.2,
        )
        return
    area_ft2 = in_unit(span.items[area], "sqft", "m2") if area >= 0 else None
    if any(side <= 0 for side in (*sides, area_ft2 or 1)):
        yield take.declining("A building has sides above zero feet; say length and width.", NeededFlow.intent, 0.05)
        return
    command = NeededFlow(
        length_ft=sides[0] if area_ft2 is None else None,
        width_ft=sides[1] if area_ft2 is None else None,
        area_ft2=area_ft2,
        height_ft=next(iter(sides[2:] if area_ft2 is None else sides), None),
        floors=floors,
        floors_involved=burning,
        involved_percent=percent,
        exposures=exposures,
        method=method,
        construction_class=kind.iso if kind else construction,
        construction_type=kind.type if kind else None,
        occupancy=occupancy,
        hazard_class=hazard,
        rural_supply=rural,
    )
    if construction is not None and construction < 0:
        yield take.asking(_which_scale(command, -construction), NeededFlow.intent)
    elif area_ft2 is not None and floors is not None and floors > 1 and not span.has("each", "footprint"):
        yield take.asking(_each_floor(command, Sayer(span.context.wording)), NeededFlow.intent)
    else:
        yield take.reading(command)


def _each_floor(command: NeededFlow, say: Sayer) -> Question:
    """ "2,400 square feet, two floors": of each floor, or of both together?"""
    area, floors = command.area_ft2 or 0.0, command.floors or 1
    choices = (
        Choice(f"{say.area(area)} each floor", (command,)),
        Choice(f"{say.area(area)} in all", (replace(command, area_ft2=area / floors),)),
    )
    return Question(f"Is {say.area(area)} each floor's, or all {floors} floors' together?", choices)


class _Construction(NamedTuple):
    """A construction by its name, on the scale that the name belongs to."""

    type: int | None
    iso: int | None


_CONSTRUCTIONS = {f"construction_type_{n}": _Construction(n, None) for n in range(1, 6)} | {
    f"construction_iso_{n}": _Construction(None, n) for n in (2, 4, 5, 6)
}


def _named_construction(take: Take) -> _Construction | None:
    """ "Wood frame", "type III", "joisted masonry"."""
    found = [kind for concept, kind in _CONSTRUCTIONS.items() if take.term(concept) >= 0]
    return found[0] if found else None


def _which_scale(command: NeededFlow, number: int) -> Question:
    """ "Construction 2": a building type or an ISO class?"""
    as_type = replace(command, construction_class=None, construction_type=number)
    as_class = replace(command, construction_class=number)
    choices = (Choice(f"type {number} of 5", (as_type,)), Choice(f"ISO class {number} of 6", (as_class,)))
    return Question(f"Construction {number}: building type (5 is wood frame) or ISO class (1 is frame)?", choices)


_OCCUPANCIES: tuple[Literal["noncombustible", "limited", "combustible", "free_burning", "rapid_burning"], ...] = (
    "noncombustible", "limited", "free_burning", "rapid_burning", "combustible",
)  # fmt: skip


def _involved(span: Span, take: Take) -> float | None:
    if take.term("fully_involved") >= 0:
        return 100.0
    if take.term("half_involved") >= 0:
        return 50.0
    percent = take.number("percent")
    if percent is not None:
        return percent
    at = span.first("involved")
    if at < 0:
        return None
    for i in range(max(at - 2, span.lo), at):
        item = span.items[i]
        if item.kind == "num" and item.form == "fraction" and not take.taken(i):
            take.mark(i, at)
            return item.number * 100
    return None


def _floors_involved(span: Span, take: Take) -> int | None:
    """ "one floor involved", "two floors burning"."""
    for at in span.where("involved"):
        i = at - 2
        if i < span.lo or not span.items[at - 1].concepts & {"floor", "stories", "floors_up"}:
            continue
        item = span.items[i]
        if item.kind == "num" and item.unit is None and item.form != "ordinal" and item.number <= 20:
            take.mark(i, at - 1, at)
            return int(item.number)
    return None


def _counted(span: Span, take: Take, *concepts: str) -> int | None:
    """A whole number right before a word."""
    for at in span.where(*concepts):
        i = at - 1
        if (
            i >= span.lo
            and span.items[i].kind == "num"
            and not take.taken(i)
            and span.items[i].unit is None
            and span.items[i].number <= 60
        ):
            take.mark(i, at)
            return int(span.items[i].number)
    return None


def _story_item(span: Span, take: Take) -> int | None:
    for i in span.kinds("floor"):
        if "story" in span.items[i].text and not take.taken(i):
            take.mark(i)
            value = span.items[i].value
            return int(value) if isinstance(value, int) else None
    return None


def _labelled(span: Span, take: Take, concept: str) -> int | None:
    at = span.first(concept)
    if at < 0:
        return None
    take.mark(at)
    value = take.number_near(at, None, low=0, high=10)
    return int(value) if value is not None else None


def _sides(span: Span, take: Take) -> list[float]:
    """ "40 by 30", "40 x 30 x 10", "40 feet long and 30 wide"."""
    found = []
    said = {span.items[i].unit for i in span.kinds("num")} & {"ft", "m"}
    shared = said.pop() if len(said) == 1 else None  # "20 by 10 by 4 m": the unit is all the sides'
    for i in span.kinds("num"):
        item = span.items[i]
        feet = in_unit(item, "ft", "m", None)
        if feet is not None and item.unit is None and shared is not None:
            feet = item.number / 0.3048 if shared == "m" else item.number
        if take.taken(i) or item.form in ("ordinal", "fraction") or feet is None:
            continue
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        before = span.items[i - 1].concepts if i > span.lo else frozenset()
        joined = (after | before) & {"by", "wide", "long_dim", "tall"}
        if joined or item.unit in ("ft", "m"):
            found.append((i, feet))
    for i, _ in found[:3]:
        take.mark(i)
    return [feet for _, feet in found[:3]]


@reads("shuttle", "how_many_tenders", "compare", "tender", "fill_time", "dump_time", "each_end")
def read_shuttle(span: Span) -> Iterable[Candidate]:
    """ "how many tenders for 500 gpm, 2000 gallons, two miles, fill 4 minutes, dump 3 minutes"."""
    compare = span.has("compare") and span.has("shuttle", "relay")
    unit_tender = any(str(span.items[i].value).startswith(("tender", "tanker")) for i in span.kinds("unit"))
    worked = (span.has("tender") or unit_tender) and (
        any(span.items[i].unit in ("mi", "km") for i in span.kinds("num")) or span.has("dump_time", "cycle_time")
    )
    if not (span.has("shuttle", "how_many_tenders") or compare or worked):
        return
    if any(span.items[i].unit == "min" for i in span.kinds("num")) and not span.has(
        "shuttle", "how_many_tenders", "fill_time", "dump_time", "cycle_time", "each_end"
    ):
        return
    take = Take(span, *span.where("shuttle", "how_many_tenders", "compare"))
    flow = take.number("gpm", "lpm")
    miles = take.number("mi", "km")
    miles = _and_a_half(span, take) if miles is None else miles
    there_and_back = _there_and_back(span, take) if miles is not None else None
    times = {
        name: _minutes(span, take, concept)
        for name, concept in (
            ("fill", "fill_time"),
            ("dump", "dump_time"),
            ("handling", "handling_time"),
            ("cycle", "cycle_time"),
        )
    }
    if (at := span.first("each_end")) >= 0 and (minutes := take.number_near(at, "min", "s", reach=1)) is not None:
        take.mark(at)
        times |= {"fill": minutes, "dump": minutes}
    portable = None
    if span.has("portable_tank"):
        take.terms("portable_tank")
    gallons = take.number("gal", "l")
    if gallons is None and (at := span.first("carries")) >= 0:
        gallons = take.number_near(at, "gal", None, low=500, high=12000, reach=1)
    if unit_tender and gallons is not None:
        take.unit()
    tenders = None
    for i in span.kinds("num"):
        item = span.items[i]
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if not take.taken(i) and item.unit is None and item.number <= 20 and ("tender" in after or item.text == "one"):
            take.mark(i)
            tenders = int(item.number)
            break
    if span.has("how_many_tenders") and flow is None:
        flow = take.number("gpm", None, low=50, high=5000)
    take.terms(
        "tender",
        "fill_time",
        "dump_time",
        "cycle_time",
        "handling_time",
        "distance",
        "tank",
        "portable_tank",
        "relay",
        "long_dim",
        "line",
        "for_noise",
        "hope",
        "ask_flow",
        "longest",
        "exit",
        "minutes_out",
        "through",
        "order",
        "can_add",
        "flowing",
        "each",
        "at",
        "laying_in",
        "carries",
        "worth_word",
        "unit:gpm",
        "from_hydrant",
    )
    take.mark(*span.kinds("place"))
    take.free("how", "many", "deliver", "give", "do", "supply", "bring", "move", "haul")
    if gallons is None and miles is None and times["cycle"] is None and not compare and flow is None:
        yield take.asking(
            Question(Sayer(span.context.wording).tender_question, (), Shuttle(), "shuttle"),
            Shuttle.intent,
            0.2,
        )
        return
    if compare and miles is None and (feet := take.number("ft", "m")) is not None:
        miles = feet / 5280
    command = Shuttle(
        tank_gal=gallons,
        distance_mi=miles,
        fill_min=times["fill"],
        dump_min=times["dump"],
        handling_min=times["handling"],
        cycle_min=times["cycle"],
        tenders=tenders,
        flow_gpm=flow,
        portable_tank_gal=portable,
        compare=compare,
        round_trip=there_and_back == "round_trip",
    )
    if there_and_back == "out_and_back" and miles is not None:
        yield take.asking(_which_way(command, miles, Sayer(span.context.wording)), Shuttle.intent)
    else:
        yield take.reading(command, cost=0.02)


def _there_and_back(span: Span, take: Take) -> str | None:
    """Whether the distance was said there and back: the words stand beside it, not beside minutes."""
    for at in span.where("round_trip", "out_and_back"):
        near = [i for i in (at - 1, at - 2, at + 1, at + 2) if span.lo <= i < span.hi and span.items[i].kind == "num"]
        if near and span.items[near[0]].unit in ("min", "s"):
            continue  # "a twelve minute round trip"
        if any(span.items[i].unit in ("mi", "km", "ft", "m") for i in near) or span.items[at - 1].text == "mile":
            take.mark(at)
            return "round_trip" if "round_trip" in span.items[at].concepts else "out_and_back"
    return None


def _which_way(command: Shuttle, miles: float, say: Sayer) -> Question:
    return Question(
        f"Is {say.miles(miles)} each way, or there and back?",
        (Choice("each way", (command,)), Choice("there and back", (replace(command, round_trip=True),))),
    )


def _and_a_half(span: Span, take: Take) -> float | None:
    """ "mile and a half"."""
    for i in range(span.lo, span.hi):
        if span.items[i].text in ("mile", "a mile"):
            take.mark(i)
            for k in range(i + 1, min(i + 4, span.hi)):
                if span.items[k].kind == "num" and span.items[k].form == "fraction":
                    take.mark(k)
                    return 1 + span.items[k].number
            return 1.0
    return None


def _numbers_first(span: Span) -> bool:
    """Whether the minutes stand before what they are for: "6 min fill, 4 min dump"."""
    first = span.first("fill_time", "dump_time")
    before = span.items[first - 1] if first > span.lo else None
    return before is not None and before.kind == "num" and before.unit in ("min", "s", None)


def _minutes(span: Span, take: Take, concept: str) -> float | None:
    ahead = _numbers_first(span)
    for at in span.where(concept):
        if take.taken(at):
            continue  # "four miles round trip": no time
        bare = span.items[at - 1] if at > span.lo else None
        if ahead and bare is not None and bare.kind == "num" and bare.unit is None and 0 < bare.number <= 60:
            take.mark(at - 1, at)  # "4 minutes to fill and 3 to dump"
            return bare.number
        for i in (at - 1, at - 2, at + 1, at + 2) if ahead else (at + 1, at + 2, at - 1, at - 2):
            if (
                span.lo <= i < span.hi
                and span.items[i].kind == "num"
                and not take.taken(i)
                and span.items[i].unit in ("min", "s")
            ):
                take.mark(i, at)
                return in_unit(span.items[i], "min")
        bare = span.items[at + 1] if at + 1 < span.hi else None
        if bare is not None and bare.kind == "num" and bare.unit is None and bare.form == "int" and bare.number <= 60:
            take.mark(at + 1, at)  # "fill 4, dump 3"
            return bare.number
    return None
