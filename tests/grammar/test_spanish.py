"""Another language is data alone: a small Spanish (language_es) is read, said and drawn by the same code."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path
from typing import Any

import msgspec
import pytest

from grammar.commands import Command, Reading, Report
from grammar.frames import frames
from grammar.lexicon import Pack, speaking
from grammar.phrases import Names, word_graph
from grammar.reader import read
from grammar.samples import sample
from grammar.spoken import say
from tests.grammar.corpus.loader import canonical, contexts

HERE = Path(__file__).parent
SPANISH = Pack(HERE / "language_es")
CASES: list[dict[str, Any]] = tomllib.loads((HERE / "spanish.toml").read_text(encoding="utf-8"))["case"]
OFFICER = msgspec.structs.replace(contexts()["officer"], units="metric", last=())
NAMES = Names(lines=("Línea 1",), own_unit="Bomba 12", call_names=())


def _meant(case: dict[str, Any]) -> tuple[Command, ...]:
    return msgspec.convert(case["means"], tuple[Command, ...])


def _said(reading: Reading) -> str:
    return reading.declined or (reading.question.text if reading.question else "")


@pytest.mark.parametrize("case", CASES, ids=[case["say"] for case in CASES])
def test_a_message_means_its_command_and_values(case: dict[str, Any]) -> None:
    context = msgspec.structs.replace(OFFICER, **case.get("in", {}))
    reading = read(case["say"], context, SPANISH)
    if "means" in case:
        assert canonical(reading.commands, OFFICER, ("text",)) == canonical(_meant(case), OFFICER, ("text",))
    else:
        assert not reading.commands
        assert case["answered"] in _said(reading)


def test_there_are_twenty_frames() -> None:
    with speaking(SPANISH):
        assert len(frames()) >= 20


def test_english_is_read_as_before_and_beside_it() -> None:
    assert not read("two lines, 200 feet, 1.75, second floor", OFFICER, SPANISH).commands
    assert read("fuego controlado", OFFICER, SPANISH).commands
    assert read("two lines, 200 feet, 1.75, second floor", OFFICER).commands


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (31, "treinta y uno"), (100, "cien"), (145, "ciento cuarenta y cinco"), (1000, "mil"),
        (2500, "dos mil quinientos"), (28, "veintiocho"),
    ],
)  # fmt: skip
def test_numbers_are_said_and_read(value: int, said: str) -> None:
    with speaking(SPANISH):
        assert say(value) == said
    (command,) = read(f"{say_in_spanish(value)} metros de 45 mm", OFFICER, SPANISH).commands
    metres = command.lays[0].lines[0].hose[0].length_ft * 0.3048  # type: ignore[union-attr]
    assert metres == pytest.approx(value)


def say_in_spanish(value: int) -> str:
    with speaking(SPANISH):
        return say(value)


def test_what_is_drawn_is_in_the_word_graph_and_read_as_it_was_drawn() -> None:
    rng = random.Random(9)
    medical = msgspec.structs.replace(contexts()["arrest"], units="metric", last=())
    with speaking(SPANISH):
        graph = word_graph(NAMES)
        drawn = [sample(rng, NAMES) for _ in range(300)]
        assert [said.words for said in drawn if not graph.accepts(said.words)] == []
    for said in drawn:
        if said.command is None:
            continue
        context = medical if said.intent in ("arrest", "hand_over") else OFFICER
        reading = read(said.words, context, SPANISH)
        assert [_wordless(command) for command in reading.commands] == [_wordless(said.command)], said.words


def _wordless(command: Command) -> Command:
    return msgspec.structs.replace(command, text="") if isinstance(command, Report) else command
