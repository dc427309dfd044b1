"""A flow test written into a rig file."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from bot import rigs
from bot.errors import FileProblem
from bot.incident import Incident
from bot.rigs.flow_test import save
from grammar.commands import Coefficient
from handlers.pumping.coefficient import MeasuredCoefficient
from tests.handlers.pumping.asking import DEMO, ask

DAY = date(2026, 3, 12)
TEST = "flow test 200 feet of 1.75 at 150 gpm lost 52 psi"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A company's own rig file, with a comment beside the hose that is tested."""
    file = tmp_path / "engine_12.toml"
    file.write_text(DEMO.replace("[hose.1_75]", "# bought in 2019\n[hose.1_75]"), encoding="utf-8")
    return file


def measured() -> MeasuredCoefficient:
    answer = ask(Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150, loss_psi=52, save=True, sure=True)).answer
    assert isinstance(answer, MeasuredCoefficient)
    return answer


def test_the_file_holds_the_new_value_and_all_the_rest(file: Path) -> None:
    known = rigs.load(file)
    assert save(known, "engine 12", measured(), DAY) == f"C = 11.56 is in {file}, [hose.1_75]."
    rig = rigs.load(file).own
    assert rig.hose["1_75"].coefficient == 11.56
    assert rig.hose["1_75"].flow_tested
    assert rig.source("hose.1_75.coefficient") == "flow test, 2026-03-12"
    assert rig.line["crosslay_1"] == rigs.load().own.line["crosslay_1"]
    assert "# bought in 2019" in rigs.text_of(file)
    assert [path.name for path in file.parent.iterdir()] == ["engine_12.toml"]


def test_the_demonstration_rig_and_a_missing_file_are_not_written(file: Path) -> None:
    with pytest.raises(FileProblem, match="demonstration rig can't be changed"):
        save(rigs.load(), "engine 12", measured(), DAY)
    known = rigs.load(file)
    file.unlink()
    with pytest.raises(FileProblem, match="no such rig file"):
        save(known, "engine 12", measured(), DAY)


async def test_save_it_asks_first_and_the_next_answer_counts_with_it(file: Path) -> None:
    before = rigs.text_of(file)
    yard = await Incident.open(rigs.load(file), UTC, datetime(2026, 3, 12, 9, tzinfo=UTC))
    told = await yard.say("driver", TEST)
    assert told.reply.startswith("C = 11.56 for 1.75 in")
    asked = await yard.say("driver", "save it")
    assert asked.status == "asked"
    assert rigs.text_of(file) == before
    done = await yard.say("driver", "write it")
    assert f"C = 11.56 is in {file}, [hose.1_75]." in done.reply
    lay = await yard.say("driver", "200 feet of 1.75 flowing 150")
    assert lay.reply.startswith("152 psi")
    await yard.close()


async def test_no_leaves_the_file_as_it_is_and_a_crew_member_is_refused(file: Path) -> None:
    before = rigs.text_of(file)
    yard = await Incident.open(rigs.load(file), UTC, datetime(2026, 3, 12, 9, tzinfo=UTC))
    await yard.say("driver", TEST)
    await yard.say("driver", "save it")
    await yard.say("driver", "no")
    await yard.say("crew", TEST)
    refused = await yard.say("crew", "save it")
    assert refused.status == "declined"
    assert rigs.text_of(file) == before
    await yard.close()
