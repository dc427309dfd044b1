"""Reads supply pumping: to another engine, in a relay, through hose laid from a hydrant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec.structs import replace

from grammar.commands import Question, SaidHose, SupplyPressure
from grammar.costs import FAIR, LIKELY, SURE, UNLIKELY, UNSURE
from grammar.describe import inches
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import lays_without
from grammar.readers.supply_lay import LARGE_IN, ldh_in, supply_line, supply_pressure
from grammar.saying import Sayer
from grammar.slots import fill, slots
from grammar.vocabulary import word_list

_LEAST_IN = 2.5
"""Smaller hose supplies no engine (common practice)."""


def _said(take: Take, *fields: str) -> dict[str, Any]:
    return fill({field: slots()[f"supply_{field}"] for field in fields}, take)


def supply_hose(span: Span, take: Take) -> tuple[SaidHose, ...]:
    """Takes one run of supply hose: its size, its length, how many lines side by side."""
    said = _said(take, "length_ft", "hose_in", "parallel")
    size = said.get("hose_in")
    if size is None and take.term("ldh") >= 0:
        size = ldh_in(span.context)
        take.notes.append(f"LDH: {inches(size)} in hose")
    pair = take.terms("pair")
    hose = SaidHose(size, said.get("length_ft"), 2 if pair else said.get("parallel", 1))
    return () if size is None and hose.length_ft is None else (hose,)


def flow_said(span: Span, take: Take) -> float | None:
    """Takes a flow said in its unit, beside "flowing", after "at", or alone behind a pause at the end."""
    flow: float | None = _said(take, "flow_gpm").get("flow_gpm")
    last, item = span.hi - 1, span.items[span.hi - 1]
    lone = item.kind == "num" and item.unit is None and item.form in ("int", "hundreds") and item.number % 10 == 0
    paused = last > span.lo and span.items[last - 1].kind == "sep" and span.has("supply_to", "relay")
    if flow is None and lone and paused and item.number >= 100 and not take.taken(last):
        take.mark(last)
        take.cost += FAIR
        return in_unit(item, "gpm", None)
    return flow


def _rise(span: Span, take: Take) -> float | None:
    feet: float | None = _said(take, "rise_ft").get("rise_ft")
    if feet is None:
        return None
    take.terms("up", "down", "elevation")
    return -abs(feet) if span.has("down") and not span.has("up") else feet


@reads("supply_to", "relay", "on_nurse", "from_hydrant", "apart", "feed", "supply_loss", "longest", "is:unit")
def read_supply_pressure(span: Span) -> Iterable[Candidate]:
    """ "supplying engine 9, 500 feet of 5 inch, 1000 gpm", "relay 1000 gpm through 800 feet of 5"."""
    hydrant = span.has("from_hydrant") or (span.has("hydrant_word") and span.has("supply_loss"))
    fed = span.has("supply_to", "feed", "relay", "into", "on_nurse") or _toward(span) or _sizes(span)[:1] >= [LARGE_IN]
    to_engine = span.has("is:unit") and bool(fed)
    if not (to_engine or hydrant or span.has("relay", "supply_to", "apart") or large_lay(span)):
        return
    if span.has(*word_list("supply_unless")) or any(span.items[i].unit == "min" for i in span.kinds("num")):
        return
    yield from _laid(span, to_engine, hydrant)
    take = Take(span, *span.where("supply_to", "relay", "apart"))
    longest = span.has("longest", "apart")
    command = SupplyPressure(
        to_unit=take.unit() if to_engine else None,
        rise_ft=_rise(span, take),
        relay_engines=_said(take, "relay_engines").get("relay_engines"),
        flow_gpm=flow_said(span, take),
        from_hydrant=hydrant,
        max_length=longest,
    )
    psi = take.number("psi", "bar", "kpa")
    command = replace(command, hose=supply_hose(span, take))
    if psi is None and longest:
        psi = take.number("psi", None, low=50, high=400)
    field = "hydrant_psi" if hydrant and not longest else "pump_pressure_psi"
    command = _apart(span, replace(command, **{field: psi}))
    take.terms(*word_list("supply_around"))
    yield from _as_asked(take, command, to_engine)


def _apart(span: Span, command: SupplyPressure) -> SupplyPressure:
    """ "How many engines to relay … over 3,000 feet": the feet are the distance, no one hose's."""
    if not command.hose or command.hose[0].length_ft is None or not _how_many(span):
        return command
    hose = replace(command.hose[0], length_ft=None)
    return replace(command, distance_ft=command.hose[0].length_ft, hose=(hose,))


def _how_many(span: Span) -> bool:
    return any(span.items[i].text.startswith(tuple(word_list("supply_how_many"))) for i in span.where("relay"))


def _as_asked(take: Take, command: SupplyPressure, to_engine: bool) -> Iterator[Candidate]:
    """The command where size, way and flow were said; else the first of them is asked for."""
    span, hose = take.span, command.hose[0] if command.hose else None
    far = hose is not None and (hose.length_ft is not None or command.max_length or command.distance_ft is not None)
    if hose is not None and far and hose.hose_in is not None and command.flow_gpm is not None:
        if command.flow_gpm <= 0 or (hose.length_ft is not None and hose.length_ft <= 0):
            yield take.declining(sentence("no_supply"), SupplyPressure.intent, LIKELY)
            return
        cost = SURE if span.has("supply_to", "relay", "from_hydrant", "apart", "feed") else FAIR
        if command.to_unit is None and not command.from_hydrant and hose.hose_in < _LEAST_IN:
            cost += UNLIKELY  # "give them 160 through 350 feet of inch and three quarter": a line, no supply
        yield take.reading(command, cost=cost)
        return
    supplying = span.has("supply_to", "relay")
    known = hose is not None or command.flow_gpm is not None or (supplying and (to_engine or span.has("relay")))
    if known and (supplying or (command.from_hydrant and hose is not None)):
        yield take.asking(_lacking(command, Sayer(span.context.wording)), SupplyPressure.intent, UNSURE)


def _laid(span: Span, to_engine: bool, hydrant: bool) -> Iterator[Candidate]:
    """Supply hose typed as any hose is: "feeding engine 9 with two parallel 3 inch lines, 500 feet, 900 total"."""
    pressed = any(span.items[i].unit in ("psi", "bar", "kpa") for i in span.kinds("num"))
    if pressed or span.has("longest", "apart") or _how_many(span):
        return
    units = span.kinds("unit")
    named = {str(span.items[i].value).rpartition(" ")[2] for i in units}
    bare = [i for i in span.kinds("num") if span.items[i].unit is None]
    again = [i for i in bare if f"{span.items[i].number:g}" in named or _company(span, i)]
    said = [*span.where(*word_list("supplying")), *units, *again, *_toward(span)]
    for lay in lays_without(span, *said)[:2]:
        open_ = (lay.unknown_name, lay.family, lay.wrong, lay.missing, lay.rise_asked, lay.or_else)
        if len(lay.lays) != 1 or any(open_):
            continue
        line = supply_line(span.context, lay.lays[0], said=True)
        if line is None or line.nozzle.flow_gpm is None or line.floor is not None:
            continue
        take = Take(span, *said)
        take.used |= lay.used
        take.terms(*word_list("supply_around"))
        unit = str(span.items[units[0]].value) if to_engine and units else None
        command = replace(supply_pressure(line, friction=False), to_unit=unit, from_hydrant=hydrant)
        yield take.reading(command, cost=lay.cost)


def _company(span: Span, i: int) -> bool:
    """ "Feeding 9 with …": whom, by the number alone."""
    after = span.items[i + 1].text if i + 1 < span.hi else ""
    fed = i > span.lo and not span.items[i - 1].concepts.isdisjoint(("feed", "supply_to"))
    return fed and span.items[i].form == "int" and span.items[i].number < 100 and after in word_list("supply_with")


def large_lay(span: Span) -> bool:
    """ "How far can I pump 5 inch": how far is asked of supply hose."""
    return span.has("longest") and (_sizes(span)[:1] >= [LARGE_IN] if _sizes(span) else span.has("ldh"))


def _sizes(span: Span) -> list[float]:
    """The hose sizes that were said, the smallest first."""
    numbers = (span.items[i] for i in span.kinds("num"))
    return sorted(item.number for item in numbers if item.unit == "in" or "hose_said" in item.concepts)


def _toward(span: Span) -> list[int]:
    """ "… to engine 9": where the "to" stands."""
    before = (i - 1 for i in span.kinds("unit") if i > span.lo)
    return [i for i in before if span.items[i].text in word_list("supply_toward")]


def _lacking(command: SupplyPressure, say: Sayer) -> Question:
    if not command.hose or command.hose[0].hose_in is None:
        return Question(sentence("which_supply_hose", unit=say.length_unit), (), command, "hose")
    if command.hose[0].length_ft is None and not command.max_length:
        return Question(sentence("how_much_supply_hose", unit=say.length_unit), (), command, "length_ft")
    return Question(sentence("at_how_many", unit=say.flow_unit), (), command, "flow_gpm")
