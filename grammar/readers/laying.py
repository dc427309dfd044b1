"""Reads the task to lay in and supply another: "engine 9, lay in from the hydrant, 600 feet, supply engine 12"."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Assign, SupplyPressure
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.signs import word_list
from grammar.readers.supply import flow_said, supply_hose


@reads("laying_in", "task_supply")
def read_laying_task(span: Span) -> Iterable[Candidate]:
    """Two units and a length: who lays, how far, and whom it supplies."""
    units = span.kinds("unit")
    at = next((i for i in span.where("laying_in", "task_supply") if "lay" in span.items[i].text), -1)
    if len(units) != 2 or not units[0] < at < units[1] or span.has("minutes_out") or span.stance(at) == "denied":
        return
    take = Take(span, *span.where("laying_in", "supply_to", "supply_word", "task_supply"))
    layer, supplied = take.unit(), take.unit()
    flow, hose = flow_said(span, take), supply_hose(span, take)
    if layer is not None and supplied not in (None, layer) and hose and hose[0].length_ft is not None:
        from_hydrant = take.terms("from_hydrant", "hydrant_word") or "hydrant" in span.items[at].text
        take.terms("order", "verb_send", "assign", "feed", "into", "line", "of_hose", "for_noise", "pull", "move_to")
        take.free(*word_list("laying_beside"))
        take.mark(*(i for i in take.open() if span.items[i].text == "supply"))  # it is a line's name too
        supply = SupplyPressure(hose=hose, flow_gpm=flow, to_unit=supplied)
        yield take.reading(Assign(layer, None, f"lay in{' from the hydrant' if from_hydrant else ''}", supply=supply))
