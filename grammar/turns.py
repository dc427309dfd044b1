"""Whose turn it is: whether what was said may go on after a breath, and whether it answers what was asked.

Asked by who listens hands-free; pure, and quick enough to be asked after every utterance.
"""

from __future__ import annotations

from grammar.commands import Context, Emergency, Evacuate, Mayday, Question, Reading
from grammar.phrases import WordGraph
from grammar.reader import read
from grammar.readers.answers import read_answer
from grammar.readers.check import read_check
from grammar.vocabulary import names

AT_ONCE = (Mayday, Evacuate, Emergency)
AFTERTHOUGHTS = ("not yet", "in two minutes")
"""What may follow a report or an order, and makes it none."""


def could_go_on(words: str, reading: Reading, context: Context, graph: WordGraph) -> bool:
    """Whether more may follow these words that changes what they mean.

    Args:
        words: what was heard so far, without the call name.
        reading: what that means in this context.
        graph: what can be said here.
    """
    if is_urgent(reading):
        return False
    if answers_question(words, context) and not _wants_more(context.asked):
        return False
    if not reading.commands or graph.goes_on(words):
        return True
    return any(_undone(read(f"{words} {more}", context), reading) for more in AFTERTHOUGHTS)


def is_urgent(reading: Reading) -> bool:
    """A Mayday, an evacuation or emergency traffic: it never waits, and isn't taken back by what follows it."""
    return any(isinstance(command, AT_ONCE) for command in reading.commands)


def answers_question(words: str, context: Context) -> bool:
    """Whether the words answer what was asked: one of its choices, yes or no, its slot, or the check's item.

    To a question about a Mayday every word is an answer.
    """
    asked = context.asked
    if asked is not None and isinstance(asked.fills, Mayday):
        return True
    return read_check(words, context) is not None or read_answer(words, context, names(context)) is not None


def _wants_more(asked: Question | None) -> bool:
    """A slot that is filled in words may be filled in two breaths; a choice is whole."""
    return asked is not None and asked.fills is not None


def _undone(longer: Reading, reading: Reading) -> bool:
    return longer.declined is not None and longer.intent in {command.intent for command in reading.commands}
