"""A flow test written into a rig file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from bot import rigs
from bot.errors import FileProblem
from bot.rigs.flow_test import save
from grammar.commands import Coefficient
from handlers.pumping.coefficient import MeasuredCoefficient
from tests.handlers.pumping.asking import DEMO, ask

DAY = date(2026, 3, 12)


def measured() -> MeasuredCoefficient:
    answer = ask(Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150, loss_psi=52, save=True)).answer
    assert isinstance(answer, MeasuredCoefficient)
    return answer


def test_the_file_holds_the_new_value_and_all_the_rest(tmp_path: Path) -> None:
    file = tmp_path / "engine_12.toml"
    file.write_text(DEMO, encoding="utf-8")
    assert save(file, measured(), DAY) == f"C = 11.56 is in {file}, [hose.1_75]."
    rig = rigs.load(file).own
    assert rig.hose["1_75"].coefficient == 11.56
    assert rig.hose["1_75"].flow_tested
    assert rig.source("hose.1_75.coefficient") == "flow test, 2026-03-12"
    assert rig.line["crosslay_1"] == rigs.load().own.line["crosslay_1"]
    assert [path.name for path in tmp_path.iterdir()] == ["engine_12.toml"]


def test_the_demonstration_rig_and_a_missing_file_are_not_written(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="demonstration rig can't be changed"):
        save("", measured(), DAY)
    with pytest.raises(FileProblem, match="no such rig file"):
        save(tmp_path / "none.toml", measured(), DAY)
