"""Only what is reported is stamped: who is called first, and how it is asked, denied, hoped, quoted, changes nothing.

The short form takes a fixed draw of the table in stances.toml; CROSSLAY_LAWS=full reads all of it.
"""

from __future__ import annotations

import os
import random
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from grammar.commands import (
    Benchmark,
    Command,
    Correction,
    Elapsed,
    Exit,
    LineOn,
    Reading,
    Status,
    Undo,
    WaterSource,
)
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

TABLE = tomllib.loads(Path(__file__).with_name("stances.toml").read_text("utf-8"))
OFFICER = contexts()["officer"]
FULL = os.environ.get("CROSSLAY_LAWS") == "full"
DRAWN = 170
"""Sentences of each stance in the short form."""
STAMPS = (Benchmark, WaterSource, LineOn, Exit)
"""Commands that log what was said as having happened."""


class Sentence(NamedTuple):
    """A benchmark's subject, verb and end."""

    subject: str
    verb: str
    end: str

    def forms(self) -> dict[str, str]:
        """The sentence said, asked, denied, of the future, and its end alone."""
        subject, verb, end = self
        if verb == "have":
            return {
                "S": f"{subject} have {end}",
                "Q": f"do {subject} have {end}",
                "D": f"{subject} do not have {end}",
                "N": f"{subject} don't have {end}",
                "W": f"{subject} will have {end}",
                "V": f"did {subject} have {end}",
                "R": end,
            }
        return {
            "S": f"{subject} {verb} {end}",
            "Q": f"{verb} {subject} {end}",
            "D": f"{subject} {verb} not {end}",
            "N": f"{subject} {verb}n't {end}",
            "W": f"{subject} will be {end}",
            "V": f"{'was' if verb == 'is' else 'were'} {subject} {end}",
            "R": end,
        }


BENCHMARKS = {one["name"]: Sentence(*one["say"]).forms() for one in TABLE["benchmark"]}


def sentences(stance: str) -> Iterator[str]:
    for way in TABLE["ways"][stance]:
        for forms in BENCHMARKS.values():
            said = way.format(**forms)
            yield said
            for opening in TABLE["openings"]:
                yield f"{opening} {said}"
                yield f"{opening}, {said}"


def drawn(everything: Iterator[str]) -> list[str]:
    table = list(everything)
    return table if FULL else random.Random(12).sample(table, DRAWN)


def stamps(reading: Reading) -> list[Command]:
    commands = [*reading.commands]
    for command in reading.commands:
        if isinstance(command, Correction):
            commands.extend(command.amended)
    return [command for command in commands if isinstance(command, STAMPS)]


@pytest.mark.timeout(900)
@pytest.mark.parametrize("stance", TABLE["ways"])
def test_what_is_not_reported_is_never_stamped(stance: str) -> None:
    table = drawn(sentences(stance))
    assert [said for said in table if stamps(read(said, OFFICER))] == []


@pytest.mark.timeout(900)
def test_a_question_is_answered_from_the_log() -> None:
    """However it is asked, mostly the log answers, and seldom somebody is asked back what was meant."""
    asked = [f"{opening} {forms['Q']}" for opening in TABLE["openings"] for forms in BENCHMARKS.values()]
    found = Counter(read(said, OFFICER).intent or "not understood" for said in drawn(iter(asked)))
    assert found["status"] >= 0.9 * found.total(), found


@pytest.mark.timeout(900)
def test_a_report_stays_one_whoever_is_called_first() -> None:
    table = [(name, f"{o}, {forms['S']}") for o in TABLE["openings"] for name, forms in BENCHMARKS.items()]
    table = table if FULL else random.Random(12).sample(table, DRAWN)
    taken = [
        name in [c.benchmark for c in read(said, OFFICER).commands if isinstance(c, Benchmark)] for name, said in table
    ]
    assert sum(taken) >= 0.9 * len(table)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("how long from water to under control", Elapsed("water_on_fire", "under_control")),
        ("how long between arrival and the knockdown", Elapsed("on_scene", "knocked_down")),
        ("what time did we get water", Status("water_on_fire")),
        ("is the primary done on eight", Status("primary_search_complete")),
    ],
)
def test_questions_about_what_was_reported(said: str, expected: Command) -> None:
    assert read(said, OFFICER).commands == (expected,)


@pytest.mark.parametrize(
    ("said", "place"),
    [
        ("primary's done up here", "up here"),
        ("primary complete on six", "sixth floor"),
        ("primary done on our side", "our side"),
        ("secondary complete on this floor", "this floor"),
    ],
)
def test_a_part_is_reported_as_a_part(said: str, place: str) -> None:
    assert [c.place for c in read(said, OFFICER).commands if isinstance(c, Benchmark)] == [place]


def test_driver_is_on_the_plug_is_a_report() -> None:
    assert read("driver is on the plug", OFFICER).commands == (WaterSource(source="hydrant"),)


@pytest.mark.parametrize(
    "said", ["no it isn't", "belay that, it isn't", "no, it's not", "negative, we don't", "it isn't"]
)
def test_what_was_reported_last_and_is_denied_is_offered_to_be_taken_back(said: str) -> None:
    question = read(said, contexts()["after_benchmark"]).question
    assert question is not None
    assert [type(command) for choice in question.choices for command in choice.commands] == [Undo]
