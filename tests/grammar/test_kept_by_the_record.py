"""What is read goes into the record and comes back the same.

A question that doesn't would keep its speaker's next messages from being handled.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import islice

import msgspec

from grammar.bank import draw, ways
from grammar.commands import Command, Context, Question, Reading
from grammar.reader import read
from tests.grammar.corpus.loader import cases, contexts

_QUESTION = msgspec.json.Decoder(Question)
_COMMANDS = msgspec.json.Decoder(tuple[Command, ...])
ANSWERS = ("0", "12", "e", "yes", "the second one", "1.75", "2000 psi")
"""Said to an open question: of use to it or not."""
EVERY = 5
"""One of so many ways of the bank is drawn from."""


def test_every_reading_comes_back_from_the_record_as_it_went_in() -> None:
    lost = [f"{said!r}: {what}" for said, context in _sentences() for what in _changed(said, context)]
    assert lost == []


def _sentences() -> Iterator[tuple[str, Context]]:
    for case in cases():
        yield case.expected.say, case.context
    rng = random.Random(1)
    for way in islice(ways(held_out=False), 0, None, EVERY):
        yield draw(way, rng).words, contexts()[way.context]


def _changed(said: str, context: Context) -> Iterator[str]:
    """What doesn't come back: of the sentence, and of what is said to the question that it leaves open."""
    reading = read(said, context)
    yield from _unlike(reading)
    if reading.question is None:
        return
    answering = msgspec.structs.replace(context, asked=reading.question)
    for answer in ANSWERS:
        for what in _unlike(read(answer, answering)):
            yield f"{answer!r} to it: {what}"


def _unlike(reading: Reading) -> Iterator[str]:
    question = reading.question
    offered = [reading.commands, *(choice.commands for choice in question.choices)] if question else [reading.commands]
    try:
        if question is not None and _QUESTION.decode(msgspec.json.encode(question)) != question:
            yield f"{question}"
        for commands in offered:
            if _COMMANDS.decode(msgspec.json.encode(commands)) != commands:
                yield f"{commands}"
    except msgspec.DecodeError as error:
        yield f"{error}"
