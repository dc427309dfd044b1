"""Reads supply pumping: to another engine, in a relay, through hose laid from a hydrant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from grammar.commands import Question, SaidHose, SupplyPressure
from grammar.describe import inches
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.layout import lays_without
from grammar.readers.supply_lay import LARGE_IN, ldh_in, supply_line, supply_pressure
from grammar.saying import Sayer
from grammar.vocabulary import word_list

_LEAST_IN = 2.5
"""Smaller hose supplies no engine (common practice)."""


def supply_hose(span: Span, take: Take) -> tuple[SaidHose, ...]:
    """Takes one run of supply hose: its size, its length, how many lines side by side."""
    feet = take.number("ft", "m")
    size: float | None = None
    for i in span.kinds("num"):
        item = span.items[i]
        if take.taken(i) or item.form == "ordinal":
            continue
        if item.unit == "in" or (
            item.unit is None and (item.form in ("mixed", "decimal") or _after_of(span, i)) and item.number <= 6
        ):
            size = item.number
            take.mark(i)
            break
    if size is None and take.term("ldh") >= 0:
        size = ldh_in(span.context)
        take.notes.append(f"LDH: {inches(size)} in hose")
    parallel = 1
    for i in span.kinds("num"):
        item = span.items[i]
        if (
            not take.taken(i)
            and item.unit is None
            and item.number in (2, 3, 4)
            and item.form == "int"
            and (span.has("line", "feed", "siamese") or "pair" in item.concepts)
        ):
            take.mark(i)
            parallel = int(item.number)
            break
    if take.term("pair") >= 0:
        parallel = 2
    if size is None and feet is None:
        return ()
    return (SaidHose(size, feet, parallel),)


def _after_of(span: Span, i: int) -> bool:
    return i > span.lo and span.items[i - 1].text in ("of", "of hose")


def flow_said(span: Span, take: Take) -> float | None:
    """Takes a flow said in its unit, beside "flowing", or after "at"."""
    flow = take.number("gpm", "lpm", "gal", low=50 / 3.785411784)
    if flow is None and span.first("flowing") >= 0:
        flow = take.number_near(span.first("flowing"), "gpm", None, low=50, high=5000)
    if flow is None:
        for i in span.kinds("num"):
            item = span.items[i]
            if (
                item.unit is None
                and item.number >= 100
                and i > span.lo
                and next((x.text for x in reversed(span.items[span.lo : i]) if x.text != "a"), "") in ("at", "@")
                and not take.taken(i)
            ):
                take.mark(i)
                return in_unit(item, "gpm", None)
    return flow if flow is not None else _bare_flow(span, take)


def _bare_flow(span: Span, take: Take) -> float | None:
    """ "Supplying engine 9, 500 feet of 5 inch, 1000": the number that is left, behind a pause at the end."""
    last = span.hi - 1
    item = span.items[last]
    paused = last > span.lo and span.items[last - 1].kind == "sep" and span.has("supply_to", "relay")
    lone = item.kind == "num" and item.unit is None and item.form in ("int", "hundreds") and item.number >= 100
    if not (paused and lone) or item.number % 10 or take.taken(last):
        return None
    take.mark(last)
    take.cost += 0.1
    return in_unit(item, "gpm", None)


def _rise(span: Span, take: Take) -> float | None:
    for i in span.kinds("num"):
        item = span.items[i]
        feet = in_unit(item, "ft", "m") if item.unit in ("ft", "m") else None
        if feet is None:
            continue
        near = set().union(*(span.items[k].concepts for k in range(max(i - 2, span.lo), min(i + 2, span.hi)) if k != i))
        if near & {"up", "down", "elevation"}:
            take.mark(i)
            take.terms("up", "down", "elevation")
            return -abs(feet) if "down" in near and "up" not in near else feet
    return None


@reads("supply_to", "relay", "from_hydrant", "apart", "feed", "supply_loss", "longest", "is:unit")
def read_supply_pressure(span: Span) -> Iterable[Candidate]:
    """ "supplying engine 9, 500 feet of 5 inch, 1000 gpm", "relay 1000 gpm through 800 feet of 5"."""
    units = span.kinds("unit")
    hydrant = span.has("from_hydrant") or (span.has("hydrant_word") and span.has("supply_loss"))
    to_engine = bool(units) and (span.has("supply_to", "feed", "relay", "into") or _toward(span))
    if not (to_engine or hydrant or span.has("relay", "supply_to", "apart") or large_lay(span)):
        return
    if span.has(
        "minutes_out", "supply_coming", "static", "residual", "pitot", "on_relay", "relay_from", "tank_time"
    ) or any(span.items[i].unit == "min" for i in span.kinds("num")):
        return
    yield from _laid(span, to_engine, hydrant)
    take = Take(span, *span.where("supply_to", "relay", "apart"))
    unit = take.unit() if to_engine else None
    rise = _rise(span, take)
    engines = None
    for i in span.kinds("num"):
        after = span.items[i + 1] if i + 1 < span.hi else None
        if (
            after is not None
            and span.items[i].unit is None
            and after.text in ("engines", "pumpers", "engine")
            and span.items[i].number <= 12
        ):
            engines = int(span.items[i].number)
            take.mark(i, i + 1)
    flow = flow_said(span, take)
    longest = span.has("longest", "apart")
    psi = take.number("psi", "bar", "kpa")
    hose = supply_hose(span, take)
    if psi is None and longest:
        psi = take.number("psi", None, low=50, high=400)
    hydrant_psi = psi if hydrant and not longest else None
    distance = None
    if any(span.items[i].text.startswith("how many") for i in span.where("relay")) and hose and hose[0].length_ft:
        distance, hose = hose[0].length_ft, (SaidHose(hose[0].hose_in, None, hose[0].parallel),)
    take.terms(*word_list("supply_around"))
    command = SupplyPressure(
        hose=hose,
        flow_gpm=flow,
        from_hydrant=hydrant,
        hydrant_psi=hydrant_psi,
        to_unit=unit,
        rise_ft=rise,
        relay_engines=engines,
        distance_ft=distance,
        pump_pressure_psi=None if hydrant_psi is not None else psi,
        max_length=longest,
    )
    far = bool(hose) and (hose[0].length_ft is not None or longest or distance is not None)
    whole = far and hose[0].hose_in is not None and flow is not None
    if whole:
        if (flow is not None and flow <= 0) or (hose[0].length_ft is not None and hose[0].length_ft <= 0):
            yield take.declining("A supply needs a flow and a length above zero.", SupplyPressure.intent, 0.05)
            return
        cost = 0.0 if (span.has("supply_to", "relay", "from_hydrant", "apart", "feed")) else 0.12
        if unit is None and not hydrant and hose[0].hose_in is not None and hose[0].hose_in < _LEAST_IN:
            cost += 0.6  # "give them 160 through 350 feet of inch and three quarter": a line, no supply
        yield take.reading(command, cost=cost)
        return
    if not hose and flow is None and not (span.has("supply_to", "relay") and (to_engine or span.has("relay"))):
        return
    if not (span.has("supply_to", "relay") or (hydrant and hose)):
        return
    yield take.asking(_lacking(command, longest, Sayer(span.context.wording)), SupplyPressure.intent, 0.3)


def _laid(span: Span, to_engine: bool, hydrant: bool) -> Iterator[Candidate]:
    """Supply hose typed as any hose is: "feeding engine 9 with two parallel 3 inch lines, 500 feet, 900 total"."""
    if span.has("longest", "apart") or any(span.items[i].text.startswith("how many") for i in span.where("relay")):
        return
    if any(span.items[i].unit in ("psi", "bar", "kpa") for i in span.kinds("num")):
        return
    units = span.kinds("unit")
    named = {str(span.items[i].value).rpartition(" ")[2] for i in units}
    again = [i for i in span.kinds("num") if span.items[i].unit is None and f"{span.items[i].number:g}" in named]
    toward = [i - 1 for i in units if i > span.lo and span.items[i - 1].text in ("to", "into")]
    said = [*span.where(*_SUPPLYING), *units, *again, *toward]
    for lay in lays_without(span, *said)[:2]:
        if (
            len(lay.lays) != 1
            or lay.unknown_name
            or lay.family
            or lay.wrong
            or lay.missing
            or lay.rise_asked
            or lay.or_else
        ):
            continue
        line = supply_line(span.context, lay.lays[0], said=True)
        if line is None or line.nozzle.flow_gpm is None or line.floor is not None:
            continue
        take = Take(span, *said)
        take.used |= lay.used
        unit = str(span.items[units[0]].value) if to_engine and units else None
        take.terms(*word_list("supply_around"))
        command = replace(supply_pressure(line, friction=False), to_unit=unit, from_hydrant=hydrant)
        yield take.reading(command, cost=lay.cost)


_SUPPLYING = ("supply_to", "relay", "feed", "siamese", "from_hydrant", "hydrant_word", "supply_loss", "supply_word")


def large_lay(span: Span) -> bool:
    """ "How far can I pump 5 inch": how far is asked of supply hose."""
    sizes = [span.items[i] for i in span.kinds("num")]
    sized = [s.number for s in sizes if s.unit == "in" or "hose_said" in s.concepts]
    return span.has("longest") and ((bool(sized) and min(sized) >= LARGE_IN) or (not sized and span.has("ldh")))


def _toward(span: Span) -> bool:
    """ "… to engine 9"."""
    return any(span.items[i - 1].text in ("to", "to the", "into") for i in span.kinds("unit") if i > span.lo)


def _lacking(command: SupplyPressure, longest: bool, say: Sayer) -> Question:
    if not command.hose or command.hose[0].hose_in is None:
        return Question(f"Through which supply hose, and how many {say.length_unit}?", (), command, "hose")
    if command.hose[0].length_ft is None and not longest:
        return Question(f"How many {say.length_unit} of supply hose?", (), command, "length_ft")
    return Question(f"At how many {say.flow_unit}?", (), command, "flow_gpm")
