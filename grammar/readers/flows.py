"""Reads the other questions at the pump panel: flow at a pressure, longest lay, tip, nozzle, what if."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from grammar.commands import (
    Choice,
    FlowAtPressure,
    LineRef,
    LongestLay,
    Nozzle,
    PumpPressure,
    Question,
    SaidLay,
    SaidLine,
    SaidNozzle,
    TipForFlow,
    WhatIf,
)
from grammar.costs import DOUBTFUL, FAIR, LIKELY, SURE, UNLIKELY, UNSURE, WEAK
from grammar.frames import then
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import LayReading, lays_without, read_lays, whichever
from grammar.readers.lines import lines_meant
from grammar.readers.said import holds
from grammar.readers.sizes import MOST_NOZZLE_PSI
from grammar.readers.supply import large_lay
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_PRESSURES = ("psi", "bar", "kpa")
_AT_PUMP_PSI = (50, 300)
"""A bare number within these is a pump's pressure, behind "at" or on a gauge."""
_LEAST_FLOW = 90
"""A bare number below it is a tip's pressure: "inch and three eighths flowing at 80"."""
_LARGEST_TIP_IN = 3.5
_TIP_PSI = (20, 130)
"""What a smooth bore is worked at, at least and at most (common practice)."""


def plain(lay: LayReading) -> bool:
    """Nothing is open about it."""
    return lay.missing is None and not lay.unknown_name and not lay.family and lay.wrong is None


def _pressures(span: Span) -> list[int]:
    return [i for i in span.kinds("num") if span.items[i].unit in _PRESSURES]


def _bare_at(span: Span, low: float, high: float) -> list[int]:
    """Bare numbers in between that stand behind "at" or on a gauge; the one that is a limit first."""
    bare = [i for i in span.kinds("num") if span.items[i].unit is None and low <= span.items[i].number <= high]
    limits = [i for i in bare if holds(span, "flows_limit", max(i - 2, span.lo), i)]
    return limits + [i for i in bare if i not in limits and (_after_at(span, i) or _on_a_gauge(span, i))]


def _on_a_gauge(span: Span, i: int) -> bool:
    """ "160 showing", "160 on the gauge"."""
    after = span.items[i + 1] if i + 1 < span.hi else None
    return after is not None and (after.text in word_list("flows_gauge") or "pump_word" in after.concepts)


def _after_at(span: Span, i: int) -> bool:
    before = span.items[i - 1] if i > span.lo else None
    at = word_list("tested_at")
    return before is not None and (before.text.split()[-1] in at or "pump_word" in before.concepts)


def _leads_with_flow(span: Span) -> bool:
    first = span.items[span.lo : min(span.lo + 2, span.hi)]
    return any(item.kind != "num" and item.text in word_list("flows_first") for item in first)


def _pumped(span: Span) -> bool:
    """ "200 feet of 1.75 pumping 200 psi": a pump pressure beside the lay."""
    beside = (span.items[i - 1] for i in _pressures(span) if i > span.lo)
    return any("pump_word" in item.concepts and item.text in word_list("flows_pumping") for item in beside)


@reads("ask_flow", "pump_word", "flowing", "pumping_what", "unit:gpm")
def read_flow_at_pressure(span: Span) -> Iterable[Candidate]:
    """ "what do I flow at 150 psi with 200 feet of inch and three quarter"."""
    asked = span.has("ask_flow", "pumping_what") or (span.has("flowing") and span.has("pump_word"))
    if span.has("from_hydrant", "supply_to", "relay") or not (asked or _leads_with_flow(span) or _pumped(span)):
        return
    said = _pressures(span)
    for i in (said or _bare_at(span, *_AT_PUMP_PSI))[:2]:
        psi = in_unit(span.items[i], "psi", None) or 0.0
        lays = lays_without(span, i)
        for lay in map(whichever, lays[:3]):
            take = Take(span, i, cost=SURE if said else FAIR if _on_a_gauge(span, i) else WEAK)
            take.used |= lay.used
            take.terms(*word_list("flows_around"), "pumping_what", "unit:gpm", "unit:gal")
            take.free(*word_list("flows_verbs"))
            command = FlowAtPressure(lay.lays, psi)
            if plain(lay):
                yield take.reading(command, cost=lay.cost)
            elif lay.missing is not None and lay.missing.slot in ("hose_in", "length_ft"):
                unit = Sayer(span.context.wording).length_unit
                question = Question(sentence("which_hose", unit=unit), (), command, "lay")
                yield take.asking(question, command.intent, lay.cost + UNSURE)
        if not lays:
            take = Take(span, i, cost=UNSURE)
            take.terms(*word_list("flows_around"), "pumping_what")
            command = FlowAtPressure((), psi)
            yield take.asking(Question(sentence("through_which"), (), command, "lay"), command.intent)


@reads("unit:psi", "unit:bar", "unit:kpa", "is:num")
def read_at_pressure(span: Span) -> Iterable[Candidate]:
    """ "Crosslay one at 170 psi": more than a nozzle's pressure; at the pump or at the nozzle?"""
    if not span.has("is:line", "is:family") or span.has(*word_list("flows_at_else")):
        return
    at = [i for i in _pressures(span) if _after_at(span, i)]
    psi = in_unit(span.items[at[0]], "psi") if len(at) == 1 else None
    lays = lays_without(span, at[0])[:1] if psi is not None and psi > MOST_NOZZLE_PSI else ()
    for lay in lays:
        if psi is None or not plain(lay):
            continue
        take = Take(span, at[0])
        take.used |= lay.used
        take.terms(*word_list("flows_around"))
        nozzled = (
            replace(one, lines=tuple(replace(li, nozzle=replace(li.nozzle, nozzle_psi=psi)) for li in one.lines))
            for one in lay.lays
        )
        pump = Choice(sentence("flow_at_the_pump"), (FlowAtPressure(lay.lays, psi),))
        nozzle = Choice(sentence("at_the_nozzle"), (PumpPressure(tuple(nozzled)),))
        said = Sayer(span.context.wording).psi(psi)
        yield take.asking(Question(sentence("pump_or_nozzle", psi=said), (pump, nozzle)), "pump_pressure", lay.cost)


@reads("longest")
def read_longest(span: Span) -> Iterable[Candidate]:
    """ "how far can I stretch inch and three quarter at 200 psi flowing 150"."""
    if span.has("relay", "supply_to", "apart", "is:unit") or large_lay(span):
        return
    take = Take(span, *span.where("longest"))
    psi = take.number(*_PRESSURES)
    if psi is None and (bare := _bare_at(span, 75, 400)):
        psi = in_unit(span.items[bare[0]], "psi", None)
        take.mark(bare[0])
    for lay in lays_without(span, *(k for k in range(span.lo, span.hi) if take.taken(k)))[:3]:
        lines = lay.lays[0].lines if len(lay.lays) == 1 and not lay.unknown_name and not lay.family else ()
        if not lines or not (lines[0].name or any(hose.hose_in is not None for hose in lines[0].hose)):
            continue
        inner = Take(span)
        inner.used = take.used | lay.used
        inner.terms(*word_list("flows_around"), "tip", "nozzle", "can_add")
        known = any(hose.length_ft is not None for hose in lines[0].hose)  # then that hose isn't what is asked about
        yield inner.reading(LongestLay(lay.lays[0], psi), cost=lay.cost + (DOUBTFUL if known else SURE))


def _guns(span: Span) -> list[int]:
    """The rig's master streams that are named."""
    keys = {line.key for line in span.context.rig_lines if line.device in ("deck_gun", "monitor", "aerial")}
    return [i for i in span.kinds("line") if span.items[i].value in keys]


@then
def tip_wanted(take: Take, command: TipForFlow) -> Candidate:
    """Of a master stream where one of the rig's is named."""
    guns = _guns(take.span)
    take.mark(*guns)
    return take.reading(replace(command, master_stream=command.master_stream or bool(guns)))


@reads("ask_flow", "reaction", "tip", "flowing", "smooth_bore", "nozzle", "unit:gpm", "through")
def read_nozzle(span: Span) -> Iterable[Candidate]:
    """ "what does a 15/16 flow at 50?", "reaction, fog, 150 gpm at 100 psi", "95 gpm through a 1 1/8 tip"."""
    guns = _guns(span)
    if guns != span.kinds("line") or any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")):
        return
    take = Take(span, *span.where(*word_list("flows_nozzle")), *guns)
    tip = _tip_size(span, take)
    flow = take.number("gpm", "lpm", "gal")
    if flow is None and tip is not None and not span.has("ask_flow") and (at := span.first("flowing")) >= 0:
        flow = take.number_near(at, "gpm", None, low=_LEAST_FLOW)
    psi = take.number(*_PRESSURES, low=15, high=250)
    at = -1 if psi is not None else _bare_number(take)
    take.terms(
        *word_list("flows_around"), "unit:gpm", "unit:gal", *(("pump_word",) if span.has("ask_pressure") else ())
    )
    if tip is None and (flow is None or not span.has("reaction")):
        return
    kind = "smooth_bore" if tip is not None else "fog" if span.has("fog") else None
    device = "deck_gun" if guns or span.has("deck_gun") else "monitor" if span.has("monitor") else None
    take.cost += _unasked(span, tip, flow, bool(device))
    command = Nozzle(SaidNozzle(kind, tip, flow, nozzle_psi=psi), device)  # type: ignore[arg-type]
    yield take.reading(command) if at < 0 else _at(take, command, at)


def _at(take: Take, command: Nozzle, i: int) -> Candidate:
    """With a number that was said without a unit: a pressure, a flow, or asked which ("22 mm tip at 600")."""
    nozzle, item, say = command.nozzle, take.span.items[i], Sayer(take.span.context.wording)
    psi, gpm = in_unit(item, "psi", None) or 0.0, in_unit(item, "gpm", None) or 0.0
    by_psi = replace(command, nozzle=replace(nozzle, nozzle_psi=psi))
    by_flow = replace(command, nozzle=replace(nozzle, flow_gpm=gpm))
    of_tip = nozzle.tip_in is not None and nozzle.flow_gpm is None
    pressure = 15 <= psi <= (MOST_NOZZLE_PSI if nozzle.tip_in else 250)
    if of_tip and pressure and _gives(nozzle.tip_in or 0.0, gpm):
        choices = (Choice(say.gpm(gpm), (by_flow,)), Choice(say.psi(psi), (by_psi,)))
        said = sentence("flow_or_psi", flow=say.gpm(gpm), psi=say.psi(psi))
        return take.asking(Question(said, choices), command.intent)
    return take.reading(by_psi if pressure else by_flow if of_tip else command)


def _bare_number(take: Take) -> int:
    """Takes the first whole number without a unit; -1 where there is none."""
    items = take.span.items
    bare = (i for i in take.open() if items[i].kind == "num" and items[i].unit is None)
    i = next((i for i in bare if items[i].form in ("int", "hundreds", "digits")), -1)
    take.mark(i)
    return i


def _gives(tip: float, gpm: float) -> bool:
    """A tip gives that flow at some pressure that it is worked at: Q = 29.7 · d² · √NP."""
    return tip > 0 and _TIP_PSI[0] <= (gpm / (29.7 * tip**2)) ** 2 <= _TIP_PSI[1]


def _unasked(span: Span, tip: float | None, flow: float | None, gun: bool) -> float:
    """What it costs that a nozzle is only named: after a lay, or beside lines that are on, it may be theirs."""
    items = span.items[span.lo : span.hi]
    asked = span.has("ask_flow", "reaction") or (span.has("flowing") and span.has("tip")) or _leads_with_flow(span)
    asked = asked or span.said.rstrip().endswith("?") or any("unit:gpm" in item.concepts for item in items)
    alone = span.has("tip") and not span.context.last and not any(line.on for line in span.context.lines)
    cost = SURE if asked or (tip is not None and flow is not None) else FAIR if alone else UNSURE
    if not span.has("tip", "smooth_bore", "reaction", "nozzle") and (tip or 0.0) >= _HOSE_TOO_IN:
        cost += DOUBTFUL
    return cost + (UNSURE if gun and not span.has("ask_flow", "reaction") else SURE)  # its pressure is what is wanted


_HOSE_TOO_IN = 1.5
"""From this size on it may be hose."""


def _tip_size(span: Span, take: Take) -> float | None:
    sizes = [i for i in span.kinds("num") if span.items[i].number <= _LARGEST_TIP_IN and _inches(span, i)]
    i = min(sizes, key=lambda i: (not _tip_beside(span, i), span.items[i].number), default=-1)
    take.mark(i)
    if span.has("reaction"):  # the hose it hangs on changes nothing
        take.mark(*(k for k in span.kinds("num") if i >= 0 and "hose_said" in span.items[k].concepts))
    return span.items[i].number if i >= 0 else None


def _inches(span: Span, i: int) -> bool:
    item = span.items[i]
    part = item.form in ("fraction", "mixed", "decimal")
    return item.form != "ordinal" and (item.unit == "in" or (item.unit is None and (part or _tip_beside(span, i))))


def _tip_beside(span: Span, i: int) -> bool:
    return i + 1 < span.hi and not span.items[i + 1].concepts.isdisjoint(("tip", "nozzle"))


@reads("can_add", "another")
def read_what_if_add(span: Span) -> Iterable[Candidate]:
    """ "can I add a deuce and a half?", "what if I add the rear line"."""
    more = span.has("another") and any("ask_pressure" in item.concepts for item in span.items[span.lo : span.hi + 1])
    if more or span.has("more_pressure", "less_pressure"):
        return  # "can we get more pressure"
    if not span.has("can_add") and span.items[span.lo].text not in word_list("flows_can"):
        return
    for lay in read_lays(span):
        if plain(lay._replace(missing=None)) and lay.pump_psi is None:
            take = Take(span, *span.where("can_add", "another"))
            take.used |= lay.used
            take.terms(*word_list("flows_around"), "charge", "another", "can_report")
            yield take.reading(WhatIf(add=lay.lays), cost=lay.cost + _bare_length(span, lay))
    yield from _any_line(span)


def _any_line(span: Span) -> Iterator[Candidate]:
    """ "Can I take one more line"."""
    said = any(item.text in word_list("flows_a_line") for item in span.items[span.lo : span.hi])
    if span.has("is:num", "is:line", "is:family") or not (said or span.has("line", "another")):
        return
    take = Take(span, *span.where("can_add", "another"))
    take.terms(*word_list("flows_around"), "charge", "hope", "each")
    yield take.reading(WhatIf(add=(SaidLay(lines=(SaidLine(),)),)), cost=LIKELY)


def _bare_length(span: Span, lay: LayReading) -> float:
    """ "Can I get 1000": a number alone may be feet or a flow; it is no line to add."""
    hoses = [hose for one in lay.lays for line in one.lines for hose in line.hose if line.name is None]
    alone = any(hose.hose_in is None and hose.length_ft is not None for hose in hoses)
    return UNLIKELY if alone and not any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")) else SURE


@then
def line_shut(take: Take, command: WhatIf) -> Candidate:
    """ "what if I shut crosslay one": which line."""
    ref, cost = next(iter(lines_meant(take.span, take)), (LineRef(), UNSURE))
    take.terms("shut", "line")
    return take.reading(replace(command, shut=ref), cost=cost)
