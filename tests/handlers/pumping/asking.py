"""Asking the panel one thing, outside any incident, as `crosslay ask` does."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from grammar.commands import Command, PumpPressure, SaidHose, SaidLay, SaidLine, SaidNozzle
from handlers import desk
from handlers.history import History
from handlers.outcome import Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.parse import parse_rig

RIGS = Path(__file__).parents[3] / "bot" / "rigs"
BOOK = (RIGS / "book.toml").read_text(encoding="utf-8")
DEMO = (RIGS / "alder_bay_engine_12.toml").read_text(encoding="utf-8")


def rig(more: str = "") -> Rig:
    """The demonstration rig; `more` is TOML that comes after it."""
    return parse_rig(DEMO + "\n" + more, BOOK)


ENGINE_12 = rig()
METRIC = parse_rig((RIGS / "example_metric.toml").read_text(encoding="utf-8"), BOOK)
SAID = Said(at=datetime(2026, 3, 1, 12, tzinfo=UTC), live=False)


def ask(command: Command, on: Rig = ENGINE_12) -> Outcome:
    (outcome,) = desk.answer((command,), History(), on, SAID).outcomes
    return outcome


def answer(command: Command, on: Rig = ENGINE_12) -> dict[str, Any]:
    """The answer's keys; fails with the reply when there is none."""
    outcome = ask(command, on)
    assert outcome.answer_json, outcome.reply
    return outcome.answer_json


def hose(size: float | None = None, feet: float | None = None, parallel: int = 1) -> SaidHose:
    return SaidHose(size, feet, parallel)


def line(*hoses: SaidHose, nozzle: SaidNozzle | None = None, **said: Any) -> SaidLine:
    return SaidLine(hose=hoses, nozzle=nozzle or SaidNozzle(), **said)


def pressure(*lines: SaidLine, feed: tuple[SaidHose, ...] = (), split: Any = None, **said: Any) -> PumpPressure:
    """One lay: a plain line, or a feed and its legs."""
    return PumpPressure(lays=(SaidLay(feed, split, lines),), **said)


def pressures(*lines: SaidLine, **said: Any) -> PumpPressure:
    """Lines that leave the pump each by itself."""
    return PumpPressure(lays=tuple(SaidLay(lines=(one,)) for one in lines), **said)


TIP = {"7/8": 0.875, "15/16": 0.9375, "1": 1.0, "1 1/8": 1.125, "1 1/4": 1.25, "1 3/8": 1.375, "1 1/2": 1.5}


def tip(name: str, psi: float | None = None) -> SaidNozzle:
    return SaidNozzle(kind="smooth_bore", tip_in=TIP[name], nozzle_psi=psi)


def fog(gpm: float, psi: float | None = None) -> SaidNozzle:
    return SaidNozzle(kind="fog", flow_gpm=gpm, nozzle_psi=psi)
