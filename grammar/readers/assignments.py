"""Reads assignments and rehab."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from grammar.commands import Assign, ComingOut, Exit, Rehab, Status
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.gauges import members
from grammar.readers.incident import marks
from grammar.readers.said import sentence
from grammar.readers.tasks import task_said


@reads("rehab", "rehab_back")
def read_rehab(span: Span) -> Iterable[Candidate]:
    """ "engine 9 to rehab", "truck 4 back from rehab"."""
    if span.has("reminders", "snooze", "stop_reminder") and not span.kinds("unit"):
        return
    i = span.first("rehab_back", "rehab")
    back = "rehab_back" in span.items[i].concepts or (i > span.lo and span.items[i - 1].text == "from")
    take = Take(span, *span.where("rehab", "rehab_back"))
    unit = take.unit()
    take.terms("move_to", "into", "order", "assign", "entry", "exit", "for_noise", "verb_send", "people_word")
    stance = span.stance(i)
    if "ask" in span.items[i].polarity:
        take.mark(*marks(span))
        take.free("due", "for", "need", "needs", "in", "ready", "from", "still", "anyone", "anybody")
        yield take.reading(Status("rehab", unit), cost=0.02)
        return
    wished = {span.items[k].text for k in marks(span)} - {"going to", "will", "shall", "get", "send"}
    if stance in ("denied", "hoped", "asked") and not (stance == "hoped" and unit and not wished):
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Rehab.intent, 0.05)
        return
    take.mark(*marks(span))
    going = _way_out(span, unit) if not back else None
    if going is not None:
        take.terms("coming_out", "with_crew", "people_word", "building")
        take.free("send", "them", "all", "is", "are")
        yield take.reading(going(take), Rehab(unit), cost=-0.1)
        return
    yield take.reading(Rehab(unit, back), cost=0.0 if unit else 0.2)


def _way_out(span: Span, unit: str | None) -> Callable[[Take], Exit | ComingOut] | None:
    """ "Engine 9 is out, send them to rehab" is both, and so is "coming out, going to rehab"."""
    if unit is None:
        return None
    if span.has("coming_out") and span.stance(span.first("coming_out")) == "said":
        return lambda take: ComingOut(unit)
    i = next((k for k in span.where("exit") if not span.items[k].text.startswith("out of")), span.first("exit"))
    if i < 0 or span.stance(i) not in ("said", "ordered") or i > span.first("rehab"):
        return None
    return lambda take: Exit(unit, members(take))


_DONE_AS = {
    "utilities": "utilities_secured",
    "ventilate": "ventilation",
    "vertical ventilation": "ventilation",
    "search": "primary_search_complete",
    "primary search": "primary_search_complete",
    "secondary search": "secondary_search_complete",
    "overhaul": "overhaul",
}
"""What is reported when a task is done: "did truck 4 get the utilities" asks for that."""


@reads("is:unit")
def read_assign(span: Span) -> Iterable[Candidate]:
    """ "engine 9, division 2, search", "truck 4 to the roof"."""
    first = span.kinds("unit")[0]
    if any(i < first for i in span.content()) and span.items[span.lo].text not in (
        "send",
        "assign",
        "have",
        "order",
        "tell",
        "get",
        "command",
        "move",
        "make",
        "put",
    ):
        return
    if span.has(
        "rehab",
        "entry_firm",
        "on_scene",
        "en_route",
        "par",
        "no_par",
        "available",
        "returning",
        "air_firm",
        "lowest_word",
        "laying_in",
        "bringing",
        "minutes_out",
    ):
        return
    if span.has(
        "complete",
        "all_clear",
        "clear_word",
        "secured",
        "knocked_down",
        "under_control",
        "started",
        "vent_done",
        "exit_firm",
    ):
        return
    told = any(span.items[i].text.startswith("you") for i in span.where("assign"))
    if span.has("in_place") and not told:
        return
    take = Take(span)
    unit = take.unit()
    if unit is None:
        return
    place = take.place()
    task = task_said(take) or _group_said(take)
    if place is None and task is None:
        return
    place = place or take.place()
    take.terms("role_officer", "working_for", *(["in_place"] if told else []))
    _together_with(take)
    staffing = None
    if span.has("with_crew"):
        staffing = members(take)
    take.terms(
        "assign",
        "move_to",
        "into",
        "with_crew",
        "order",
        "line",
        "for_noise",
        "people_word",
        "verb_send",
        "pull",
        "set_to",
        "establishing",
        "replaced",
    )
    stance = span.stance(*(i for i in range(span.lo, span.hi) if take.taken(i) and span.items[i].kind != "unit"))
    if stance in ("asked",):
        take.mark(*marks(span))
        done = {"did", "has", "have"} & {word for item in span.items[: span.hi] for word in item.text.split()}
        yield take.reading(Status(_DONE_AS.get(task or "", "units") if done else "units", unit), cost=0.2)
        return
    if stance in ("denied", "hoped") and not span.has("assign"):
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Assign.intent, 0.1)
        return
    if stance == "denied":
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Assign.intent, 0.1)
        return
    take.mark(*marks(span))
    told = span.items[span.lo].text in ("put", "make", "have", "assign", "send")
    yield take.reading(Assign(unit, place, task, staffing), cost=-0.05 if told else 0.05)


def _group_said(take: Take) -> str | None:
    """The group or division that a company becomes: "truck 4's officer has the vent group"."""
    for i in list(take.open()):
        item = take.span.items[i]
        if item.kind == "unit" and any(c.startswith("crew:") and c != "crew:everyone" for c in item.concepts):
            take.mark(i)
            return str(item.value)
    return None


def _together_with(take: Take) -> None:
    """What goes along: "… with squad 1 and engine 17", "… with an inch and three quarter"."""
    items = take.span.items
    start = next((i for i in take.open() if items[i].text == "with"), None)
    if start is None:
        return
    along = range(start, take.span.hi)
    hose = any(items[i].unit == "in" or items[i].kind in ("family", "line") for i in along)
    if any(items[i].kind == "sep" or items[i].unit in ("ft", "gpm", "psi") for i in along):
        return
    if hose or any(items[i].kind == "unit" for i in along):
        take.mark(
            *(
                i
                for i in along
                if items[i].free or items[i].kind in ("unit", "num", "family", "line") or "and" in items[i].concepts
            )
        )


@reads("assign")
def read_assigned_too(span: Span) -> Iterable[Candidate]:
    """ "Truck 4 on scene, take the roof": the unit was named in what came right before."""
    first = next(iter(span.content()), span.lo)
    if span.kinds("unit") or "assign" not in span.items[first].concepts or span.items[first].text in ("do", "gets"):
        return
    named = [item for item in span.items[: span.lo] if item.kind == "unit"]
    if not named or len({item.value for item in named}) > 1 or span.stance(first) not in ("said", "ordered"):
        return
    take = Take(span, first)
    place, task = take.place(), task_said(take)
    place = place or take.place()
    if place is None and task is None:
        return
    take.terms("assign", "move_to", "into", "for_noise")
    yield take.reading(Assign(str(named[0].value), place, task), cost=0.05)
