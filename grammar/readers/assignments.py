"""Reads assignments and rehab."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Assign, ComingOut, Command, Exit, Rehab, Status
from grammar.costs import FAIR, LIKELY, UNSURE
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.gauges import members
from grammar.readers.said import answering, beside, holds, marks, text_at, unreported
from grammar.readers.tasks import done_as, task_said
from grammar.vocabulary import word_list


@reads("rehab", "rehab_back")
def read_rehab(span: Span) -> Iterable[Candidate]:
    """ "engine 9 to rehab", "truck 4 back from rehab"."""
    if span.has("reminders", "snooze", "stop_reminder") and not span.has("is:unit"):
        return
    i = span.first("rehab_back", "rehab")
    back = "rehab_back" in span.items[i].concepts or text_at(span, i - 1) in word_list("benchmarks_from")
    take = Take(span, *span.where("rehab", "rehab_back"))
    unit = take.unit()
    beside(take, "rehab_beside")
    take.free(*word_list("rehab_tired"))
    stance = span.stance(i)
    if "ask" in span.items[i].polarity:
        take.free(*word_list("rehab_asked"))
        yield answering(take, Status("rehab", unit))
        return
    going_to = unit and {span.items[k].text for k in marks(span)} <= word_list("rehab_going")
    if stance in ("denied", "asked") or (stance == "hoped" and not going_to):
        yield unreported(take, stance, Rehab.intent)
        return
    take.mark(*marks(span))
    out = None if back or unit is None else _way_out(take, unit)
    if out is not None:
        yield take.reading(out, Rehab(unit), cost=-FAIR)
    else:
        yield take.reading(Rehab(unit, back), cost=0 if unit else UNSURE)


def _way_out(take: Take, unit: str) -> Command | None:
    """ "Engine 9 is out, send them to rehab" is both, and so is "coming out, going to rehab"."""
    span = take.span
    coming = span.has("coming_out") and span.stance(span.first("coming_out")) == "said"
    i = next((k for k in span.where("exit") if not span.items[k].text.startswith("out of")), span.first("exit"))
    out = 0 <= i < span.first("rehab") and span.stance(i) in ("said", "ordered")
    if not coming and not out:
        return None
    take.terms("coming_out", "with_crew", "people_word", "building")
    take.free(*word_list("rehab_sent"))
    return ComingOut(unit) if coming else Exit(unit, members(take))


@reads("is:unit")
def read_assign(span: Span) -> Iterable[Candidate]:
    """ "engine 9, division 2, search", "truck 4 to the roof"."""
    led = span.content()[0] < span.kinds("unit")[0] and text_at(span, span.lo) not in word_list("assign_leads")
    told = any(span.items[i].text.startswith("you") for i in span.where("assign"))
    if led or span.has(*word_list("assign_otherwise")) or (span.has("in_place") and not told):
        return
    take = Take(span)
    unit, place = take.unit(), take.place()
    task = task_said(take) or _group_said(take)
    if unit is None or (place is None and task is None):
        return
    place = place or take.place()
    take.terms("role_officer", "working_for", *(["in_place"] if told else []))
    _together_with(take)
    staffing = members(take) if span.has("with_crew") else None
    beside(take, "assign_beside")
    yield _assigned(take, unit, place, task, staffing)


def _assigned(take: Take, unit: str, place: str | None, task: str | None, staffing: int | None) -> Candidate:
    """As it was said: sent, asked about, denied or hoped."""
    span = take.span
    stance = span.stance(*(i for i in range(span.lo, span.hi) if take.taken(i) and span.items[i].kind != "unit"))
    if stance == "asked":
        done = done_as(task) if holds(span, "assign_done", 0) else None
        return answering(take, Status(done or "units", unit), FAIR + FAIR)
    if stance == "denied" or (stance == "hoped" and not span.has("assign")):
        return unreported(take, stance, Assign.intent)
    take.mark(*marks(span))
    sent = text_at(span, span.lo) in word_list("assign_sends")
    return take.reading(Assign(unit, place, task, staffing), cost=-LIKELY if sent else LIKELY)


def _group_said(take: Take) -> str | None:
    """The group or division that a company becomes: "truck 4's officer has the vent group"."""
    for i in take.open():
        item = take.span.items[i]
        if item.kind == "unit" and any(c.startswith("crew:") and c != "crew:everyone" for c in item.concepts):
            take.mark(i)
            return str(item.value)
    return None


def _together_with(take: Take) -> None:
    """What goes along: "… with squad 1 and engine 17", "… with an inch and three quarter"."""
    items, span = take.span.items, take.span
    start = next((i for i in take.open() if items[i].text in word_list("assign_with")), span.hi)
    along = range(start, span.hi)
    hose = any(items[i].unit == "in" or items[i].kind in ("family", "line", "unit") for i in along)
    if hose and not any(items[i].kind == "sep" or items[i].unit in ("ft", "gpm", "psi") for i in along):
        kinds = ("unit", "num", "family", "line")
        take.mark(*(i for i in along if items[i].free or items[i].kind in kinds or "and" in items[i].concepts))


@reads("assign")
def read_assigned_too(span: Span) -> Iterable[Candidate]:
    """ "Truck 4 on scene, take the roof": the unit was named in what came right before."""
    first = next(iter(span.content()), span.lo)
    item = span.items[first]
    if span.has("is:unit") or "assign" not in item.concepts or item.text in word_list("assign_gets"):
        return
    named = {str(item.value) for item in span.items[: span.lo] if item.kind == "unit"}
    if len(named) != 1 or span.stance(first) not in ("said", "ordered"):
        return
    take = Take(span, first)
    place, task = take.place(), task_said(take)
    place = place or take.place()
    if place is not None or task is not None:
        take.terms("assign", "move_to", "into", "for_noise")
        yield take.reading(Assign(named.pop(), place, task), cost=LIKELY)
