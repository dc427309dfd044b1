"""A report that is named as taken back isn't made: over every benchmark, way of saying and pause."""

from __future__ import annotations

from typing import get_args

import pytest

from grammar.commands import Benchmark, BenchmarkName, Context, Evacuate, Undo
from grammar.reader import read

HERE = Context(addressed=True, incident_open=True)
SAID = {
    "under_control": "under control", "water_on_fire": "water on the fire", "knocked_down": "knocked down",
    "on_scene": "on scene", "primary_search_complete": "primary search complete", "loss_stopped": "loss stopped",
    "utilities_secured": "utilities secured", "command_established": "command established",
    "water_supply": "water supply established", "rit_in_place": "RIT in place",
}  # fmt: skip
WAYS = ("undo {}", "undo the {}", "take back {}", "ok, undo {}", "Undo {}.")


@pytest.mark.parametrize("name", SAID)
@pytest.mark.parametrize("way", WAYS)
def test_a_benchmark_that_is_named_as_undone_is_taken_back_and_not_reported(name: str, way: str) -> None:
    assert name in get_args(BenchmarkName)
    reading = read(way.format(SAID[name]), HERE)
    assert not any(isinstance(command, Benchmark) for command in reading.commands)
    if reading.commands:
        assert reading.commands == (Undo(benchmark=name),)  # type: ignore[arg-type]


@pytest.mark.parametrize("words", ["undo evacuate", "undo the evacuation", "take back the evacuation"])
def test_an_evacuation_that_is_taken_back_isnt_ordered(words: str) -> None:
    commands = read(words, HERE).commands
    assert not any(isinstance(command, Evacuate) and not command.over for command in commands)


@pytest.mark.parametrize("words", ["undo on the hydrant", "undo remind me in 5 minutes", "undo par 3"])
def test_anything_else_is_asked_about(words: str) -> None:
    reading = read(words, HERE)
    assert (reading.commands, reading.question is not None) == ((), True)


@pytest.mark.parametrize("words", ["undo that, under control", "undo. under control", "scratch that, under control"])
def test_after_a_pause_it_is_a_report_of_its_own(words: str) -> None:
    assert [type(command) for command in read(words, HERE).commands] == [Undo, Benchmark]
