"""Reads the medical run: the arrest clock, oxygen, the hand-over."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Arrest, Choice, Question
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.said import marks


@reads("pulse_word", "cpr_word")
def read_none(span: Span) -> Iterable[Candidate]:
    """ "No pulse", "no CPR": asked what is to be logged."""
    i = span.first("pulse_word", "cpr_word")
    if (
        not ({"no", "not", "still no", "without"} & {span.items[k].text for k in range(span.lo, i)})
        or span.stance(i) == "asked"
    ):
        return
    take = Take(span, i, *marks(span))
    take.free("still", "there", "we", "patient")
    if "pulse_word" in span.items[i].concepts:
        choices = (Choice("pulse check: no pulse", (Arrest("rhythm_check", text="no pulse"),)), Choice("no"))
        yield take.asking(Question("Log a pulse check, no pulse?", choices), Arrest.intent, 0.05)
    else:
        choices = (Choice("CPR stopped", (Arrest("cpr_stopped"),)), Choice("no"))
        yield take.asking(Question("Was CPR stopped?", choices), Arrest.intent, 0.05)
