"""The door for other programs, as its docstring shows it."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta
from importlib.metadata import EntryPoint, EntryPoints
from pathlib import Path

import pytest

from bot import extensions, report, rigs
from bot.api import Crosslay, as_object
from bot.cli import run
from bot.errors import FileProblem
from bot.speech.recogniser import open_recogniser
from handlers.events import Event
from handlers.incident.record import record

NOON = datetime(2026, 3, 7, 12, tzinfo=UTC)


def test_an_answer_out_of_any_incident() -> None:
    told = Crosslay().answer("two lines, 200 feet, 1.75, second floor")
    assert told.answer["pump_pressure_psi"] == pytest.approx(174.75)
    assert as_object(told)["intent"] == "pump_pressure"


def test_a_rig_file_that_isnt_there(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="no such rig file"):
        Crosslay(tmp_path / "none.toml")


async def test_an_incident_on_the_callers_clock() -> None:
    async with Crosslay().incident(NOON, people=["engine 9"]) as incident:
        arrived = await incident.say("officer", "engine 12 on scene")
        assert arrived.intent == "benchmark"
        incident.take()
        told = await incident.run_to(NOON + timedelta(minutes=21))
        assert [out.name for out in told if out.room == "drill:officer"] == ["elapsed", "elapsed"]
        assert incident.clock.now() == NOON + timedelta(minutes=21)
        assert (await incident.history()).scene.open


async def arrived() -> list[Event]:
    """The log of an arrival."""
    async with Crosslay().incident(NOON) as incident:
        await incident.say("officer", "engine 12 on scene")
        return (await incident.history()).events


def offered(monkeypatch: pytest.MonkeyPatch, *points: EntryPoint) -> None:
    """As if packages with these were installed."""
    monkeypatch.setattr(extensions, "entry_points", EntryPoints(points).select)


def sheet(made: object, rig: object, tz: object) -> bytes:
    """A form of the report as a package would bring it."""
    return b"a sheet"


def ear() -> str:
    """A recogniser as a package would bring it."""
    return "another ear"


async def yard(settings: object, known: rigs.Rigs) -> None:
    """A room as a package would bring it."""
    print(f"serving {known.own_unit}")


def test_a_package_adds_a_form_a_recogniser_and_a_room(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    here = __name__
    offered(
        monkeypatch,
        EntryPoint("sheet", f"{here}:sheet", extensions.REPORTS),
        EntryPoint("ear", f"{here}:ear", extensions.RECOGNISERS),
        EntryPoint("yard", f"{here}:yard", extensions.ROOMS),
    )
    rig = rigs.load().own
    made = record(asyncio.run(arrived()), rig, NOON, UTC)
    assert report.render(made, "sheet", rig, UTC) == b"a sheet"
    assert open_recogniser() == "another ear"  # type: ignore[comparison-overlap]
    assert run(["serve", "yard"]) == 0
    assert capsys.readouterr().out == "serving engine 12\n"


def test_what_a_package_brings_wrongly_is_said_in_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    offered(monkeypatch, EntryPoint("yard", "no_such_module:serve", extensions.ROOMS))
    assert run(["serve", "yard"]) == 1
    assert "yard (no_such_module:serve) can't be loaded" in capsys.readouterr().err
    assert run(["serve", "nowhere"]) == 2
    assert "No installed package has a room nowhere (there: yard)" in capsys.readouterr().err
