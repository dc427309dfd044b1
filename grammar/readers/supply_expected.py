"""What is made of a supply on its way: the hose that is laid, and whether it is a tender; declared in water.toml."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import SupplyExpected
from grammar.costs import UNSURE
from grammar.frames import then
from grammar.readers.base import Candidate, Span, Take
from grammar.readers.supply import supply_hose
from grammar.vocabulary import word_list


@then
def on_its_way(take: Take, command: SupplyExpected) -> Candidate:
    """With its hose, and with its kind where the name of the unit or the words say it."""
    command = _whole(take, command)
    nothing = command == SupplyExpected()
    return take.reading(command, cost=UNSURE if nothing else 0)


@then
def hose_laid(take: Take, command: SupplyExpected) -> Candidate | None:
    """The hose that a unit lays."""
    command = _whole(take, command)
    return take.reading(command) if command.hose else None


@then
def unit_on_its_way(take: Take, command: SupplyExpected) -> Candidate | None:
    """A unit and when it comes; a tender's miles say where it is, and its minutes are asked."""
    command = _whole(take, command)
    miles = _miles_out(take.span) if command.kind == "tender" else -1
    take.mark(miles)
    alone = command.kind == "tender" or _only_unit(take.span)
    return take.reading(command) if miles >= 0 or (command.minutes is not None and alone) else None


def _whole(take: Take, command: SupplyExpected) -> SupplyExpected:
    span = take.span
    hose = supply_hose(span, take) if any(span.items[i].unit in ("ft", "m") for i in span.kinds("num")) else ()
    kind = command.kind
    laid = {w for i in span.where("laying_in", "supply_coming", "laying_hydrant") for w in span.items[i].text.split()}
    if kind is None and not laid.isdisjoint(word_list("hydrants")):
        kind = "hydrant"
    if kind is None and command.unit is not None and command.unit.split()[0] in word_list("tenders"):
        kind = "tender"
    return replace(command, hose=hose, kind=kind)


def _miles_out(span: Span) -> int:
    """ "Tender 6 is two miles out": the number, or -1."""
    far = (i for i in span.kinds("num") if span.items[i].unit in ("mi", "km") and i + 1 < span.hi)
    return next((i for i in far if "minutes_out" in span.items[i + 1].concepts), -1)


def _only_unit(span: Span) -> bool:
    """ "Two minutes out, engine 9": a unit, its minutes, and nothing else."""
    rest = [i for i in span.content() if span.items[i].kind not in ("unit", "num")]
    alone = all("minutes_out" in span.items[i].concepts for i in rest)
    return alone and len(span.kinds("unit")) == 1 and len(span.kinds("num")) == 1
