"""Answers to the daily check: a fault is a fault, with its text, however it is said."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from msgspec.structs import replace

from grammar.commands import Readiness, Reading
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

SAID = tomllib.loads(Path(__file__).with_name("check.toml").read_text("utf-8"))
ITEMS = ("tank", "pump_check", "compartments", "hose", "nozzles", "masks", "medical_bag", "radios")


def answers(said: str) -> list[Reading]:
    """What it is read as for each item of the check."""
    check = contexts()["readiness"]
    return [read(said, replace(check, readiness_item=item)) for item in ITEMS]


def verdict(reading: Reading) -> bool | None:
    first = reading.commands[0] if reading.commands else None
    return first.ok if isinstance(first, Readiness) else None


@pytest.mark.parametrize("said", SAID["fault"])
def test_a_fault_is_a_fault_with_its_text(said: str) -> None:
    for reading in answers(said):
        assert verdict(reading) is False
        first = reading.commands[0]
        assert isinstance(first, Readiness)
        assert first.remark == (said if " " in said else None)


@pytest.mark.parametrize(("item", "said"), [(item, said) for item, faults in SAID["of"].items() for said in faults])
def test_a_fault_that_names_the_thing_is_one_of_it_and_of_nothing_else(item: str, said: str) -> None:
    check = contexts()["readiness"]
    assert verdict(read(said, replace(check, readiness_item=item))) is False
    assert verdict(read(said, replace(check, readiness_item="compartments"))) is not True


@pytest.mark.parametrize(("asked", "said", "other"), SAID["another"])
def test_a_fault_of_another_thing_is_that_ones(asked: str, said: str, other: str) -> None:
    (told,) = read(said, replace(contexts()["readiness"], readiness_item=asked)).commands
    assert told == Readiness("answer", other, ok=False, remark=said)


@pytest.mark.parametrize("said", SAID["good"])
def test_in_order_is_in_order(said: str) -> None:
    assert [verdict(reading) for reading in answers(said)] == [True] * len(ITEMS)


@pytest.mark.parametrize("said", SAID["either"])
def test_what_may_say_both_is_asked(said: str) -> None:
    assert all(reading.question is not None for reading in answers(said))


@pytest.mark.parametrize("said", SAID["else"])
def test_what_is_no_answer_is_none(said: str) -> None:
    assert all(verdict(reading) is None for reading in answers(said))


def test_a_no_to_what_was_asked_since_is_no_fault() -> None:
    asked = read("we're out of air", contexts()["readiness"]).question
    check = replace(contexts()["readiness"], readiness_item="pump_check", asked=asked)
    for said in ("no", "yes", "nope"):
        assert verdict(read(said, check)) is None
