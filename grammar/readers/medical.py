"""Reads the medical run: the arrest clock, oxygen, the hand-over."""

from __future__ import annotations

from collections.abc import Iterable

from grammar.commands import Arrest, Choice, Question
from grammar.costs import LIKELY
from grammar.readers.base import Candidate, Span, Take, reads
from grammar.readers.said import holds, marks
from grammar.vocabulary import word_list


@reads("pulse_word", "cpr_word")
def read_none(span: Span) -> Iterable[Candidate]:
    """ "No pulse", "no CPR": asked what is to be logged."""
    i = span.first("pulse_word", "cpr_word")
    if not holds(span, "medical_none", span.lo, i) or span.stance(i) == "asked":
        return
    take = Take(span, i, *marks(span))
    take.free(*word_list("medical_none_idle"))
    if "pulse_word" in span.items[i].concepts:
        choices = (Choice("pulse check: no pulse", (Arrest("rhythm_check", text="no pulse"),)), Choice("no"))
        yield take.asking(Question("Log a pulse check, no pulse?", choices), Arrest.intent, LIKELY)
    else:
        choices = (Choice("CPR stopped", (Arrest("cpr_stopped"),)), Choice("no"))
        yield take.asking(Question("Was CPR stopped?", choices), Arrest.intent, LIKELY)
