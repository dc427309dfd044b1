"""Reads what goes into the log as it was said, the report that is sent, and timers of one’s own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from rapidfuzz.distance import OSA

from grammar.commands import (
    Assign,
    Choice,
    IncidentKind,
    Question,
    ReminderChange,
    Report,
    SendReport,
    Timer,
)
from grammar.readers.base import Candidate, Span, Take, place_of, reads
from grammar.readers.benchmarks import sentence
from grammar.readers.incident import marks

_REPORTS: tuple[tuple[str, str], ...] = (
    ("victim_removed", "victim_removed"),
    ("victim_found", "victim_found"),
    ("fire_out", "fire_out"),
    ("cancel_incoming", "cancel_incoming"),
    ("alarm_level", "alarm"),
    ("transfer_of_command", "transfer_of_command"),
    ("rit_deployed", "rit_deployed"),
)


@reads(*(concept for concept, _ in _REPORTS), "rit")
def read_report(span: Span) -> Iterable[Candidate]:
    """ "victim found on the second floor", "second alarm", "fire's out", "RIT deployed"."""
    for concept, kind in _REPORTS:
        i = span.first(concept)
        if i >= 0:
            yield from _report(span, kind, (i,), concept)
            return
    i, j = span.first("rit"), span.first("deployed")
    if i >= 0 and j >= 0:
        yield from _report(span, "rit_deployed", (i, j), "rit")


def _report(span: Span, kind: str, at: tuple[int, ...], concept: str) -> Iterator[Candidate]:
    take = Take(span, *at)
    take.terms(concept, "deployed", "exit", "building", "people_word", "for_noise")
    unit = take.unit()
    place = take.place()
    count = None
    if kind in ("victim_found", "victim_removed"):
        count = take.number(None, low=1, high=20, whole=True)
        count = _said_count(span, at[0]) if count is None else count
        take.terms("place:bedroom", "place:rear")
        place = place or take.place()
    elif kind == "alarm":
        for k in span.kinds("num"):
            take.mark(k)
    stance = span.stance(*at)
    orders = kind in ("alarm", "cancel_incoming", "transfer_of_command", "rit_deployed")
    if stance == "asked" or stance == "denied" or (stance in ("hoped", "ordered") and not orders):
        take.mark(*marks(span))
        if stance == "asked":
            yield take.declining("Nothing was logged: that is a question.", Report.intent, 0.1)
        else:
            yield take.declining(sentence(stance), Report.intent, 0.04)
        return
    if stance == "hoped" and kind != "alarm":
        take.mark(*marks(span))
        yield take.declining(sentence(stance), Report.intent, 0.06)
        return
    take.mark(*marks(span))
    cost = 0.0 if span.items[at[0]].text not in ("victim", "all hands") else 0.3
    yield take.reading(Report(kind, span.text(), unit, place, int(count) if count is not None else None), cost=cost)  # type: ignore[arg-type]


def _said_count(span: Span, i: int) -> int | None:
    for word, number in (("two", 2), ("one", 1), ("three", 3), ("2", 2), ("3", 3)):
        if word in span.items[i].text.split():
            return number if number > 1 else None
    return None


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
    yield take.reading(
        Report("can", span.text(), unit), cost=0.0 if span.has("actions") or span.has("can_report") else 0.25
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


_SEEN = (
    "showing",
    "building",
    "stories",
    "floor",
    "wide",
    "tall",
    "long_dim",
    "involved",
    "fully_involved",
    "exposure",
    "incident_fire",
    "entry",
    "fire_word",
    "occupancy_combustible",
    "up",
    "on_end",
    "place:roof",
    "water_word",
)


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
    take.terms(*_SEEN)
    take.mark(*span.kinds("place", "floor"))
    unit = take.unit()
    for i in span.kinds("num"):
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if after & {"stories", "building", "exposure", "floor"} and span.items[i].number <= 60:
            take.mark(i)
    stance = span.stance(first)
    if stance == "said":
        yield take.reading(Report("size_up", span.text(), unit), cost=0.06)


@reads("is:floor", "is:place")
def read_where_we_are(span: Span) -> Iterable[Candidate]:
    """ "We're on the second floor now": where the speaker's crew is."""
    words = {word for i in range(span.lo, span.hi) for word in span.items[i].text.split()}
    places = span.kinds("place", "floor")
    if span.context.role not in ("crew", "officer") or "we" not in words or len(places) != 1:
        return
    others = {w for i in span.content() if i not in places for w in span.items[i].text.split()}
    if not span.context.incident_open or others - _BEING_THERE or span.stance(places[0]) != "said":
        return
    unit = span.context.speaker_unit or span.context.own_unit
    if unit is not None:
        yield Take(span, *range(span.lo, span.hi)).reading(
            Assign(unit=unit, place=place_of(span.items[places[0]])), cost=0.05
        )


_BEING_THERE = frozenset(("we", "are", "on", "in", "at", "up", "now", "inside"))


@reads("incident_fire", "incident_medical")
def read_kind(span: Span) -> Iterable[Candidate]:
    """ "this is a medical run", "structure fire"."""
    i = span.first("incident_fire", "incident_medical")
    kind: Literal["fire", "medical"] = "fire" if "incident_fire" in span.items[i].concepts else "medical"
    take = Take(span, *span.where("incident_fire", "incident_medical"))
    take.unit()
    if span.stance(i) == "said":
        yield take.reading(IncidentKind(kind), cost=0.05)


@reads("send_report", "report_word")
def read_send_report(span: Span) -> Iterable[Candidate]:
    """ "send the report as pdf", "readiness report"."""
    forms = {"pdf": "pdf", "csv": "csv", "png": "png", "json": "json", "picture": "png", "spreadsheet": "csv"}
    take = Take(span, *span.where("send_report", "report_word"))
    form = None
    for i in range(span.lo, span.hi):
        if span.items[i].text in forms:
            form = forms[span.items[i].text]
            take.mark(i)
    readiness = bool(take.terms("readiness_status", "readiness_start"))
    if not span.has("send_report") and form is None and not readiness:
        return
    take.terms("show", "order", "verb_send")
    if span.stance(span.first("send_report", "report_word")) in ("said", "ordered"):
        yield take.reading(SendReport(form, readiness))  # type: ignore[arg-type]


@reads("timer")
def read_timer(span: Span) -> Iterable[Candidate]:
    """ "remind me in five minutes to check the roof"."""
    at = span.first("timer")
    take = Take(span, *span.where("timer", "set_to", "for_noise"))
    minutes = take.number("min", "s", "hr", low=0)
    if minutes is None:
        if not span.kinds("num") or span.items[span.hi - 1].kind == "num":
            take.mark(*span.content())
            yield take.asking(Question("In how many minutes?", (), Timer(0), "minutes"), Timer.intent, 0.15)
        return
    if span.has("interval", "reminders") and any(span.items[i].text == "every" for i in range(span.lo, span.hi)):
        return
    later = max(i for i in range(span.lo, span.hi) if take.taken(i)) + 1
    text = _what_for(span, later) if later < span.hi else None
    take.mark(*range(later, span.hi))  # what it is about is kept as said
    number = next(i for i in span.kinds("num") if take.taken(i))
    if text is None and number > at + 1:
        text = _what_for(span, at + 1, number)
        take.mark(*range(at, number))
        if text is not None and OSA.distance(text, "every") <= 2:
            choices = (
                Choice("every time", (ReminderChange("interval", "elapsed", minutes),)),
                Choice("once", (Timer(minutes),)),
            )
            yield take.asking(Question(f"Every {minutes:g} minutes, or once?", choices), Timer.intent)
            return
    yield take.reading(Timer(minutes, text))


def _what_for(span: Span, lo: int, hi: int | None = None) -> str | None:
    words = [span.items[i].text for i in range(lo, span.hi if hi is None else hi) if span.items[i].kind != "sep"]
    while words and words[-1] in ("in", "for", "of", "a", "about"):
        words = words[:-1]
    while words and words[0] in ("to", "that", "about", "for", "in", "to the"):
        words = words[1:]
    return " ".join(words) or None
