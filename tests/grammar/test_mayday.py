"""A Mayday is never missed and never made of other words."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import Context, Mayday, Reading
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


def offered(reading: Reading) -> bool:
    """It is asked whether there is a Mayday."""
    choices = reading.question.choices if reading.question is not None else ()
    return any(isinstance(c, Mayday) and not c.cleared for choice in choices for c in choice.commands)


def both_ways(first: list[str], second: list[str]) -> Iterator[tuple[str, Reading]]:
    """Every two, one before the other and the other way round, to the bot and in a group not said to it."""
    for one, two in product(first, second):
        for said in (f"{one}, {two}", f"{two}, {one}", f"{one} {two}"):
            for room in (OFFICER, GROUP):
                yield said, read(said, room)


def test_an_exercise_is_asked_about_and_what_is_none_is_taken() -> None:
    asked = [said for said, reading in both_ways(SAID["exercises"], SAID["calls"]) if not offered(reading)]
    assert asked == []
    taken = [said for said, reading in both_ways(SAID["earnest"], SAID["calls"]) if not raised(reading)]
    assert taken == []


def test_no_talk_beside_a_call_hides_it() -> None:
    passed_over = [
        said for said, reading in both_ways(SAID["beside"], SAID["calls"]) if not (raised(reading) or offered(reading))
    ]
    assert passed_over == []


@pytest.mark.parametrize("room", [OFFICER, GROUP, contexts()["group_quiet"]], ids=["officer", "group", "no incident"])
def test_told_of_another_day_is_none_and_what_may_be_over_is_asked(room: Context) -> None:
    units, places = ("engine 9", "truck 4"), ("second floor", "roof")
    for kind, should in (("told", False), ("past", True)):
        for wording, unit, place in product(SAID[kind], units, places):
            reading = read(wording.replace("{unit}", unit).replace("{place}", place), room)
            assert not raised(reading), wording
            assert offered(reading) == should, wording


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
