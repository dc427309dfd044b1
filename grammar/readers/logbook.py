"""Reads what goes into the log as it was said: conditions, actions, needs; notes; what is seen; where we are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from grammar.commands import Assign, Report
from grammar.costs import DOUBTFUL, LIKELY, UNSURE
from grammar.readers.base import Candidate, Span, Take, place_of, reads
from grammar.readers.said import beside, sentence, text_at, words
from grammar.vocabulary import word_list

_OPENING = 4
"""Most words before such a report."""
_STORIES = 60


@reads("can_report", "conditions")
def read_can(span: Span) -> Iterable[Candidate]:
    """A conditions-actions-needs report is kept whole; "CAN report please": one is asked for."""
    named = any(span.items[i].text != "can" for i in span.where("can_report"))
    parts = span.has("conditions") and span.has("actions", "needs_word")
    at = span.first("can_report", "conditions")
    if at > span.lo + _OPENING or not (named or parts or (span.has("conditions") and text_at(span, at) != "can")):
        return
    take = Take(span, *range(span.lo, span.hi))
    items = span.items[span.lo : span.hi]
    wanted = any(item.text in word_list("logbook_wanted") or "order" in item.polarity for item in items)
    if wanted and not any(i > at for i in span.content()):
        yield take.declining(sentence("ordered"), Report.intent)
        return
    sure = span.has("actions", "can_report")
    yield take.reading(Report("can", span.text(), Take(span).unit()), cost=0 if sure else UNSURE)


@reads("note", "size_up", "showing")
def read_note(span: Span) -> Iterable[Candidate]:
    """ "note: …" goes into the log whole; so does what is seen on arrival."""
    take = Take(span, *range(span.lo, span.hi))
    if span.first("note") == span.lo and not span.has("showing") and span.hi > span.lo + 1:
        plain = span.items[span.lo].text not in word_list("logbook_log") or span.items[span.lo + 1].value == ":"
        yield take.reading(Report("note", span.text()), cost=LIKELY if plain else DOUBTFUL)
    elif span.first("size_up") == span.lo and span.hi - span.lo > 2 and span.has("building", "showing", "stories"):
        yield take.reading(Report("size_up", span.text()), cost=LIKELY)
    elif span.has("showing"):
        yield from _size_up(span)


@reads("building", "stories", "floor")
def read_building(span: Span) -> Iterable[Candidate]:
    """ "two story house, smoke showing from the alpha side": what is seen, kept in its words."""
    if not span.has("showing"):
        yield from _size_up(span)


def _size_up(span: Span) -> Iterator[Candidate]:
    first = next((i for i in span.content() if span.items[i].kind != "unit"), -1)
    if first < 0 or not _of_a_building(span, first):
        return
    take = Take(span)
    beside(take, "logbook_seen")
    take.mark(*span.kinds("place", "floor"))
    unit = take.unit()
    for i in span.kinds("num"):
        after = span.items[i + 1].concepts if i + 1 < span.hi else frozenset()
        if after & word_list("logbook_counted") and span.items[i].number <= _STORIES:
            take.mark(i)
    hose = any(item.unit in ("ft", "in", "gpm") for item in (*span.items[: span.lo], *span.items[span.hi :]))
    if span.stance(first) == "said":  # beside hose it is where that hose works: "…, apartment on the second floor"
        yield take.reading(Report("size_up", span.text(), unit), cost=DOUBTFUL if hose else LIKELY)


def _of_a_building(span: Span, first: int) -> bool:
    """It begins with what is seen, counts only its stories, and nothing of hose, flow or needs is in it."""
    numbers, begins = span.has("is:num"), span.items[first].kind in ("num", "floor")
    seen = begins or span.items[first].concepts & {"showing", "building", "incident_fire"}
    measured = span.has(*word_list("logbook_measured")) or any(span.items[i].unit for i in span.kinds("num"))
    enough = span.has("showing", "stories", "floor", "exposure", "is:floor", "is:num")
    named = span.has("building", "showing") or not (begins or (numbers and not span.has("stories")))
    return bool(seen) and not measured and enough and named


@reads("is:floor", "is:place")
def read_where_we_are(span: Span) -> Iterable[Candidate]:
    """ "We're on the second floor now": where the speaker's crew is."""
    places = span.kinds("place", "floor")
    unit = span.context.speaker_unit or span.context.own_unit
    ours = span.context.role in ("crew", "officer") and not word_list("logbook_we").isdisjoint(words(span))
    if unit is None or not ours or len(places) != 1 or not span.context.incident_open:
        return
    others = {w for i in span.content() if i not in places for w in span.items[i].text.split()}
    if others <= word_list("logbook_there") and span.stance(places[0]) == "said":
        here = Assign(unit=unit, place=place_of(span.items[places[0]]))
        yield Take(span, *range(span.lo, span.hi)).reading(here, cost=LIKELY)
