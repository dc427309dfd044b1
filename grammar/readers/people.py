"""Reads crews going in and out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, TypeAlias

from grammar.commands import AirReading, Command, Entry, Exit, Status
from grammar.costs import FAIR, LIKELY, WEAK
from grammar.lexicon import sentence as reason
from grammar.readers.base import Candidate, Span, Take, in_unit, reads
from grammar.readers.gauges import gauge, lowest_gauge, members, ratings
from grammar.readers.said import answering, beside, holds, text_at, unreported
from grammar.readers.tasks import task_said
from grammar.readers.ways_out import brought, together
from grammar.vocabulary import word_list

Way: TypeAlias = Literal["entry", "exit"]


@reads("entry", "exit")
def read_in_out(span: Span) -> Iterable[Candidate]:
    """ "engine 9 going in with 3, lowest gauge 4200", "engine 9 is out with 1200"."""
    for way in ("entry", "exit"):
        surely = word_list(f"people_firm_{way}")
        firm = [i for i in span.where(way) if any(f"{span.items[i].text} ".startswith(f"{one} ") for one in surely)]
        at = firm[0] if firm else span.first(way)
        if at >= 0 and not _something_else(span, way) and _of_a_crew(span, way, at, bool(firm)):
            yield from _way(span, way, at, bool(firm))


def _something_else(span: Span, way: Way) -> bool:
    """Other words decide what is meant; "two crews going in": whose; minutes that no cylinder is rated at."""
    if span.has(*word_list("people_otherwise")):
        return True
    crews = any(text_at(span, i + 1) in word_list("people_crews") for i in span.kinds("num"))
    rated = ratings(span) if way == "entry" else []
    return crews or any(span.items[i].unit == "min" and i not in rated for i in span.kinds("num"))


def _of_a_crew(span: Span, way: Way, at: int, firm: bool) -> bool:
    """A company is named, the speaker's crew speaks of itself, or the words are of nothing else."""
    units, context = span.kinds("unit"), span.context
    if units and (way == "exit" and brought(span, at) >= 0):
        return False
    own = context.speaker_unit
    of_itself = own is not None and (firm if way == "entry" else own in context.inside and not units)
    of_itself = of_itself and not span.has("line", "wye", "floor", "ask_pressure", "is:line")
    if units or of_itself:
        return True
    who = holds(span, "people_we") or span.has("crew_word", "lowest_word")
    return firm and (who or _the_only_crew(span) is not None)


def _the_only_crew(span: Span) -> str | None:
    """ "Both of them are out": the one crew that is inside."""
    inside = span.context.inside
    return inside[0] if len(inside) == 1 and holds(span, "people_they") else None


def _way(span: Span, way: Way, at: int, firm: bool) -> Iterator[Candidate]:
    take = Take(span, at)
    unit = take.unit()
    stance = span.stance(at)
    if stance == "said" and at > span.lo and text_at(span, at - 1) in word_list("people_told"):
        stance = "ordered"  # "ladder 4 come in with me"
    take.terms(way)
    beside(take, f"people_{way}_beside")
    if stance == "asked":
        yield answering(take, Status(about="crews", unit=unit), FAIR)
    elif stance != "said":
        yield unreported(take, stance, way)
    elif way == "exit":
        yield from _out(take, unit, at)
    elif holds(span, "benchmarks_still"):
        yield take.declining(reason("nothing_changed"), Entry.intent, LIKELY)
    elif not _told_behind(span, at, firm):
        yield _in(take, unit, at)


def _told_behind(span: Span, at: int, firm: bool) -> bool:
    """ "Two out is engine 9"."""
    units = span.kinds("unit")
    return bool(units) and units[0] > at and not firm


def _in(take: Take, unit: str | None, at: int) -> Candidate:
    span = take.span
    rated = None
    for i in ratings(span)[:1]:
        take.mark(*ratings(span))
        beside(take, "people_packs_beside")
        take.free(*word_list("people_packs_idle"))
        rated = in_unit(span.items[i], "min")
    take.mark(*span.kinds("line"))  # "… with crosslay 1"
    psi, time, count = lowest_gauge(take), take.time(), members(take)
    if count is None and text_at(span, span.lo).startswith("one"):
        count = 1
    place, task = take.place(), task_said(take)
    if unit in span.context.inside and psi is not None and span.items[at].text in word_list("people_being_in"):
        return take.reading(AirReading(psi, unit, time))  # it is inside already: its air is told
    return take.reading(Entry(unit, count, psi, place, task, time, rated), cost=_soft(span, at))


def _out(take: Take, unit: str | None, at: int) -> Iterator[Candidate]:
    span = take.span
    others = together(span, at)
    if others and not span.kinds("num"):
        take.mark(*others)
        take.terms("and")
        out: list[Command] = [Exit(str(span.items[k].value), time=take.time()) for k in others]
        yield take.reading(*out)
        return
    if not _told_behind(span, at, span.items[at].text in word_list("people_firm_exit")):
        psi, time, count = gauge(take), take.time(), members(take)
        take.place()
        take.free(*word_list("people_they_idle"))
        unit = unit or _the_only_crew(span)
        yield take.reading(Exit(unit, count, psi, time), cost=_soft(span, at))


def _soft(span: Span, at: int) -> float:
    """A single word that is said of much else."""
    return WEAK if span.items[at].text in word_list("people_soft") else 0


@reads("lowest_word")
def read_sent_in(span: Span) -> Iterable[Candidate]:
    """ "engine 9 going to the second floor for primary, 3 people, lowest air 4000": a crew with a gauge that wasn't
    inside goes in.
    """
    sent = span.has("is:unit") and span.has("move_to", "task_search", "into", "assign")
    if not sent or span.has("entry_firm", "exit_firm", "par", "rehab"):
        return
    take = Take(span, *span.where("lowest_word", "move_to", "assign"))
    unit, psi = take.unit(), gauge(take)
    if psi is not None and unit not in span.context.inside and span.stance(span.first("lowest_word")) == "said":
        count = members(take)
        take.terms("people_word", "with_crew", "air_word", "into", "for_noise")
        yield take.reading(Entry(unit, count, psi, take.place(), task_said(take), take.time()), cost=FAIR)
