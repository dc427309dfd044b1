"""Reads evacuation and emergencies: collapse, flashover, a missing or downed member."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from grammar.commands import (
    Choice,
    Emergency,
    Evacuate,
    Question,
    Status,
)
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.incident import marks
from grammar.tales import is_tale
from grammar.text import spaced


@reads("crew:everyone")
def read_everyone_out(span: Span) -> Iterable[Candidate]:
    """ "all crews out of the building" is an order; "everyone is out" says which crew it doesn't say of."""
    i = next(
        (
            k
            for k in span.where("exit")
            if span.items[k].text.split()[-1] in ("out", "building", "structure", "house", "there")
        ),
        -1,
    )
    first = span.first("crew:everyone")
    if i < first or span.has("evacuate", "evacuate_over"):
        return
    take = Take(span, i, *span.where("crew:everyone", "exit", "building", "move_to"))
    told = any(
        w in ("is", "are", "has", "have", "all", "made", "came", "got", "went")
        for k in range(first, i + 1)
        for w in span.items[k].text.split()
        if k > first or w != "all"
    )
    place = take.place()
    stance = span.stance(i)
    if stance == "asked":
        take.mark(*marks(span))
        yield take.reading(Status("crews"), cost=0.05)
    elif told or stance not in ("said", "ordered"):
        take.mark(*marks(span))
        yield take.declining("Say which crew is out, like “engine 9 is out”.", Evacuate.intent, 0.05)
    else:
        take.mark(*marks(span))
        yield take.reading(Evacuate(place), cost=0.02)


_ALL = frozenset(("everyone", "everybody", "every", "all"))


_TOLD = frozenset(("is", "s", "are", "going", "is going", "gone", "is gone", "moving", "sagging", "coming"))


def _told_of(span: Span, k: int) -> bool:
    """ "Everybody out, roof's going": the roof is why, not what is left."""
    return k + 1 < span.hi and span.items[k + 1].text in _TOLD


@reads("evacuate", "evacuate_over")
def read_evacuate(span: Span) -> Iterable[Candidate]:
    """ "everybody out", "evacuate the second floor", "evacuation order lifted"."""
    over = span.first("evacuate_over")
    i = over if over >= 0 else span.first("evacuate")
    if i + 1 < span.hi and span.items[i + 1].text == "there":
        return  # "everybody out there is …"
    take = Take(span, i)
    take.terms("evacuate", "evacuate_over", "building", "exit", "for_noise", "crew_word")
    take.mark(*[k for k in span.kinds("unit") if "crew:everyone" in span.items[k].concepts])
    if (
        span.kinds("unit")
        and take.unit() is not None
        and span.items[i].text in ("back out", "withdraw", "pull out", "abandon", "get out")
    ):
        take.cost += 0.3
    take.mark(*(k for k in span.kinds("place", "floor") if _told_of(span, k)))
    place = take.place()
    take.terms("place:interior", "place:exterior")
    stance = span.stance(i)
    if place is not None and any(span.items[k].text == "to" for k in range(i + 1, span.hi)):
        take.cost += 0.5  # "back out to the first floor": they go there
    words = span.items[i].text.replace("'s", " is").split()
    if over < 0 and stance in ("said", "ordered") and words[-1] == "out" and words[0] in _ALL:
        ordered = any(span.items[k].text.split()[0] in ("get", "pull", "bring", "order") for k in range(span.lo, i))
        if words == ["all", "out"] and not ordered:
            choices = (Choice("evacuate everyone", (Evacuate(place),)), Choice("no"))
            yield take.asking(Question("Is that an order to evacuate?", choices), Evacuate.intent, 0.02)
            return
        if not {"is", "are", "was", "were", "has", "have", "been"}.isdisjoint(words):
            yield take.declining("Say which crew is out, like “engine 9 is out”.", Evacuate.intent, 0.05)
            return
    if over >= 0 and stance in ("said", "ordered", "denied"):
        take.mark(*marks(span))
        yield take.reading(Evacuate(place, over=True), cost=0.02)
    elif stance in ("said", "ordered"):
        if any("bystanders" in item.concepts for item in span.items):
            return
        take.mark(*(k for k in marks(span) if "not" not in span.items[k].concepts))
        yield take.reading(Evacuate(place), cost=0.0)
    else:
        take.mark(*marks(span))
        take.unit()
        yield take.declining(
            "No evacuation was logged: " + ("that is a question." if stance == "asked" else "that doesn't order one."),
            Evacuate.intent,
            0.05,
        )


_EMERGENCIES: tuple[Literal["emergency_traffic", "collapse", "flashover", "missing_member", "downed_member"], ...] = (
    "downed_member", "missing_member", "collapse", "flashover", "emergency_traffic",
)  # fmt: skip


_SAID_MORE = 2
"""Words beside the event that change nothing; more of them make it doubtful."""


@reads(*_EMERGENCIES, "emergency_over")
def read_emergency(span: Span) -> Iterable[Candidate]:
    """ "emergency traffic", "roof collapse", "missing firefighter", "emergency traffic is clear"."""
    over = span.first("emergency_over")
    if over >= 0:
        kind = (
            "missing_member"
            if any(w in span.items[over].text for w in ("member", "firefighter", "accounted"))
            else "emergency_traffic"
        )
        take = Take(span, over)
        take.terms("emergency_over", *_EMERGENCIES, "order", "resume_reminder")
        unit = take.unit()
        if span.stance(over) in ("said", "ordered"):
            yield take.reading(Emergency(kind, unit, span.text(), over=True))  # type: ignore[arg-type]
        return
    for kind_ in _EMERGENCIES:
        i = span.first(kind_)
        if i < 0:
            continue
        take = Take(span, *span.where(kind_))
        unit = take.unit()
        take.place()
        prepared = any(span.items[k].text in ("for", "of") for k in (i - 1, i - 2) if k >= 0 and span.items[k].free)
        watching = list(span.where("watched"))
        told = kind_ in ("missing_member", "downed_member") and is_tale(spaced(span.text()))
        stance = span.stance(i)
        if stance == "asked":
            take.mark(*marks(span))
            yield take.declining("Logged nothing: that is a question.", Emergency.intent, 0.1)
            return
        if (stance in ("denied", "hoped") and kind_ != "missing_member") or watching or prepared or told:
            take.mark(*marks(span), *watching)
            yield take.declining("No emergency was logged: that doesn't report one.", Emergency.intent, 0.05)
            return
        if stance == "denied" and kind_ == "missing_member" and span.items[i].text.split()[0] != "missing":
            take.mark(*marks(span))
            yield take.declining("No emergency was logged: that doesn't report one.", Emergency.intent, 0.05)
            return
        take.mark(*marks(span))
        rest = [k for k in take.open() if span.items[k].kind in ("word", "term", "num", "place", "floor")]
        unsure = [k for k in rest if not span.items[k].free and span.items[k].kind == "word"]
        take.mark(*rest)
        cost = 0.0 if kind_ == "emergency_traffic" else 0.25 * max(0, len(unsure) - _SAID_MORE)
        cost += 0.3 * sum(span.items[k].form != "plain" for k in unsure)
        if kind_ in ("collapse", "flashover") and any(span.items[k].concepts & {"set_to", "in_place"} for k in rest):
            cost += 0.5
        if kind_ == "emergency_traffic" and span.items[i].text in ("urgent", "priority") and len(span.content()) > 1:
            cost = 0.15
        yield take.reading(Emergency(kind_, unit, span.text()), cost=cost)
        return
