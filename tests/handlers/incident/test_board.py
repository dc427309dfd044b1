"""The board shows the incident at a glance and stays right between edits."""

from __future__ import annotations

from grammar.commands import Entry, Mayday, Par
from handlers.events import (
    BenchmarkReported,
    IncidentClosed,
    IncidentOpened,
    LineOpened,
    PumpReady,
    SourceChanged,
    UnitJoined,
    WorkingLine,
)
from handlers.incident.board import board
from tests.handlers.fireground import Fireground, clock_time

CROSSLAY = WorkingLine(
    number=1, label="crosslay 1", flow_gpm=150, pressure_psi=170, fill_gal=25, hose_in=1.75, length_ft=200
)


def small_fire() -> Fireground:
    ground = Fireground()
    ground.happens("14:00", IncidentOpened(nature="house fire", address="14 Harbor Street"))
    ground.happens("14:00", PumpReady(unit="engine 12", tank_gal=500, usable_gal=500))
    ground.happens("14:00", BenchmarkReported(benchmark="dispatched"))
    ground.happens("14:05", BenchmarkReported(benchmark="on_scene", unit="engine 12"))
    ground.happens("14:06", LineOpened(line=CROSSLAY))
    return ground


def test_clocks_tank_lines_and_benchmarks() -> None:
    ground = small_fire()
    text = board(ground.scene, ground.rig, clock_time("14:08"), None).text
    assert text.startswith("2026-03-07-1: house fire, 14 Harbor Street")
    assert "Duration of incident 8 min (since 14:00)\nOn scene 3 min (since 14:05)" in text
    # 500 − 25 gal of hose − 2 min × 150 = 175 gal; 175/150 min = 1:10.
    assert "Tank 175 gal, 1:10 left, empty about 14:09 (calculated)\ncrosslay 1: 170 psi, 150 gpm" in text
    assert "14:05 Engine 12 on scene" in text


def test_on_the_hydrant_the_tank_stands_still() -> None:
    ground = small_fire()
    ground.happens("14:08", SourceChanged(source="hydrant"))
    text = board(ground.scene, ground.rig, clock_time("14:30"), None).text
    assert "On the hydrant since 14:08; tank 175 gal" in text
    assert "left" not in text


def test_crews_inside_companies_and_par() -> None:
    ground = small_fire()
    ground.happens("14:07", UnitJoined(unit="engine 9", staffing=4), unit="engine 9")
    ground.at("14:10", Entry(unit="engine 9", count=2, gauge_psi=4500, place="second floor"))
    ground.at("14:12", Par(request=True))
    text = board(ground.scene, ground.rig, clock_time("14:13"), None).text
    assert "Engine 9 (2), second floor, in 3 min, 4,500 psi at 14:10, alarm as early as 14:22" in text
    assert "Asked 14:12. Answered: nobody yet\nNo answer: Engine 12 and Engine 9" in text


def test_a_mayday_stands_above_everything() -> None:
    ground = small_fire()
    ground.at("14:20", Mayday(text="mayday"))
    assert board(ground.scene, ground.rig, clock_time("14:22"), None).text.startswith("MAYDAY since 14:20 (2:00)")


def test_a_closed_incidents_board_stands_still() -> None:
    ground = small_fire()
    ground.at("14:07", Entry(unit="engine 9", count=2, gauge_psi=4500))
    ground.happens("14:08", BenchmarkReported(benchmark="command_terminated"))
    ground.happens("14:08", IncidentClosed())
    shown = {
        board(ground.scene, ground.rig, clock_time(when), None).text for when in ("14:08", "14:09", "14:30", "19:00")
    }
    assert len(shown) == 1
    assert "Duration of incident 8 min" in shown.pop()
