"""Laws of wording at the pump: every way of saying, with every value, gives that command and value, or a question."""

from __future__ import annotations

import os
import random
import tomllib
from itertools import product
from pathlib import Path
from typing import Any

import msgspec
import pytest

from bot.api import Crosslay
from bot.settings import Settings
from grammar.commands import Command, LineOn, PumpPressure, Reading
from grammar.reader import read

TABLE = tomllib.loads(Path(__file__).with_name("pump_wording.toml").read_text("utf-8"))
FULL = os.environ.get("CROSSLAY_LAWS") == "full"
SHORT = 120
"""Sentences of one law in a short run, drawn with a fixed seed."""
CONTEXT = Crosslay.of(Settings()).context


@pytest.mark.parametrize("law", TABLE["law"], ids=lambda law: str(law["name"]))
def test_every_way_of_saying_it_with_every_value(law: dict[str, Any]) -> None:
    said = list(_said(law))
    drawn = said if FULL else random.Random(7).sample(said, min(SHORT, len(said)))
    wrong, answered = [], 0
    for text, values in drawn:
        reading = read(text, CONTEXT)
        if not reading.commands:
            continue
        if _is_it(law, reading, values):
            answered += 1
        else:
            wrong.append((text, reading.commands))
    assert not wrong, wrong[:3]
    assert answered >= law["least"] * len(drawn)


def _said(law: dict[str, Any]) -> Any:
    names = list(law["values"])
    for way in law["says"]:
        for picked in product(*(law["values"][name] for name in names)):
            values = dict(zip(names, picked, strict=True))
            yield way.format(**{name: value[0] for name, value in values.items()}), values


def _is_it(law: dict[str, Any], reading: Reading, values: dict[str, Any]) -> bool:
    command = reading.commands[0]
    if len(reading.commands) != 1 or type(command).__name__ != law["command"]:
        return False
    plain = msgspec.to_builtins(command)
    return all(_there(plain, path, values[slot][1]) for path, slot in law["fields"].items())


def _there(plain: Any, paths: str, due: Any) -> bool:
    found = [value for path in paths.split("|") if (value := _at(plain, path)) is not None]
    return found in ([], [0]) if due == "None" else bool(found) and found[0] == due


def _at(plain: Any, path: str) -> Any:
    for key in path.split("."):
        if isinstance(plain, list | tuple):
            plain = plain[int(key)] if int(key) < len(plain) else None
        elif isinstance(plain, dict):
            plain = plain.get(key)
    return plain


BESIDE = TABLE["beside"]


def test_a_place_or_an_aside_changes_nothing_that_is_worked_out() -> None:
    asked = 0
    said = [(lay, f"{lay} {place}") for lay, place in product(BESIDE["lays"], BESIDE["places"])]
    said += [(lay, f"{before}{lay}") for lay, before in product(BESIDE["lays"], BESIDE["before"])]
    for lay, text in said:
        reading = read(text, CONTEXT)
        if not reading.commands:
            asked += 1
            continue
        assert _bare(reading.commands) == _bare(read(lay, CONTEXT).commands), text
    assert asked <= 0.05 * len(said)


def test_a_line_that_is_charged_somewhere_is_charged() -> None:
    for place in BESIDE["places"]:
        reading = read(f"crosslay 2 is charged {place}", CONTEXT)
        assert [type(command) for command in reading.commands] in ([LineOn], []), place


def test_what_changes_a_lay_is_never_left_unread() -> None:
    for lay, change in product(BESIDE["lays"], BESIDE["changes"]):
        reading = read(f"{lay} {change}", CONTEXT)
        assert not reading.commands or _bare(reading.commands) != _bare(read(lay, CONTEXT).commands), (lay, change)


def test_what_is_done_to_a_line_is_no_question_of_its_pressure() -> None:
    for deed, line in product(BESIDE["deeds"], ("crosslay 1", "the rear line", "the bumper line")):
        assert not any(isinstance(c, PumpPressure) for c in read(f"{deed} {line}", CONTEXT).commands), (deed, line)


def _bare(commands: tuple[Command, ...]) -> list[Any]:
    """Without the places that lines work at."""
    return [_without_place(msgspec.to_builtins(command)) for command in commands]


def _without_place(plain: Any) -> Any:
    if isinstance(plain, dict):
        return {key: _without_place(value) for key, value in plain.items() if key != "place"}
    return [_without_place(value) for value in plain] if isinstance(plain, list | tuple) else plain
