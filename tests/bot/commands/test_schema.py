"""The JSON Schema of the answers, and what `ask --json` prints held against it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import msgspec
import pytest

import bot
from bot.cli import run
from bot.commands.schema import MessageAnswered, schema

SAID = (
    "two lines, 200 feet, 1.75",
    "purple monkey dishwasher",
    "all clear",
    "engine 9 par of 4",
    "hydrant static 70 residual 63",
)


@pytest.mark.parametrize("words", SAID)
def test_what_is_printed_is_what_the_schema_says(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    run(["ask", "--json", words])
    printed = capsys.readouterr().out
    told = msgspec.json.decode(printed, type=MessageAnswered, strict=True)
    assert told.text == words
    keys = {*json.loads(printed)}
    assert keys <= {*schema()["$defs"]["MessageAnswered"]["properties"]}
    kinds = [{*kind["properties"]} for kind in schema()["$defs"].values()]
    assert any({*told.answer} <= properties for properties in kinds)


def test_the_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ask", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out) == schema()


def test_the_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"crosslay {bot.__version__}\n"
    project = tomllib.loads((Path(bot.__file__).parents[1] / "pyproject.toml").read_text("utf-8"))
    assert project["tool"]["hatch"]["version"]["path"] == "bot/__init__.py"
