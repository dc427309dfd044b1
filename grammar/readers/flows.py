"""Reads the other questions at the pump panel: flow at a pressure, longest lay, tip, nozzle, what if."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from grammar.commands import (
    Choice,
    FlowAtPressure,
    LineRef,
    LongestLay,
    Nozzle,
    PumpPressure,
    PumpStatus,
    Question,
    SaidLay,
    SaidLine,
    SaidNozzle,
    TipForFlow,
    WhatIf,
)
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import LayReading, lays_without, read_lays, whichever
from grammar.readers.lines import lines_meant
from grammar.readers.sizes import MOST_NOZZLE_PSI
from grammar.readers.supply import large_lay
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_AROUND = (
    "ask_flow",
    "flowing",
    "for_noise",
    "pump_word",
    "ask_pressure",
    "through",
    "hope",
    "order",
    "on_end",
    "into",
    "line",
    "show",
    "of_hose",
    "pull",
    "at",
    "open",
    "cond",
)


@reads("ask_flow", "pump_word", "flowing", "pumping_what", "unit:gpm")
def read_flow_at_pressure(span: Span) -> Iterable[Candidate]:
    """ "what do I flow at 150 psi with 200 feet of inch and three quarter"."""
    if (
        not span.has("ask_flow", "pumping_what")
        and not (span.has("flowing") and span.has("pump_word"))
        and not _leads_with_flow(span)
        and not _pumping_at(span)
    ) or span.has("from_hydrant", "supply_to", "relay"):
        return
    pressures = [i for i in span.kinds("num") if span.items[i].unit in ("psi", "bar", "kpa")]
    bare = (
        []
        if pressures
        else [
            i
            for i in span.kinds("num")
            if span.items[i].unit is None
            and 50 <= span.items[i].number <= 300
            and (_after_at(span, i) or _on_a_gauge(span, i))
        ]
    )
    for i in (pressures + bare)[:2]:
        value = in_unit(span.items[i], "psi", None)
        lays = lays_without(span, i)
        for lay in map(whichever, lays[:3]):
            take = Take(span, i, cost=0.0 if i in pressures else 0.1 if _on_a_gauge(span, i) else 0.2)
            take.used |= lay.used
            take.terms(*_AROUND, "pumping_what", "unit:gpm", "unit:gal")
            take.free("give", "do", "produce", "deliver", "make", "get", "move")
            if (
                lay.missing is None
                and not lay.unknown_name
                and not lay.family
                and lay.wrong is None
                and value is not None
            ):
                yield take.reading(FlowAtPressure(lay.lays, value), cost=lay.cost)
            elif lay.missing is not None and value is not None and lay.missing.slot in ("hose_in", "length_ft"):
                yield take.asking(
                    Question(
                        f"Through which hose, and how many {Sayer(span.context.wording).length_unit}?",
                        (),
                        FlowAtPressure(lay.lays, value),
                        "lay",
                    ),
                    FlowAtPressure.intent,
                    lay.cost + 0.3,
                )
        if not lays and value is not None:
            take = Take(span, i, cost=0.3)
            take.terms(*_AROUND, "pumping_what")
            yield take.asking(
                Question("Through which line? Say its name, or hose and length.", (), FlowAtPressure((), value), "lay"),
                FlowAtPressure.intent,
            )


@reads("unit:psi", "unit:bar", "unit:kpa", "is:num")
def read_at_pressure(span: Span) -> Iterable[Candidate]:
    """ "Crosslay one at 170 psi": more than a nozzle's pressure; at the pump or at the nozzle?"""
    if not span.has("is:line", "is:family"):
        return
    if span.has("nozzle_psi", "tip", "nozzle", "pump_word", "ask_flow", "intake_at", "longest", "static", "pitot"):
        return
    if not span.kinds("line", "family") or span.has(
        "charge", "shut", "gate", "set_to", "less_pressure", "more_pressure"
    ):
        return
    pressures = [i for i in span.kinds("num") if span.items[i].unit in ("psi", "bar", "kpa") and _after_at(span, i)]
    psi = in_unit(span.items[pressures[0]], "psi") if len(pressures) == 1 else None
    if psi is None or psi <= MOST_NOZZLE_PSI:
        return
    say = Sayer(span.context.wording)
    for lay in lays_without(span, pressures[0])[:1]:
        if lay.missing is not None or lay.unknown_name or lay.family or lay.wrong is not None:
            return
        take = Take(span, pressures[0])
        take.used |= lay.used
        take.terms(*_AROUND)
        at_nozzle = tuple(
            replace(one, lines=tuple(replace(li, nozzle=replace(li.nozzle, nozzle_psi=psi)) for li in one.lines))
            for one in lay.lays
        )
        pump = Choice("at the pump: what flows?", (FlowAtPressure(lay.lays, psi),))
        nozzle = Choice("at the nozzle: what to pump?", (PumpPressure(at_nozzle),))
        yield take.asking(
            Question(f"{say.psi(psi)} at the pump, or at the nozzle?", (pump, nozzle)), "pump_pressure", lay.cost
        )


def _pumping_at(span: Span) -> bool:
    """ "200 feet of 1.75 pumping 200 psi": a pump pressure beside the lay."""
    return any(
        "pump_word" in span.items[i - 1].concepts and span.items[i - 1].text.startswith("pump")
        for i in span.kinds("num")
        if i > span.lo and span.items[i].unit in ("psi", "bar", "kpa")
    )


def _leads_with_flow(span: Span) -> bool:
    return any(
        span.items[i].kind != "num" and span.items[i].text in ("gpm", "flow", "flow of", "gallons per minute")
        for i in range(span.lo, min(span.lo + 2, span.hi))
    )


def _on_a_gauge(span: Span, i: int) -> bool:
    """ "160 showing", "160 on the gauge"."""
    after = span.items[i + 1] if i + 1 < span.hi else None
    return after is not None and (after.text in word_list("flows_gauge") or "pump_word" in after.concepts)


def _after_at(span: Span, i: int) -> bool:
    before = span.items[i - 1] if i > span.lo else None
    return before is not None and (before.text.split()[-1] in ("at", "@") or "pump_word" in before.concepts)


@reads("longest")
def read_longest(span: Span) -> Iterable[Candidate]:
    """ "how far can I stretch inch and three quarter at 200 psi flowing 150"."""
    if span.has("relay", "supply_to", "apart") or span.kinds("unit") or large_lay(span):
        return
    take = Take(span, *span.where("longest"))
    psi = take.number("psi", "bar", "kpa")
    bare = [
        i
        for i in span.kinds("num")
        if span.items[i].unit is None and psi is None and _after_at(span, i) and 75 <= span.items[i].number <= 400
    ]
    if bare:
        psi = in_unit(span.items[bare[0]], "psi", None)
        take.mark(bare[0])
    for lay in lays_without(span, *(k for k in range(span.lo, span.hi) if take.taken(k)))[:3]:
        inner = Take(span)
        inner.used = take.used | lay.used
        inner.terms(*_AROUND, "tip", "nozzle", "can_add")
        if len(lay.lays) == 1 and not lay.unknown_name and not lay.family:
            line = lay.lays[0].lines[0] if lay.lays[0].lines else SaidLine()
            if line.name or any(h.hose_in is not None for h in line.hose):
                known = any(h.length_ft is not None for h in line.hose)  # then that hose isn't what is asked about
                yield inner.reading(LongestLay(lay.lays[0], psi), cost=lay.cost + (0.4 if known else 0.0))


@reads("ask_tip", "tip", "smooth_bore")
def read_tip(span: Span) -> Iterable[Candidate]:
    """ "what tip for 250 gpm", "smooth bore tip for 185 gallons per minute"."""
    sized = any(span.items[i].unit == "in" or span.items[i].form in ("fraction", "mixed") for i in span.kinds("num"))
    laid = any(span.items[i].unit == "ft" for i in span.kinds("num"))
    if sized or (not span.has("ask_tip") and laid):
        return  # "what tip pressure for 250 through a 15/16": the tip is there already
    take = Take(span, *span.where("ask_tip", "tip", "smooth_bore", "nozzle"))
    flow = take.number("gpm", "lpm", "gal", None, low=10)
    take.terms(*_AROUND, "monitor", "deck_gun", "aerial", "tip", "nozzle_psi")
    guns = [i for i in span.kinds("line") if span.items[i].value in _guns(span)]
    take.mark(*guns)
    psi = take.number("psi", "bar", "kpa", None, low=20, high=200)
    if flow is None:
        if span.has("ask_tip"):
            yield take.asking(
                Question(f"A tip for how many {Sayer(span.context.wording).flow_unit}?", (), TipForFlow(0), "flow_gpm"),
                TipForFlow.intent,
                0.2,
            )
        return
    master = bool(guns) or span.has("monitor", "deck_gun", "aerial")
    yield take.reading(TipForFlow(flow, psi, master), cost=0.0 if span.has("ask_tip") else 0.06)


def _guns(span: Span) -> set[str]:
    return {line.key for line in span.context.rig_lines if line.device in ("deck_gun", "monitor", "aerial")}


@reads("ask_flow", "reaction", "tip", "flowing", "smooth_bore", "nozzle", "unit:gpm", "through")
def read_nozzle(span: Span) -> Iterable[Candidate]:
    """ "what does a 15/16 flow at 50?", "reaction, fog, 150 gpm at 100 psi", "95 gpm through a 1 1/8 tip"."""
    named = [i for i in span.kinds("line") if span.items[i].value not in _guns(span)]
    if named or any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")):
        return
    take = Take(
        span, *span.where("ask_flow", "reaction", "flowing", "nozzle", "tip", "nozzle_psi", "fog", "smooth_bore")
    )
    tip = _tip_size(span, take)
    flow = take.number("gpm", "lpm", "gal")
    if flow is None and tip is not None and (at := span.first("flowing")) >= 0 and not span.has("ask_flow"):
        flow = take.number_near(at, "gpm", None, low=_LEAST_FLOW)
    psi = take.number("psi", "bar", "kpa", low=15, high=250)
    bare = span.items[at] if psi is None and (at := _bare_number(take)) >= 0 else None
    as_flow = tip is not None and flow is None and bare is not None and _gives(tip, in_unit(bare, "gpm", None) or 0.0)
    as_psi = bare is not None and 15 <= (in_unit(bare, "psi", None) or 0.0) <= (MOST_NOZZLE_PSI if tip else 250)
    if bare is not None and as_psi:
        psi = in_unit(bare, "psi", None)
    elif bare is not None and tip is not None and flow is None:
        flow = in_unit(bare, "gpm", None)
    take.terms(*_AROUND, *(("pump_word",) if span.has("ask_pressure") else ()))
    guns = [i for i in span.kinds("line") if span.items[i].value in _guns(span)]
    take.mark(*guns)
    for i in span.where("unit:gpm", "unit:gal"):
        take.mark(i)
    if tip is None and (flow is None or not span.has("reaction")):
        return
    kind = "smooth_bore" if tip is not None else "fog" if span.has("fog") else None
    cost = 0.0 if _nozzle_asked(span) or (tip is not None and flow is not None) else _bare_tip(span)
    if not span.has("tip", "smooth_bore", "reaction", "nozzle") and tip is not None and tip >= 1.5:
        cost += 0.4
    if not span.has("ask_flow", "reaction") and (guns or span.has("deck_gun", "monitor")):
        cost += 0.3  # a gun's lay: its pressure is what is wanted
    device = "deck_gun" if guns or span.has("deck_gun") else "monitor" if span.has("monitor") else None
    command = Nozzle(SaidNozzle(kind, tip, flow, nozzle_psi=psi), device)  # type: ignore[arg-type]
    if bare is not None and as_flow and as_psi:
        yield take.asking(
            _tip_at(command, in_unit(bare, "gpm", None), Sayer(span.context.wording)), Nozzle.intent, cost
        )
        return
    yield take.reading(command, cost=cost)


def _bare_number(take: Take) -> int:
    """Takes the first whole number without a unit; -1 where there is none."""
    for i in take.open():
        item = take.span.items[i]
        if item.kind == "num" and item.unit is None and item.form in ("int", "hundreds", "digits"):
            take.mark(i)
            return i
    return -1


def _gives(tip: float, gpm: float) -> bool:
    """A tip gives that flow at some pressure that it is worked at: Q = 29.7 · d² · √NP."""
    return tip > 0 and 20 <= (gpm / (29.7 * tip**2)) ** 2 <= 130


def _tip_at(command: Nozzle, gpm: float | None, say: Sayer) -> Question:
    """ "22 mm tip at 600": litres a minute, or kilopascals?"""
    nozzle = command.nozzle
    by_flow = replace(command, nozzle=replace(nozzle, flow_gpm=gpm, nozzle_psi=None))
    flow, psi = say.gpm(gpm or 0.0), say.psi(nozzle.nozzle_psi or 0.0)
    return Question(f"At {flow}, or at {psi}?", (Choice(flow, (by_flow,)), Choice(psi, (command,))))


_LEAST_FLOW = 90
"""A bare number below it is a tip's pressure: "inch and three eighths flowing at 80"."""


def _nozzle_asked(span: Span) -> bool:
    """What a nozzle does is asked for, not only named."""
    return (
        span.has("ask_flow", "reaction")
        or _leads_with_flow(span)
        or (span.has("flowing") and span.has("tip"))
        or span.said.rstrip().endswith("?")
        or any(
            "gpm" in item.text.split() or "gallons" in item.text
            for item in span.items[span.lo : span.hi]
            if item.kind == "term"
        )
    )


def _bare_tip(span: Span) -> float:
    """ "22 mm tip" and no more: what it flows; after a lay or beside lines that are on it may be theirs."""
    alone = span.has("tip") and not span.context.last and not any(line.on for line in span.context.lines)
    return 0.1 if alone else 0.35


def _tip_size(span: Span, take: Take) -> float | None:
    sizes = span.kinds("num")
    if len(sizes) > 1:
        sizes = sorted(sizes, key=lambda i: (not _tip_beside(span, i), span.items[i].number))
    for i in sizes:
        item = span.items[i]
        if (
            item.number <= 3.5
            and item.form != "ordinal"
            and (
                item.unit == "in"
                or (item.unit is None and (item.form in ("fraction", "mixed", "decimal") or _tip_beside(span, i)))
            )
        ):
            take.mark(i)
            if span.has("reaction"):  # the hose it hangs on changes nothing
                take.mark(*(k for k in sizes if "hose_said" in span.items[k].concepts))
            return item.number
    return None


def _tip_beside(span: Span, i: int) -> bool:
    return i + 1 < span.hi and not span.items[i + 1].concepts.isdisjoint(("tip", "nozzle"))


@reads("pumping_what")
def read_pump_status(span: Span) -> Iterable[Candidate]:
    """ "what am I pumping?"."""
    take = Take(span, *span.where("pumping_what"))
    take.terms("line", "ask_pressure")
    if not span.kinds("line", "num"):
        yield take.reading(PumpStatus())


@reads("can_add", "another")
def read_what_if_add(span: Span) -> Iterable[Candidate]:
    """ "can I add a deuce and a half?", "what if I add the rear line"."""
    pressure = any("ask_pressure" in item.concepts for item in span.items[span.lo : span.hi + 1])
    if span.has("more_pressure", "less_pressure") or (span.has("another") and pressure):
        return  # "can we get more pressure"
    if not span.has("can_add") and not (span.items[span.lo].text in ("can", "could") and span.has("another")):
        return
    for lay in read_lays(span):
        take = Take(span, *span.where("can_add", "another"))
        take.used |= lay.used
        take.terms(*_AROUND, "charge", "another", "can_report")
        if not lay.unknown_name and not lay.family and lay.wrong is None and lay.pump_psi is None:
            yield take.reading(WhatIf(add=lay.lays), cost=lay.cost + _bare_length(span, lay))
    if not span.kinds("num", "line", "family"):
        take = Take(span, *span.where("can_add", "another"))
        take.terms(*_AROUND, "charge", "hope")
        if span.has("line", "another") or any(
            item.text in ("a line", "each line") for item in span.items[span.lo : span.hi]
        ):
            take.terms("each")
            yield take.reading(WhatIf(add=(SaidLay(lines=(SaidLine(),)),)), cost=0.05)


def _bare_length(span: Span, lay: LayReading) -> float:
    """ "Can I get 1000": a number alone may be feet or a flow; it is no line to add."""
    hoses = [hose for one in lay.lays for line in one.lines for hose in line.hose if line.name is None]
    alone = any(hose.hose_in is None and hose.length_ft is not None for hose in hoses)
    return 0.6 if alone and not any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")) else 0.0


@reads("what_if_shut")
def read_what_if_shut(span: Span) -> Iterable[Candidate]:
    """ "what if I shut crosslay one"."""
    if span.has("charge") or span.items[span.first("what_if_shut")].text == "without":
        return
    take = Take(span, *span.where("what_if_shut", "what_happens"))
    take.terms("shut", "hope", "cond")
    for ref, cost in lines_meant(span, take):
        take.terms("shut", "line")
        yield take.reading(WhatIf(shut=ref), cost=cost)
        return
    yield take.reading(WhatIf(shut=LineRef()), cost=0.25)
