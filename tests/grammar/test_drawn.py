"""A law of the language: a sentence that is drawn from a frame is read as the command and values it was drawn from."""

from __future__ import annotations

import os
import random
from collections import Counter

import msgspec
import pytest

from grammar.commands import Arrest, Command, Context, Report
from grammar.frames import frames
from grammar.phrases import Names
from grammar.reader import read
from grammar.samples import Phrase, sample
from tests.grammar.corpus.loader import contexts

NUMBER = 20_000 if os.environ.get("CROSSLAY_LAWS") == "full" else 2_000
INTENTS = sorted({frame.command.intent for frame in frames() if frame.says})
MEDICAL = frozenset(("arrest", "oxygen_time", "hand_over"))


def _context(intent: str) -> Context:
    """Where such a thing is said."""
    known = contexts()
    return known["arrest"] if intent in MEDICAL else known["officer"]


def _same(said: Phrase, got: tuple[Command, ...]) -> bool:
    """The same command; what keeps its words may keep an "okay" before them."""
    if len(got) != 1 or said.command is None:
        return False
    return _wordless(said.command) == _wordless(got[0])


def _wordless(command: Command) -> Command:
    keeps = isinstance(command, Report | Arrest)
    return msgspec.structs.replace(command, text="") if keeps else command


@pytest.fixture(scope="module")
def outcome() -> tuple[Counter[str], list[str]]:
    rng = random.Random(1411)
    counts: Counter[str] = Counter()
    shown: list[str] = []
    while counts.total() < NUMBER:
        said = sample(rng, Names(call_names=()), rng.choice(INTENTS))
        if said.command is None or "mayday" in said.words:  # the word Mayday is always asked about
            continue
        reading = read(said.words, _context(said.intent))
        if _same(said, reading.commands):
            counts["right"] += 1
            continue
        verdict = "wrong" if reading.commands else "asked" if reading.question else "declined"
        counts[verdict] += 1
        shown.append(f"{verdict}: {said.words!r}: {said.command} read as {reading.commands or reading.question}")
    return counts, shown


def test_what_is_drawn_is_read_as_it_was_drawn(outcome: tuple[Counter[str], list[str]]) -> None:
    counts, shown = outcome
    print(counts, *shown[:60], sep="\n")
    assert counts["right"] / counts.total() >= 0.995


def test_nothing_drawn_is_read_as_something_else(outcome: tuple[Counter[str], list[str]]) -> None:
    counts, shown = outcome
    assert counts["wrong"] == 0, "\n".join(line for line in shown if line.startswith("wrong"))
