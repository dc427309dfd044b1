"""A Mayday is never missed and never made of other words."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import Mayday, Reading
from grammar.reader import Guess, read
from tests.grammar.corpus.loader import cases, contexts

SAID = tomllib.loads(Path(__file__).with_name("mayday.toml").read_text(encoding="utf-8"))
OFFICER = contexts()["officer"]
GROUP = msgspec.structs.replace(OFFICER, group=True, addressed=False)


def raised(reading: Reading) -> bool:
    """A Mayday was taken."""
    return any(isinstance(c, Mayday) and not c.cleared for c in reading.commands)


@pytest.mark.parametrize("said", SAID["missed"])
def test_never_missed(said: str) -> None:
    assert raised(read(said, OFFICER))
    assert raised(read(said, GROUP)), "in a group, not said to the bot"


@pytest.mark.parametrize("said", SAID["made"])
def test_never_made_of_other_words(said: str) -> None:
    reading = read(said, OFFICER)
    assert not any(isinstance(c, Mayday) for c in reading.commands)


def test_heard_in_any_guess_of_a_recogniser_it_is_taken_or_asked() -> None:
    reading = read([Guess("mayday mayday engine nine", 0.5), Guess("may be a day engine nine", 0.5)], OFFICER)
    assert raised(reading)


@given(st.data())
def test_three_times_amid_any_sentence(data: st.DataObject) -> None:
    """Put into the middle of a sentence of the corpus; practice and holidays are named in the sentence itself."""
    case = data.draw(st.sampled_from(SENTENCES))
    words = case.split()
    at = data.draw(st.integers(0, len(words)))
    assert raised(read(" ".join([*words[:at], "mayday mayday mayday", *words[at:]]), OFFICER))


SENTENCES = random.Random(12).sample(
    [c.expected.say for c in cases() if "day" not in c.expected.say.casefold() and "drill" not in c.expected.say], 200
)


def test_in_a_message_that_is_too_long_to_read() -> None:
    assert raised(read("status " * 2000 + "mayday mayday mayday engine 9 " + "status " * 2000, OFFICER))


def test_its_parts_are_kept() -> None:
    (command,) = read("mayday mayday, engine 9, second floor, out of air, need the rit", OFFICER).commands
    assert isinstance(command, Mayday)
    assert (command.unit, command.location, command.air) == ("engine 9", "second floor", "out of air")
