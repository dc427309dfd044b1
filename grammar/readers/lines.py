"""Reads what is done to lines: charged or flowing, shut down, extended, burst, gated, moved, more or less pressure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

import msgspec

from grammar.commands import (
    Choice,
    Command,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    PumpPressure,
    Question,
    SaidLay,
    SaidLine,
    SaidNozzle,
    Status,
)
from grammar.readers.base import Candidate, Span, Take, place_of, reads
from grammar.readers.layout import LayReading, read_lays
from grammar.readers.pumping import missing_question
from grammar.vocabulary import word_list

replace = msgspec.structs.replace

_ON = ("charge", "charged_state", "open", "flow_on")
_POINTERS = ("last_one", "other", "line", "all_lines")
_AROUND = ("for_noise", "through", "line", "of_hose", "each", "show")


def lines_meant(span: Span, take: Take) -> Iterator[tuple[LineRef, float]]:
    """Which working line is meant, likeliest first; what says so is taken."""
    items = span.items
    for i in span.kinds("line"):
        if not take.taken(i):
            take.mark(i)
            yield LineRef(name=str(items[i].value)), 0.0
            return
    if take.term("all_lines") >= 0:
        take.terms("line", "last_one")
        yield LineRef(all=True), 0.0
        return
    order = _order(span, take)
    if order is not None:
        yield LineRef(order=order), 0.0
        return
    hose = _hose(span, take)
    if hose is not None:
        take.terms("line")
        yield LineRef(hose_in=hose), 0.0
        return
    for i in span.kinds("floor", "place"):
        near_line = any("line" in items[k].concepts for k in range(max(i - 4, span.lo), min(i + 3, span.hi)))
        if near_line and not take.taken(i):
            take.mark(i)
            take.terms("line")
            yield LineRef(place=place_of(items[i])), 0.02
            return
    if take.term("other") >= 0:
        take.terms("line", "last_one", "crosslay")
        for i in span.kinds("family"):
            take.mark(i)
        yield LineRef(other=True), 0.02
        return
    if take.terms("last_one", "line"):
        yield LineRef(), 0.03


def _order(span: Span, take: Take) -> int | None:
    for i in span.kinds("num"):
        item = span.items[i]
        after = span.items[i + 1] if i + 1 < span.hi else None
        before = span.items[i - 1] if i > span.lo else None
        if item.form == "ordinal" and after is not None and after.concepts & {"line", "last_one"}:
            take.mark(i, i + 1)
            return int(item.number)
        if (
            item.form == "int"
            and before is not None
            and "line" in before.concepts
            and item.unit is None
            and item.number < 12
        ):
            take.mark(i, i - 1)
            return int(item.number)
    return None


def _hose(span: Span, take: Take) -> float | None:
    for i in span.kinds("num"):
        item = span.items[i]
        sized = item.unit == "in" or (item.unit is None and "hose_said" in item.concepts)
        after = span.items[i + 1] if i + 1 < span.hi else None
        if sized and not take.taken(i) and not (after is not None and after.concepts & {"tip", "nozzle"}):
            take.mark(i)
            return item.number
    return None


# ------------------------------------------------------------------------------------------------------------------------- on


@reads(*_ON)
def read_line_on(span: Span) -> Iterable[Candidate]:
    """ "charge crosslay one", "crosslay two is flowing", "charge 200 feet of inch and three quarter", "charge it"."""
    for i in _verbs(span):
        stance = span.stance(i)
        if stance == "asked":
            yield from _asked_on(span, i)
        elif stance != "said" and not _request(span, i, stance):
            yield from _not_on(span, i, stance)
        else:
            yield from _on(span, i)


def _verbs(span: Span) -> list[int]:
    strong = list(span.where("charge", "charged_state"))
    lineless = not (span.kinds("line", "family", "num") or span.has("line", "crosslay", "last_one"))
    strong = [i for i in strong if not (lineless and span.items[i].text.startswith("water"))]
    if strong:
        return strong[:1]
    found = []
    for i in span.where("open", "flow_on"):
        item = span.items[i]
        after = span.items[i + 1] if i + 1 < span.hi else None
        if after is not None and after.kind == "num" and item.text in ("flow", "flowing", "flowing at"):
            if i != span.lo or not _count_follows(span, i):
                continue  # "flowing 150": a flow, not an order (convention 4)
        if item.text in ("on", "going", "working", "in service"):
            continue
        if (
            item.text in ("is on", "are on", "on")
            and after is not None
            and (after.text == "the" or after.kind in ("floor", "place"))
        ):
            continue  # where it is, not that it flows
        if item.text in ("flowing", "flow") and after is not None and after.kind == "floor":
            continue  # "flowing sixty fourth floor": the number is the flow's
        pointed = span.kinds("line", "family") or span.has("line", "crosslay", "last_one")
        sized = any(
            "hose_said" in span.items[k].concepts or span.items[k].unit in ("in", "ft") for k in span.kinds("num")
        )
        if not (pointed or sized) or (
            item.text in word_list("lines_weak") and not (span.kinds("line", "family") or span.has("line"))
        ):
            continue
        found.append(i)
    return found[:1]


def _count_follows(span: Span, i: int) -> bool:
    """ "flowing two lines …"."""
    items = span.items
    return any("line" in items[k].concepts for k in range(i + 2, min(i + 4, span.hi)))


def _request(span: Span, i: int, stance: str) -> bool:
    """ "can you charge crosslay one", "give me water on …"."""
    return stance == "ordered" or span.items[span.lo].text in ("can", "could", "would", "will")


def _on(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.terms("order", *_ON)
    if not span.kinds("num", "family") and not span.has("crosslay"):
        yield from _on_known(span, i)
        return
    for lay in read_lays(span):
        yield from _on_lay(span, i, lay)
    if span.has("last_one", "other"):
        yield from _on_known(span, i)


def _on_known(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.terms("order", *_ON)
    if span.kinds("line") and span.kinds("floor", "place"):
        for lay in read_lays(span):
            yield from _on_lay(span, i, lay)
        return
    names = span.kinds("line")
    if len(names) > 1:
        take.mark(*names)
        take.terms("and", "into", *_AROUND)
        yield take.reading(*(LineOn(ref=LineRef(name=str(span.items[k].value))) for k in names))
        return
    for ref, cost in lines_meant(span, take):
        take.terms(*_AROUND)
        if (ref.name is None and not span.context.lines) or ref == LineRef():
            yield from _charge_last(span, take, cost)
        else:
            yield take.reading(LineOn(ref=ref), cost=cost)
        return
    only = [k for k in span.content() if k != i and not take.taken(k)]
    if not only:
        yield from _charge_last(span, take, 0.08)


def _charge_last(span: Span, take: Take, cost: float) -> Iterator[Candidate]:
    """ "charge it": the lay that was last asked for."""
    asked = next((c for c in reversed(span.context.last) if isinstance(c, PumpPressure)), None)
    if asked is None:
        yield take.asking(which_line_on(span), LineOn.intent, cost + 0.05)
        return
    yield take.reading(*(line_on(lay) for lay in asked.lays), cost=cost)


def line_on(lay: SaidLay) -> LineOn:
    """A lay put on: by its name when only that was said."""
    if not lay.feed and len(lay.lines) == 1:
        line = lay.lines[0]
        if line.name is not None and line == SaidLine(name=line.name):
            return LineOn(ref=LineRef(name=line.name))
    return LineOn(lay=lay)


def _on_lay(span: Span, i: int, lay: LayReading) -> Iterator[Candidate]:
    take = Take(span, i)
    take.used |= lay.used
    take.terms("order", *_ON, *_AROUND)
    if lay.pump_psi is not None:
        return
    if lay.wrong is not None:
        yield take.declining(lay.wrong, LineOn.intent, lay.cost)
    elif lay.unknown_name or lay.family:
        yield take.asking(which_line_on(span, lay.family), LineOn.intent, lay.cost + 0.05)
    elif lay.missing is not None:
        question = missing_question(span, PumpPressure(lay.lays), lay.missing)
        choices = tuple(Choice(c.label, _charged(c.commands)) for c in question.choices)
        yield take.asking(
            Question(question.text, choices, LineOn(lay=lay.lays[0]), question.slot), LineOn.intent, lay.cost + 0.35
        )
    elif lay.odd_size is None and not lay.total_or_each:
        yield take.reading(*(line_on(one) for one in lay.lays), cost=lay.cost)


def _charged(commands: tuple[Command, ...]) -> tuple[Command, ...]:
    return tuple(line_on(lay) for c in commands if isinstance(c, PumpPressure) for lay in c.lays)


def _asked_on(span: Span, i: int) -> Iterator[Candidate]:
    take = Take(span, i)
    take.mark(*span.kinds("line", "family"))
    take.terms("line", "last_one", "hope", "order", "for_noise", "flow_on", "pumping_what")
    if span.items[span.lo].text in ("should",) or span.has("ask_pressure"):
        for lay in read_lays(span):
            if lay.missing is None and not lay.unknown_name and not lay.family:
                inner = Take(span, i)
                inner.used |= lay.used
                inner.terms("hope", "order", *_AROUND, "ask_pressure", "charge")
                yield inner.reading(PumpPressure(lay.lays), cost=lay.cost + 0.1)
        return
    yield take.reading(Status(about="lines"), cost=0.05)


def _not_on(span: Span, i: int, stance: str) -> Iterator[Candidate]:
    take = Take(span, i)
    take.mark(
        *(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark),
        *span.kinds("line", "family", "num", "floor"),
    )
    take.terms("line", "last_one", *_ON)
    what = "Nothing was charged: " + (
        "that says not to." if stance == "denied" else "that is still to come. Say “charged” when it is."
    )
    yield take.declining(what, LineOn.intent, 0.03)


def which_line_on(span: Span, keys: Iterable[str] = ()) -> Question:
    """Which line to put on."""
    wanted = tuple(keys) or tuple(line.key for line in span.context.rig_lines)
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    choices = tuple(Choice(names.get(k, k), (LineOn(ref=LineRef(name=k)),)) for k in wanted[:6])
    return Question("Which line is charged? Say its name, or its hose and length.", choices, LineOn(), "line")


# ------------------------------------------------------------------------------------------------------------------------ off


@reads("shut")
def read_line_off(span: Span) -> Iterable[Candidate]:
    """ "shut down crosslay one", "kill the deuce and a half", "shut it down", "all lines down"."""
    i = span.first("shut")
    pointed = span.kinds("line") or span.has("all_lines", "last_one", "other", "line") or span.kinds("num")
    if not pointed and span.items[i].text not in ("shut down", "shutdown", "shut it down", "shut her down", "shut it"):
        return
    stance = span.stance(i)
    take = Take(span, i)
    take.terms("shut", "order", "for_noise")
    if stance == "asked":
        take.mark(*span.kinds("line"))
        take.terms("line", "hope")
        yield take.reading(Status(about="lines"), cost=0.15)
        return
    if stance in ("denied", "hoped"):
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark), *span.kinds("line", "num"))
        take.terms("line", "last_one")
        yield take.declining(
            "Nothing was shut down: " + ("that says not to." if stance == "denied" else "that is still to come."),
            LineOff.intent,
            0.03,
        )
        return
    on = [line for line in span.context.lines if line.on]
    for ref, cost in lines_meant(span, take):
        if ref == LineRef() and not on:
            yield take.asking(_which_off(span), LineOff.intent, 0.05)
        else:
            yield take.reading(LineOff(ref), cost=cost)
        return
    if "it" in span.items[i].text.split() or "her" in span.items[i].text.split():
        if on:
            yield take.reading(LineOff(LineRef()), cost=0.02)
        else:
            yield take.asking(_which_off(span), LineOff.intent, 0.05)
    else:
        yield take.asking(_which_off(span), LineOff.intent, 0.1)


def _which_off(span: Span) -> Question:
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    on = [line for line in span.context.lines if line.on]
    choices = [
        Choice(
            names.get(line.name or "", line.name or f"line {line.seq}"),
            (LineOff(LineRef(name=line.name) if line.name else LineRef(order=line.seq)),),
        )
        for line in on[:5]
    ]
    if len(on) > 1:
        choices.append(Choice("all of them", (LineOff(LineRef(all=True)),)))
    return Question("Which line is shut down?", tuple(choices), LineOff(LineRef()), "line")


# --------------------------------------------------------------------------------------------------------------------- change

_CHANGES = ("add_hose", "burst", "gate", "more_pressure", "less_pressure", "move_to", "set_to", "replaced")


@reads(*_CHANGES, "into")
def read_line_change(span: Span) -> Iterable[Candidate]:
    """ "add a hundred feet to crosslay one", "burst length", "gate it down to 100", "crosslay one moved to the third floor"."""
    if span.has("can_add", "what_if_shut"):
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
            return
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark))
        yield take.declining(
            "Nothing was changed: " + ("that says not to." if stance == "denied" else "that is still to come."),
            LineChange.intent,
            0.08,
        )
        return
    take.terms("order", "hope", "for_noise", "line")
    for ref, extra in lines_meant(span, take):
        if ref == LineRef() and not _only_one(span):
            break
        yield take.reading(replace(change, ref=_single(span) if ref == LineRef() else ref), cost=cost + extra)
        return
    only = _only_one(span)
    if only:
        yield take.reading(replace(change, ref=_single(span)), cost=cost + 0.05)
    elif span.context.lines:
        yield take.asking(_which_change(span, change), LineChange.intent, cost + 0.1)


def _only_one(span: Span) -> bool:
    return sum(line.on for line in span.context.lines) == 1


def _single(span: Span) -> LineRef:
    line = next(line for line in span.context.lines if line.on)
    return LineRef(name=line.name, seq=None if line.name else line.seq)


def _which_change(span: Span, change: LineChange) -> Question:
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    choices = tuple(
        Choice(
            names.get(line.name or "", line.name or f"line {line.seq}"),
            (replace(change, ref=LineRef(name=line.name) if line.name else LineRef(order=line.seq)),),
        )
        for line in span.context.lines
        if line.on
    )
    return Question("Which line?", choices, change, "line")


def _added(span: Span) -> Iterator[Candidate]:
    at = span.first("add_hose")
    take = Take(span, at)
    feet = take.number("ft", "m")
    if feet is None:
        bare = take.number(None, low=25, high=1000)
        if bare is not None and span.kinds("line"):
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


def _feet_question(span: Span, take: Take, bare: float) -> Question:
    change = LineChange(LineRef(), add_ft=bare)
    for ref, _ in lines_meant(span, take):
        change = replace(change, ref=ref)
    return Question(f"Add {bare:g} feet?", (Choice("yes", (change,)), Choice("no")))


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
    change = LineChange(LineRef(), gate=True, gate_to_psi=psi, gate_to_gpm=gpm)
    yield from _changed(span, take, change, at)


def _pressure_change(span: Span, word: str, way: Literal["more", "less"]) -> Iterator[Candidate]:
    at = span.first(word)
    take = Take(span, at)
    take.terms(word, "nozzle_psi", "nozzle", "tip", "ask_pressure", "pump_word", "hope", "order", "not")
    psi = take.number("psi", "bar", "kpa")
    if psi is not None:
        take.cost += 0.6
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
