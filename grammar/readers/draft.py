"""Reads drafting and fittings."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Fitting, Question
from grammar.readers.base import Candidate, Span, Take, reads


# A hydrant's ports are male threads.
@reads("fitting", "storz", "male", "female", "thread")
def read_fitting(span: Span) -> Iterable[Candidate]:
    """ "five inch storz to two and a half male"."""
    ends = []
    take = Take(span)
    for i in span.kinds("num"):
        item = span.items[i]
        if item.form == "ordinal" or item.unit not in (None, "in") or item.number > 8:
            continue
        kinds: list[str] = []
        for k in range(i + 1, min(i + 4, span.hi)):
            kind = next(
                (c for c in ("storz", "male", "female", "thread", "camlock", "outlet") if c in span.items[k].concepts),
                None,
            )
            if kind is None:
                if span.items[k].free and not kinds and span.items[k].text not in ("to", "into"):
                    continue
                break
            kinds.append(span.items[k].text if kind == "thread" else "male" if kind == "outlet" else kind)
            take.mark(k)
        if kinds:
            take.mark(i)
            ends.append(f"{item.number:g} {' '.join(kinds)}")
    take.terms("fitting", "into", "for_noise", "line", "order", "hope", "dropped_to")
    if len(ends) == 2:
        yield take.reading(Fitting(ends[0], ends[1]))
    elif span.has("fitting") and (ends or span.has("storz", "male", "female")):
        yield take.asking(
            Question("From which end to which end? Say it like “5 inch storz to 2½ male”.", (), None, None),
            Fitting.intent,
            0.3,
        )
