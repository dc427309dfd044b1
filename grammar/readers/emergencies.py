"""Reads evacuation and emergencies: collapse, flashover, a missing or downed member."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, TypeAlias

from grammar.commands import Choice, Emergency, Evacuate, Question, Status
from grammar.costs import DOUBTFUL, HARDLY, LIKELY, UNSURE, WEAK
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.said import holds, marks, text_at, words
from grammar.tales import is_tale
from grammar.text import spaced
from grammar.vocabulary import word_list

Kind: TypeAlias = Literal["emergency_traffic", "collapse", "flashover", "missing_member", "downed_member"]
_KINDS: tuple[Kind, ...] = ("downed_member", "missing_member", "collapse", "flashover", "emergency_traffic")


@reads("crew:everyone")
def read_everyone_out(span: Span) -> Iterable[Candidate]:
    """ "all crews out of the building" is an order; "everyone is out" says which crew it doesn't say of."""
    ends = word_list("emergencies_out")
    i = next((k for k in span.where("exit") if span.items[k].text.split()[-1] in ends), -1)
    first = span.first("crew:everyone")
    if i < first or span.has("evacuate", "evacuate_over"):
        return
    take = Take(span, i, *span.where("crew:everyone", "exit", "building", "move_to"), *marks(span))
    place = take.place()
    stance = span.stance(i)
    told = words(span, first, i + 1)
    told = told[1:] if told[0] == "all" else told  # "all crews" are no "all" who are out
    if stance == "asked":
        yield take.reading(Status("crews"), cost=LIKELY)
    elif stance not in ("said", "ordered") or not word_list("emergencies_told").isdisjoint(told):
        yield take.declining(reason("which_crew"), Evacuate.intent, LIKELY)
    else:
        yield take.reading(Evacuate(place), cost=HARDLY)


@reads("evacuate", "evacuate_over")
def read_evacuate(span: Span) -> Iterable[Candidate]:
    """ "everybody out", "evacuate the second floor", "evacuation order lifted"."""
    over = span.has("evacuate_over")
    i = span.first("evacuate_over" if over else "evacuate")
    if text_at(span, i + 1) in word_list("emergencies_there") or any("bystanders" in i.concepts for i in span.items):
        return  # "everybody out there is …", "folks are all out"
    take = Take(span, i)
    take.terms("evacuate", "evacuate_over", "building", "exit", "for_noise", "crew_word")
    take.mark(*(k for k in span.kinds("unit") if "crew:everyone" in span.items[k].concepts))
    one = take.unit() is not None and span.items[i].text in word_list("emergencies_back_out")
    take.cost += UNSURE if one else 0
    told = word_list("emergencies_going")  # "everybody out, roof's going": the roof is why, not what is left
    take.mark(*(k for k in span.kinds("place", "floor") if text_at(span, k + 1) in told))
    place = take.place()
    take.terms("place:interior", "place:exterior")
    if place is not None and holds(span, "emergencies_to", i + 1):
        take.cost += DOUBTFUL  # "back out to the first floor": they go there
    stance = span.stance(i)
    if over and stance in ("said", "ordered", "denied"):
        take.mark(*marks(span))
        yield take.reading(Evacuate(place, over=True), cost=HARDLY)
    elif stance in ("said", "ordered"):
        yield from _ordered(take, i, place)
    else:
        take.mark(*marks(span))
        why = reason("no_evacuation_asked" if stance == "asked" else "no_evacuation")
        yield take.declining(why, Evacuate.intent, LIKELY)


def _ordered(take: Take, i: int, place: str | None) -> Iterator[Candidate]:
    """An order; "all out" alone is asked, "everybody's out" tells it."""
    span = take.span
    said = span.items[i].text.replace("'s", " is").split()
    everyone = said[-1] == "out" and said[0] in word_list("emergencies_everyone")
    if everyone and said == ["all", "out"] and not holds(span, "ways_bring", span.lo, i):
        choices = (Choice("evacuate everyone", (Evacuate(place),)), Choice("no"))
        yield take.asking(Question("Is that an order to evacuate?", choices), Evacuate.intent, HARDLY)
    elif everyone and not word_list("emergencies_being").isdisjoint(said):
        yield take.declining(reason("which_crew"), Evacuate.intent, LIKELY)
    else:
        take.mark(*(k for k in marks(span) if "not" not in span.items[k].concepts))
        yield take.reading(Evacuate(place))


_SAID_MORE = 2
"""Words beside the event that change nothing; more of them make it doubtful."""


@reads(*_KINDS, "emergency_over")
def read_emergency(span: Span) -> Iterable[Candidate]:
    """ "emergency traffic", "roof collapse", "missing firefighter", "emergency traffic is clear"."""
    if (over := span.first("emergency_over")) >= 0:
        yield from _over(span, over)
        return
    kind = next(kind for kind in _KINDS if span.has(kind))
    i = span.first(kind)
    take = Take(span, *span.where(kind))
    unit = take.unit()
    stance = span.stance(i)
    take.mark(*marks(span))
    watching = list(span.where("watched"))
    if stance == "asked":
        yield take.declining(reason("nothing_asked"), Emergency.intent, LIKELY)
    elif watching or _no_report(span, kind, i):
        take.mark(*watching)
        yield take.declining(reason("no_emergency"), Emergency.intent, LIKELY)
    else:
        yield _told(take, kind, i, unit)


def _over(span: Span, at: int) -> Iterator[Candidate]:
    member = not word_list("emergencies_member").isdisjoint(span.items[at].text.split())
    take = Take(span, at)
    take.terms("emergency_over", *_KINDS, "order", "resume_reminder")
    unit = take.unit()
    if span.stance(at) in ("said", "ordered"):
        kind: Kind = "missing_member" if member else "emergency_traffic"
        yield take.reading(Emergency(kind, unit, span.text(), over=True))


def _no_report(span: Span, kind: Kind, i: int) -> bool:
    """Denied, hoped, made ready for, or a tale; "missing" may be denied in its own words: "not all here"."""
    stance = span.stance(i)
    prepared = any(text_at(span, k) in word_list("emergencies_for") for k in (i - 1, i - 2))
    if prepared or (kind in ("missing_member", "downed_member") and is_tale(spaced(span.text()))):
        return True
    missing = kind == "missing_member"
    return (stance == "denied" and (not missing or not text_at(span, i).startswith("missing"))) or (
        stance == "hoped" and not missing
    )


def _told(take: Take, kind: Kind, i: int, unit: str | None) -> Candidate:
    span = take.span
    take.place()
    rest = [k for k in take.open() if span.items[k].kind in ("word", "term", "num", "place", "floor")]
    unsure = [k for k in rest if not span.items[k].free and span.items[k].kind == "word"]
    take.mark(*rest)
    cost = 0 if kind == "emergency_traffic" else UNSURE * max(0, len(unsure) - _SAID_MORE)
    cost += UNSURE * sum(span.items[k].form != "plain" for k in unsure)
    if kind in ("collapse", "flashover") and any(span.items[k].concepts & {"set_to", "in_place"} for k in rest):
        cost += DOUBTFUL  # "the collapse zone is set up"
    urgent = text_at(span, i) in word_list("emergencies_urgent") and len(span.content()) > 1
    cost = WEAK if urgent else cost
    return take.reading(Emergency(kind, unit, span.text()), cost=cost)
