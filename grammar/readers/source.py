"""What is made of the intake's gauge: what it reads, or by how much it changed."""

from __future__ import annotations

from grammar.commands import Intake, Question
from grammar.frames import then
from grammar.lexicon import sentence
from grammar.readers.base import Candidate, Span, Take
from grammar.vocabulary import word_list


@then
def intake_now(take: Take, command: Intake) -> Candidate:
    """ "Intake dropped 20", "we lost 20 on the intake" tells by how much it changed: what it reads is asked."""
    if _by_how_much(take.span):
        return take.asking(Question(sentence("intake_now"), (), Intake(0.0), "intake_psi"), Intake.intent)
    return take.reading(command)


def _by_how_much(span: Span) -> bool:
    """ "Dropped to 20" reads it; "from 60 to 30" is asked."""
    first = span.lo - 1 if span.lo and span.items[span.lo - 1].kind != "sep" else span.lo
    said = {word for k in range(first, span.hi) for word in span.items[k].text.split()}
    if word_list("source_both") <= said:
        return True
    return not said.isdisjoint(word_list("source_fell")) and said.isdisjoint(word_list("source_reads"))
