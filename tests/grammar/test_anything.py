"""Anything may be typed: nothing raises, everything gets an answer, a question, a refusal or silence."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import Context, Reading
from grammar.reader import Guess, read
from grammar.vocabulary import vocabulary
from tests.grammar.corpus.loader import cases, contexts

CONTEXTS = tuple(contexts().values())
WORDS = sorted(vocabulary().spoken)
SAID = [case.expected.say for case in cases()]


def whole(reading: Reading) -> bool:
    """Exactly one outcome."""
    outcomes = [bool(reading.commands), reading.question is not None, reading.declined is not None, reading.ignored]
    return outcomes.count(True) == 1


@given(st.text(max_size=300), st.sampled_from(CONTEXTS))
def test_any_text(text: str, context: Context) -> None:
    assert whole(read(text, context))


@given(st.binary(max_size=300), st.sampled_from(CONTEXTS))
def test_any_bytes(data: bytes, context: Context) -> None:
    assert whole(read(data.decode("latin-1"), context))
    assert whole(read(data.decode("utf-8", "replace"), context))


@given(st.lists(st.sampled_from(WORDS), max_size=25).map(" ".join), st.sampled_from(CONTEXTS))
def test_any_words_of_the_trade(text: str, context: Context) -> None:
    assert whole(read(text, context))


LAYS = (
    "two three lines line legs 200 feet 150 ft 1.75 2.5 inch and a half deuce wye wyed to into siamesed monitor "
    "standpipe fdc crosslay one crosslays both deck gun rear second floor third up down at flowing gpm psi tip 15/16 "
    "fog each total , "
    "then off with on charge shut gate add of the feed attic uphill minus or 50 300 x by 3 leg first other"
)


@given(st.lists(st.sampled_from(LAYS.split(" ")), max_size=18).map(" ".join), st.sampled_from(CONTEXTS))
def test_any_words_of_a_lay(text: str, context: Context) -> None:
    assert whole(read(text, context))


@given(st.randoms(use_true_random=False), st.sampled_from(CONTEXTS))
def test_sentences_run_into_each_other(chance: random.Random, context: Context) -> None:
    assert whole(read(" ".join(chance.sample(SAID, 3)), context))


@given(st.lists(st.tuples(st.text(max_size=60), st.floats(0, 1)), max_size=5), st.sampled_from(CONTEXTS))
def test_any_guesses(guesses: list[tuple[str, float]], context: Context) -> None:
    assert whole(read([Guess(*guess) for guess in guesses], context))


@pytest.mark.parametrize("text", ["", " ", "\n\n", "?", "-", "1" * 4000, "½" * 400, "9" * 300 + " feet"])
def test_oddities(text: str) -> None:
    assert whole(read(text, CONTEXTS[0]))


def test_more_than_4096_characters_are_declined() -> None:
    reading = read("two lines 200 feet 1.75 " * 200, CONTEXTS[0])
    assert reading.declined is not None
    assert "too long" in reading.declined


def test_nonsense_is_declined_in_one_sentence_and_chatter_in_a_group_ignored() -> None:
    assert "Not understood" in (read("purple monkey dishwasher", contexts()["plain"]).declined or "")
    group = Context(group=True, addressed=False, incident_open=True)
    assert read("who is bringing lunch tomorrow", group).ignored
