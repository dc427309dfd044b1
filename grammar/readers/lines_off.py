"""Reads lines that are shut down."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import LineOff, LineRef, Question, Status
from grammar.costs import FAIR, HARDLY, LIKELY, WEAK
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.lay_questions import ask
from grammar.readers.lines import called, exactly, lines_meant, lines_on, not_now, now
from grammar.readers.signs import met, word_list


@reads("shut")
def read_line_off(span: Span) -> Iterable[Candidate]:
    """ "shut down crosslay one", "kill the deuce and a half", "shut it down", "all lines down"."""
    i = span.first("shut")
    if not met("shuts_a_line", span, i) or met("shut_apart", span):
        return
    stance, on = span.stance(i), lines_on(span)
    take = Take(span, i)
    take.terms("shut", "order", "for_noise")
    if span.has("all_lines") and met("but_a_line", span):
        yield Take(span, *range(span.lo, span.hi)).declining(sentence("name_those_shut"), LineOff.intent, HARDLY)
        return
    if stance == "asked":
        take.mark(*span.kinds("line"))
        take.terms("line", "hope")
        yield take.reading(Status(about="lines"), cost=WEAK)
        return
    if stance in ("denied", "hoped"):
        yield not_now(span, take, stance, "not_shut", LineOff.intent)
        return
    pointed = not word_list("lines_it").isdisjoint(span.items[i].text.split())
    ref, cost = next(lines_meant(span, take), (LineRef() if pointed else None, LIKELY))
    if ref is None or (ref == LineRef() and not on):
        yield take.asking(_which_off(span), LineOff.intent, LIKELY if ref is not None else FAIR)
    else:
        drained = span.items[i].text in word_list("lines_drained")
        yield from now(span, take, (LineOff(ref, drained=drained),), cost)


def _which_off(span: Span) -> Question:
    on = lines_on(span)
    ways = [(called(span, line), LineOff(exactly(line))) for line in on[:5]]
    every = [(sentence("all_of_them"), LineOff(LineRef(all=True)))] if len(on) > 1 else []
    return ask(sentence("which_shut"), [*ways, *every], LineOff(LineRef()), "line")
