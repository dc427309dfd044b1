"""What is told along with a lay in a clause of its own changes nothing of it: the lay, or a question, no other lay."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import PumpPressure
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

TOLD: dict[str, Any] = tomllib.loads(Path(__file__).with_name("told_along.toml").read_text(encoding="utf-8"))
ANSWERED = 0.7
"""Least share that is answered and not asked."""


def _means(command: object) -> list[dict[str, Any]]:
    assert isinstance(command, PumpPressure)
    lines = [line for lay in command.lays for line in lay.lines]
    told = []
    for line in lines:
        nozzle = {"tip_in": line.nozzle.tip_in, "flow_gpm": line.nozzle.flow_gpm}
        hose = [[run.hose_in, run.length_ft] for run in line.hose]
        told.append({"hose": hose, **{name: value for name, value in nozzle.items() if value is not None}})
    return told


@pytest.mark.parametrize("lay", TOLD["lay"], ids=[lay["say"] for lay in TOLD["lay"]])
def test_a_clause_told_along_changes_no_lay(lay: dict[str, Any]) -> None:
    answered = 0
    for clause in TOLD["clauses"]:
        for said in (f"{lay['say']}, {clause}", f"{clause}, {lay['say']}"):
            reading = read(said, contexts()["plain"])
            if reading.commands:
                answered += 1
                assert [_means(command) for command in reading.commands] == [lay["means"]], said
    assert answered >= ANSWERED * 2 * len(TOLD["clauses"])


def test_lengths_that_share_a_size_and_a_floor_of_all_lines() -> None:
    """The size said once for all, before the lines or after them, and a floor said of all."""
    for said, floors in (
        ("five lengths to the cellar and three lengths to the first floor, inch and three quarter on both", [-1, 1]),
        ("three inch-and-three-quarter lines, one's 150, one's 200, one's 250, all second floor", [2, 2, 2]),
    ):
        (command,) = read(said, contexts()["plain"]).commands
        assert isinstance(command, PumpPressure)
        lines = [line for lay in command.lays for line in lay.lines]
        assert [line.floor for line in lines] == floors
        assert {run.hose_in for line in lines for run in line.hose} == {1.75}
