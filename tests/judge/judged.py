"""Messages read by the rules, every proposal of theirs scored: what `fit` fits on and `measure` counts."""

from __future__ import annotations

import multiprocessing
import random
from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from bot.message.as_json import as_object
from bot.message.reply import answer_reading
from grammar.bank import bank
from grammar.commands import Command, Context, Reading
from grammar.judge.features import Scored, scored
from grammar.judge.network import Network
from grammar.reader import considered, warm
from handlers.history import History
from tests.grammar.bank_reading import verdict as bank_verdict
from tests.grammar.corpus.loader import cases, judge
from tests.judge import wild
from tests.judge.data import case_split, drawn, same, split_of, text_of
from tests.judge.noise import spoil, tagged

SPOILED = 2
"""Spoiled forms of each sentence of the bank that is fitted on."""


class Sentence(NamedTuple):
    """A message and how it is judged: `of` names its set; one of said, case, message stands behind it."""

    of: str
    text: str
    context: Context
    behind: object


class Judged(NamedTuple):
    """A message with the rules' verdict and its proposals: (right, features)."""

    sentence: Sentence
    reading: Reading
    rules: str
    proposals: list[tuple[bool | None, Scored]]


def bank_sentences(split: str, seed: int, noise: bool) -> Iterator[Sentence]:
    """Sentences of one split of the bank; with noise one spoiled beside each."""
    rng = random.Random(seed)
    for way in bank():
        if split_of(way) == split:
            one = drawn(way, rng)
            yield Sentence(f"bank {split}", one.said.words, one.context, one.said)
            for _ in range(SPOILED if noise else 0):
                yield Sentence(f"bank {split} spoiled", text_of(spoil(one.words, rng)), one.context, one.said)


def corpus_sentences(split: str, seed: int, noise: bool) -> Iterator[Sentence]:
    """Sentences of the corpus."""
    rng = random.Random(seed)
    for case in cases():
        if case_split(case.expected.say) == split:
            yield Sentence(f"corpus {split}", case.expected.say, case.context, case)
            words = tagged(case.expected.say, (), "")
            if noise and len(words) > 1:
                yield Sentence(f"corpus {split} spoiled", text_of(spoil(words, rng)), case.context, case)


def wild_sentences(paths: Iterable[Path], split: str | None) -> Iterator[Sentence]:
    """Messages of sets; all of them, or one split."""
    for path in paths:
        for message in wild.messages(path):
            if split is None or case_split(message.text) == split:
                yield Sentence(path.stem, message.text, wild.context(), message)


def fit_sentences(wild_sets: Iterable[Path]) -> list[Sentence]:
    """What is fitted on, and used for nothing else."""
    return [*bank_sentences("fit", 5, True), *corpus_sentences("fit", 5, True), *wild_sentences(wild_sets, "fit")]


def verdict(sentence: Sentence, reading: Reading) -> str:
    """right, asked, declined or wrong."""
    behind = sentence.behind
    if isinstance(behind, wild.Message):
        asker = wild._asker()
        handled = answer_reading(reading, History(), asker.rig, asker.said())
        got = as_object(handled)
        right = wild.verdict(behind.row, got)
        asked = bool(got["question"])
        if right is None:
            due = behind.row.get("expect") in ("question_or_refusal", "no_stamp") or (
                behind.row.get("expect") == "refused" and asked
            )
            either = asked and (
                "question" in (behind.row.get("either") or ()) or behind.row.get("expect") == "partial_or_question"
            )
            return "right" if due or either else "asked" if asked else "declined"
        return "right" if right else "wrong"
    if hasattr(behind, "way"):
        return bank_verdict(behind, reading, sentence.context)
    found = judge(behind, reading)  # type: ignore[arg-type]
    return "declined" if found == "missed" else found


def is_asked_on_purpose(sentence: Sentence) -> bool:
    """A question is what is due: the rules ask it on purpose, and there the learned reader isn't consulted."""
    behind: Any = sentence.behind
    if hasattr(behind, "way"):
        return bool(behind.commands == ())
    return hasattr(behind, "expected") and behind.expected.ask is not msgspec.UNSET


def is_right(sentence: Sentence, commands: tuple[Command, ...]) -> bool | None:
    """Whether these commands are what the message means; None where it can't be told."""
    behind = sentence.behind
    if isinstance(behind, wild.Message):
        return wild.right(behind, commands)
    if hasattr(behind, "way"):
        due = behind.commands
        if due is None:
            return (
                None if bank_verdict(behind, Reading(sentence.text, commands), sentence.context) == "right" else False
            )
        return bool(due) and same(commands, due, sentence.context)
    return judge(behind, Reading(sentence.text, commands)) == "right"  # type: ignore[arg-type]


_NETWORK: list[Network] = []


def _begin(folder: Path) -> None:
    warm()
    _NETWORK.append(Network(folder))


def _one(sentence: Sentence) -> Judged:
    reading, found = considered(sentence.text, sentence.context)
    proposals = scored(sentence.context, reading, found, _NETWORK[0], partial(considered, context=sentence.context))
    return Judged(
        sentence, reading, verdict(sentence, reading), [(is_right(sentence, one.commands), one) for one in proposals]
    )


def judged(sentences: Iterable[Sentence], folder: Path, workers: int) -> list[Judged]:
    """All of them, by several processes."""
    with multiprocessing.Pool(workers, _begin, (folder,)) as pool:
        return pool.map(_one, list(sentences), chunksize=40)
