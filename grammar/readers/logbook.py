"""Reads what goes into the log as it was said, the report that is sent, and timers of one’s own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import Assign, Report
from grammar.readers.base import Candidate, Span, Take, place_of, reads
from grammar.readers.said import sentence
from grammar.vocabulary import word_list


@reads("can_report", "conditions")
def read_can(span: Span) -> Iterable[Candidate]:
    """A conditions-actions-needs report is kept whole."""
    if (
        not (span.has("conditions") and span.has("actions", "needs_word"))
        and span.items[span.first("can_report", "conditions")].text == "can"
    ):
        return
    if not span.has("conditions") and not any(span.items[i].text != "can" for i in span.where("can_report")):
        return
    if span.first("conditions", "can_report") > span.lo + 4:
        return
    take = Take(span, *range(span.lo, span.hi))
    unit = Take(span).unit()
    if not any(i > span.first("can_report", "conditions") for i in span.content()) and _wanted(span):
        yield take.declining(sentence("ordered"), Report.intent, 0.0)
        return
    yield take.reading(
        Report("can", span.text(), unit), cost=0.0 if span.has("actions") or span.has("can_report") else 0.25
    )


def _wanted(span: Span) -> bool:
    """ "CAN report please": one is asked for."""
    return any(
        item.text in ("please", "go ahead") or "order" in item.polarity for item in span.items[span.lo : span.hi]
    )


@reads("note", "size_up", "showing")
def read_note(span: Span) -> Iterable[Candidate]:
    """ "note: …" goes into the log whole; so does what is seen on arrival."""
    i = span.first("note")
    if i == span.lo and not span.has("showing") and span.hi > i + 1:
        take = Take(span, *range(span.lo, span.hi))
        plain = span.items[i].text != "log" or span.items[i + 1].value == ":"
        yield take.reading(Report("note", span.text()), cost=0.05 if plain else 0.4)
        return
    up = span.first("size_up")
    if up == span.lo and span.hi - up > 2 and span.has("building", "showing", "stories"):
        take = Take(span, *range(span.lo, span.hi))
        yield take.reading(Report("size_up", span.text()), cost=0.05)
        return
    if span.has("showing"):
        yield from _size_up(span)


@reads("building", "stories", "floor")
def read_building(span: Span) -> Iterable[Candidate]:
    """ "two story house, smoke showing from the alpha side": what is seen, kept in its words."""
    if not span.has("showing"):
        yield from _size_up(span)


def _size_up(span: Span) -> Iterator[Candidate]:
    first = next((i for i in span.content() if span.items[i].kind != "unit"), -1)
    if first < 0 or not (
        span.items[first].concepts & {"showing", "building", "incident_fire"}
        or span.items[first].kind in ("num", "floor")
    ):
        return
    if span.has("needed_flow", "involved", "line", "unit:ft", "unit:in", "unit:gpm", "needs_word") or any(
        span.items[i].unit for i in span.kinds("num")
    ):
        return
    if not span.has("showing", "stories", "floor", "exposure") and not span.kinds("floor", "num"):
        return
    if span.items[first].kind in ("num", "floor") and not span.has("building", "showing"):
        return
    if span.kinds("num") and not span.has("building", "showing", "stories"):
        return
    take = Take(span)
    take.terms(*word_list("logbook_seen"))
    take.mark(*span.kinds("place", "floor"))
    unit = take.unit()
    for i in span.kinds("num"):
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if after & {"stories", "building", "exposure", "floor"} and span.items[i].number <= 60:
            take.mark(i)
    stance = span.stance(first)
    hose = any(item.unit in ("ft", "in", "gpm") for item in (*span.items[: span.lo], *span.items[span.hi :]))
    if stance == "said":  # beside hose it is where that hose works: "…, apartment on the second floor"
        yield take.reading(Report("size_up", span.text(), unit), cost=0.5 if hose else 0.06)


@reads("is:floor", "is:place")
def read_where_we_are(span: Span) -> Iterable[Candidate]:
    """ "We're on the second floor now": where the speaker's crew is."""
    words = {word for i in range(span.lo, span.hi) for word in span.items[i].text.split()}
    places = span.kinds("place", "floor")
    if span.context.role not in ("crew", "officer") or "we" not in words or len(places) != 1:
        return
    others = {w for i in span.content() if i not in places for w in span.items[i].text.split()}
    if not span.context.incident_open or others - word_list("logbook_there") or span.stance(places[0]) != "said":
        return
    unit = span.context.speaker_unit or span.context.own_unit
    if unit is not None:
        yield Take(span, *range(span.lo, span.hi)).reading(
            Assign(unit=unit, place=place_of(span.items[places[0]])), cost=0.05
        )
