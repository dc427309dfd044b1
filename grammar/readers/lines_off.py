"""Reads lines that are shut down."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Choice, LineOff, LineRef, Question, Status
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.lines import called, exactly, lines_meant, now, streams_seen
from grammar.vocabulary import word_list


@reads("shut")
def read_line_off(span: Span) -> Iterable[Candidate]:
    """ "shut down crosslay one", "kill the deuce and a half", "shut it down", "all lines down"."""
    i = span.first("shut")
    if span.has("nozzle_shut", "nobody_flows"):
        return  # its nozzle, not the line: readers/nozzle_state.py
    pointed = (
        span.kinds("line")
        or streams_seen(span)
        or span.has("all_lines", "last_one", "other", "line")
        or span.kinds("num")
    )
    if not pointed and span.items[i].text not in word_list("lines_shut_bare"):
        return
    if span.items[i].text == "down" and not span.kinds("line", "num") and not span.has("all_lines", "line", "other"):
        return  # "run it down for me"
    breaks = [k for k in range(i, span.hi) if span.items[k].kind == "sep" or "and" in span.items[k].concepts]
    named = span.kinds("line")
    if (
        breaks
        and named
        and named[0] > breaks[-1]
        and any(not span.items[k].free for k in range(breaks[0] + 1, named[0]))
    ):
        return  # "… is off, and hold off on crosslay two"
    stance = span.stance(i)
    take = Take(span, i)
    take.terms("shut", "order", "for_noise")
    but = next((k for k in range(i, span.hi) if span.items[k].text in ("but", "except", "besides", "other than")), -1)
    if but >= 0 and span.has("all_lines") and any(k > but for k in span.kinds("line", "family")):
        take.mark(*range(span.lo, span.hi))
        yield take.declining("Name the lines that are shut down, one by one.", LineOff.intent, 0.03)
        return
    if stance == "asked":
        take.mark(*span.kinds("line"))
        take.terms("line", "hope")
        yield take.reading(Status(about="lines"), cost=0.15)
        return
    if stance in ("denied", "hoped"):
        take.mark(*(k for k in range(span.lo, span.hi) if span.items[k].polarity_mark), *span.kinds("line", "num"))
        take.terms("line", "last_one")
        yield take.declining(
            "Nothing was shut down: " + ("that says not to." if stance == "denied" else "that is still to come."),
            LineOff.intent,
            0.03,
        )
        return
    on = [line for line in span.context.lines if line.on]
    for ref, cost in lines_meant(span, take):
        if ref == LineRef() and not on:
            yield take.asking(_which_off(span), LineOff.intent, 0.05)
        else:
            drained = span.items[i].text in word_list("lines_drained")
            yield from now(span, take, (LineOff(ref, drained=drained),), cost)
        return
    if {"it", "her", "us", "again"} & set(span.items[i].text.split()):
        if on:
            yield from now(span, take, (LineOff(LineRef()),), 0.02)
        else:
            yield take.asking(_which_off(span), LineOff.intent, 0.05)
    else:
        yield take.asking(_which_off(span), LineOff.intent, 0.1)


def _which_off(span: Span) -> Question:
    on = [line for line in span.context.lines if line.on]
    choices = [Choice(called(span, line), (LineOff(exactly(line)),)) for line in on[:5]]
    if len(on) > 1:
        choices.append(Choice("all of them", (LineOff(LineRef(all=True)),)))
    return Question("Which line is shut down?", tuple(choices), LineOff(LineRef()), "line")
