"""Reads drafting and fittings."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Fitting, Question
from grammar.costs import UNSURE
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take, reads

_ENDS = ("storz", "male", "female", "thread", "camlock", "outlet")
_LARGEST_IN = 8


@reads("fitting", "storz", "male", "female", "thread")
def read_fitting(span: Span) -> Iterable[Candidate]:
    """ "five inch storz to two and a half male"."""
    take = Take(span)
    sized = [i for i in span.kinds("num") if span.items[i].unit in (None, "in") and span.items[i].form != "ordinal"]
    ends = [end for i in sized if span.items[i].number <= _LARGEST_IN and (end := _end(span, take, i))]
    take.terms("fitting", "into", "for_noise", "line", "order", "hope", "dropped_to")
    if len(ends) == 2:
        yield take.reading(Fitting(ends[0], ends[1]))
    elif span.has("fitting") and (ends or span.has("storz", "male", "female")):
        yield take.asking(Question(sentence("which_ends")), Fitting.intent, UNSURE)


def _end(span: Span, take: Take, i: int) -> str | None:
    """What follows a size: "5 storz"; a hydrant's ports are male threads."""
    kinds: list[str] = []
    for k in range(i + 1, min(i + 4, span.hi)):
        item = span.items[k]
        kind = next((name for name in _ENDS if name in item.concepts), None)
        if kind is not None:
            kinds.append({"thread": item.text, "outlet": "male"}.get(kind, kind))
            take.mark(i, k)
        elif not item.free or kinds or "into" in item.concepts:
            break
    return f"{span.items[i].number:g} {' '.join(kinds)}" if kinds else None
