"""Reads changes to a working line: extended, burst, gated, moved, more or less pressure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from grammar.commands import (
    Choice,
    LineChange,
    LineRef,
    Question,
    Request,
    SaidNozzle,
)
from grammar.readers.base import Candidate, Span, Take, in_unit, place_of, reads
from grammar.readers.lines import called, exactly, lines_meant, ordered_by_crew, replace, said_words
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_CHANGES = ("add_hose", "burst", "gate", "more_pressure", "less_pressure", "move_to", "set_to", "replaced")


@reads(*_CHANGES, "into")
def read_line_change(span: Span) -> Iterable[Candidate]:
    """ "add a hundred feet to crosslay one", "burst length", "gate it down to 100", "crosslay one moved to the third
    floor".
    """
    if span.has("can_add", "what_if_shut") and not span.has("more_pressure", "less_pressure"):
        return
    for kind, build in (
        ("add_hose", _added), ("burst", _burst), ("gate", _gated), ("more_pressure", _more), ("less_pressure", _less),
        ("set_to", _nozzle),
        ("set_to", _moved), ("replaced", _nozzle), ("move_to", _moved), ("into", _moved),
    ):  # fmt: skip
        if span.has(kind):
            yield from build(span)


def _changed(span: Span, take: Take, change: LineChange, at: int, cost: float = 0.0) -> Iterator[Candidate]:
    stance = span.stance(at)
    if stance in ("denied", "hoped", "asked") and not (
        stance == "hoped" and span.items[at].concepts & {"more_pressure", "less_pressure"}
    ):
        if stance == "asked":
            if _asked_of_the_pump(span, take, change):
                take.terms("can_report", "hope", "order")
                ref = next((ref for ref, _ in lines_meant(span, take)), LineRef())
                yield take.reading(Request(said_words(span), (replace(change, ref=ref),)), cost=cost)
            return
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark))
        yield take.declining(
            "Nothing was changed: " + ("that says not to." if stance == "denied" else "that is still to come."),
            LineChange.intent,
            0.08,
        )
        return
    asks = _asked_of_the_pump(span, take, change) or _wanted(span, change, at, stance) or span.has("caller")
    if asks:
        take.terms("crew_word")
    take.terms("order", "hope", "for_noise", "line", "slightly", *(("can_add",) if asks else ()))
    for ref, extra in lines_meant(span, take):
        if ref == LineRef() and not _only_one(span):
            break
        whole = replace(change, ref=_single(span) if ref == LineRef() else ref)
        yield take.reading(Request(said_words(span), (whole,)) if asks else whole, cost=cost + extra)
        return
    if asks:
        wants = replace(change, ref=_single(span)) if _only_one(span) else change
        yield take.reading(Request(said_words(span), (wants,) if span.context.lines else ()), cost=cost)
        return
    only = _only_one(span)
    if only:
        yield take.reading(replace(change, ref=_single(span)), cost=cost + 0.05)
    elif span.context.lines:
        yield take.asking(_which_change(span, change), LineChange.intent, cost + 0.1)


def _asked_of_the_pump(span: Span, take: Take, change: LineChange) -> bool:
    """More or less pressure, or a gate, asked for by the crew: the driver's to do."""
    pumps = change.nozzle_psi_change is not None or change.gate
    return pumps and ordered_by_crew(span, take)


def _wanted(span: Span, change: LineChange, at: int, stance: str) -> bool:
    """ "Crosslay one needs more pressure", "not enough pressure", said by the officer: what the crew wants."""
    before = {word for k in range(span.lo, at) for word in span.items[k].text.split()}
    lacks = span.items[at].text.split()[0] in word_list("lines_lacks") or bool(before & word_list("lines_wants"))
    return change.nozzle_psi_change is not None and span.context.role == "officer" and (lacks or stance == "hoped")


def _only_one(span: Span) -> bool:
    return sum(line.on for line in span.context.lines) == 1


def _single(span: Span) -> LineRef:
    line = next(line for line in span.context.lines if line.on)
    return LineRef(name=line.name, seq=None if line.name else line.seq)


def _which_change(span: Span, change: LineChange) -> Question:
    choices = tuple(
        Choice(called(span, line), (replace(change, ref=exactly(line)),)) for line in span.context.lines if line.on
    )
    return Question("Which line?", choices, change, "line")


def _added(span: Span) -> Iterator[Candidate]:
    at = span.first("add_hose")
    take = Take(span, at)
    feet = take.number("ft", "m")
    if feet is None and (lengths := _lengths(span, take)):
        yield from _changed(span, take, LineChange(LineRef(), add_lengths=lengths), at)
        return
    if feet is None:
        bare = take.number("ft", None, low=25, high=1000)
        pointed = span.kinds("line") or any(span.items[k].text in ("it", "that") for k in range(at, span.hi))
        if bare is not None and pointed and any(line.on for line in span.context.lines):
            yield take.asking(_feet_question(span, take, bare), LineChange.intent, 0.1)
        return
    if feet <= 0:
        yield take.declining("Hose can only be added; say how many feet.", LineChange.intent, 0.05)
        return
    sized = [i for i in span.kinds("num") if "hose_said" in span.items[i].concepts or span.items[i].unit == "in"]
    to_it = any(span.items[k].text in ("to", "into") for i in sized for k in (i - 1, i - 2) if k >= span.lo)
    if sized and not to_it and not span.kinds("line"):
        return
    take.terms("into", "remind_to", "replaced")
    yield from _changed(span, take, LineChange(LineRef(), add_ft=feet), at)


def _lengths(span: Span, take: Take) -> int:
    """ "A length", "two sections": how many lengths are added; 0 when that isn't said."""
    at = span.first("length_word")
    if at < 0:
        return 0
    count = take.number(None, low=1, high=10, whole=True)
    take.mark(at)
    if count is None and span.items[at].text.split()[0].endswith("s"):
        return 0
    return int(count or 1)


def _feet_question(span: Span, take: Take, bare: float) -> Question:
    change = LineChange(LineRef(), add_ft=bare)
    for ref, _ in lines_meant(span, take):
        change = replace(change, ref=ref)
    return Question(f"Add {Sayer(span.context.wording).feet(bare)}?", (Choice("yes", (change,)), Choice("no")))


def _burst(span: Span) -> Iterator[Candidate]:
    at = span.first("burst")
    if span.has("supply_word", "feed", "water_supply", "hydrant_word"):
        return
    take = Take(
        span,
        at,
        cost=0.0
        if span.kinds("line", "num", "place", "floor") or span.has("line", "of_hose") or " " in span.items[at].text
        else 0.4,
    )
    take.terms("burst", "replaced")
    yield from _changed(span, take, LineChange(LineRef(), burst=True), at)


def _gated(span: Span) -> Iterator[Candidate]:
    at = span.first("gate")
    take = Take(span, at)
    take.terms("gate", "into", "dropped_to", "shut", "down")
    psi = take.number("psi", "bar", "kpa", low=0)
    gpm = take.number("gpm", "lpm", "gal", low=0)
    if psi is None and gpm is None and (at_last := _bare_aim(span)) >= 0:
        yield from _gate_question(span, at, at_last)
        return
    change = LineChange(LineRef(), gate=True, gate_to_psi=psi, gate_to_gpm=gpm)
    yield from _changed(span, take, change, at)


def _bare_aim(span: Span) -> int:
    """ "… to 120": the number that ends it, without a unit; -1 when there is none."""
    last = span.hi - 1
    item = span.items[last]
    bare = item.kind == "num" and item.unit is None and item.form != "ordinal" and 20 <= item.number <= 2000
    return last if bare and last > span.lo and "to" in span.items[last - 1].text.split() else -1


def _gate_question(span: Span, at: int, aim: int, cost: float = 0.0) -> Iterator[Candidate]:
    """ "Gate down crosslay two to 120": gpm or psi?"""
    take = Take(span, at, aim, cost=cost)
    take.terms("gate", "into", "dropped_to", "shut", "down", "less_pressure", "order", "set_to")
    gpm, psi = in_unit(span.items[aim], "gpm", None), in_unit(span.items[aim], "psi", None)
    ref = next((found for found, _ in lines_meant(span, take) if found != LineRef()), None)
    if ref is None and _only_one(span):
        ref = _single(span)
    if gpm is None or psi is None:
        return
    say = Sayer(span.context.wording)
    if ref is None:
        yield from _gate_which(span, take, gpm, psi, say)
        return
    choices = (
        Choice(say.gpm(gpm), (LineChange(ref, gate=True, gate_to_gpm=gpm),)),
        Choice(f"{say.psi(psi)} at the outlet", (LineChange(ref, gate=True, gate_to_psi=psi),)),
    )
    yield take.asking(Question(f"Gate {say.ref(ref)} down to which?", (*choices, Choice("neither"))), LineChange.intent)


def _gate_which(span: Span, take: Take, gpm: float, psi: float, say: Sayer) -> Iterator[Candidate]:
    """ "Gate it to 100" while several lines are on: which, and to what?"""
    on = [line for line in span.context.lines if line.on][:3]
    ways = [(say.gpm(gpm), gpm, None), (say.psi(psi), None, psi)]
    choices = tuple(
        Choice(f"{called(span, line)} to {told}", (LineChange(exactly(line), gate=True, gate_to_gpm=g, gate_to_psi=p),))
        for line in on
        for told, g, p in ways
    )
    if choices:
        yield take.asking(Question("Gate which line, to what?", (*choices, Choice("neither"))), LineChange.intent)


@reads("shut", "less_pressure", "dropped_to")
def read_dropped_to(span: Span) -> Iterable[Candidate]:
    """ "Drop crosslay one to 120": gated down, to gpm or psi."""
    first = span.items[span.lo]
    aim = _bare_aim(span)
    if first.text in ("drop", "bring down", "take down", "bring", "lower") and aim >= 0 and span.kinds("line"):
        yield from _gate_question(span, span.lo, aim)


def _pressure_change(span: Span, word: str, way: Literal["more", "less"]) -> Iterator[Candidate]:
    at = span.first(word)
    take = Take(span, at)
    take.terms(word, "nozzle_psi", "nozzle", "tip", "ask_pressure", "pump_word", "hope", "order", "not")
    psi = take.number("psi", "bar", "kpa")
    if psi is None:
        psi = take.number("psi", None, low=1, high=100)
    if psi is not None and not span.has("caller"):
        take.cost += 0.5  # by how much isn't kept; a request is told in its own words
    yield from _changed(span, take, LineChange(LineRef(), nozzle_psi_change=way), at)


def _more(span: Span) -> Iterator[Candidate]:
    return _pressure_change(span, "more_pressure", "more")


def _less(span: Span) -> Iterator[Candidate]:
    return _pressure_change(span, "less_pressure", "less")


def _nozzle(span: Span) -> Iterator[Candidate]:
    """ "put a 15/16 tip on crosslay one", "crosslay one switched to smooth bore fifteen sixteenths"."""
    if not span.kinds("line") and not span.has("last_one", "line", "other"):
        return
    at = span.first("set_to", "replaced")
    take = Take(span, at)
    take.terms("set_to", "replaced", "into", "dropped_to", "order")
    tip = _tip(span, take)
    kind: Literal["fog", "smooth_bore"] | None = None
    if take.term("smooth_bore") >= 0 or tip is not None:
        kind = "smooth_bore"
    elif take.term("fog") >= 0:
        kind = "fog"
    flow = take.number("gpm", "lpm")
    if tip is None and kind is None and flow is None:
        return
    take.terms("tip", "nozzle", "smooth_bore", "fog")
    nozzle = SaidNozzle(kind, tip, flow)
    yield from _changed(span, take, LineChange(LineRef(), nozzle=nozzle), at, 0.02)


def _tip(span: Span, take: Take) -> float | None:
    for i in span.kinds("num"):
        item = span.items[i]
        if (
            item.unit in (None, "in")
            and item.number <= 3
            and (item.form in ("fraction", "mixed", "decimal") or item.unit == "in")
        ):
            take.mark(i)
            return item.number
    return None


def _moved(span: Span) -> Iterator[Candidate]:
    """A flowing line goes to another floor or side."""
    floors, places = span.kinds("floor"), span.kinds("place")
    names = span.kinds("line")
    if not (floors or places) or not names:
        return
    working = [line.name for line in span.context.lines if line.on]
    if str(span.items[names[0]].value) not in working:
        return
    at = span.first("move_to", "moved", "set_to", "into")
    take = Take(span, at)
    take.terms("move_to", "into", "up", "dropped_to", "moved", "set_to")
    if floors:
        take.mark(floors[0])
        floor = span.items[floors[0]].value
        change = LineChange(LineRef(), floor=int(floor) if isinstance(floor, int) else None)
    else:
        take.mark(places[0])
        change = LineChange(LineRef(), place=place_of(span.items[places[0]]))
    yield from _changed(span, take, change, at, 0.0 if span.has("move_to", "moved", "set_to") else 0.12)
