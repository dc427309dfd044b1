"""Arrival and progress reports are one message read whole: what is reported is logged, the rest kept as said.

The short form reads a fixed draw of the table in arrivals.toml; CROSSLAY_LAWS=full reads ten times as many.
"""

from __future__ import annotations

import os
import random
import tomllib
from itertools import product
from pathlib import Path
from typing import Any

from grammar.commands import Assign, Benchmark, Command, Report
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

PLAIN = contexts()["plain"]
TABLE: dict[str, Any] = tomllib.loads(Path(__file__).with_name("arrivals.toml").read_text("utf-8"))
NUMBER = 3000 if os.environ.get("CROSSLAY_LAWS") == "full" else 300
UNITS = {"E9": "engine 9"}


def _stamped(commands: tuple[Command, ...]) -> list[str]:
    return [command.benchmark for command in commands if isinstance(command, Benchmark)]


def test_an_arrival_is_read_whole() -> None:
    """On scene and command of that unit, nothing else stamped; never another command than what is told on arrival."""
    draw = random.Random(20261128)
    part = TABLE["arrival"]
    asked = []
    for _ in range(NUMBER):
        chosen = {key: draw.choice(values) for key, values in part.items()}
        unit = chosen["unit"]
        said = [chosen["arrives"], chosen["seen"], chosen["doing"], chosen["command"], chosen["wanted"]]
        text = ", ".join(one.format(unit=unit, name=chosen["name"]) for one in said if one)
        commands = read(text, PLAIN).commands
        if not commands:
            asked.append(text)
            continue
        reports = [(c.benchmark, c.unit) for c in commands if isinstance(c, Benchmark)]
        named = UNITS.get(unit, unit)
        assert reports == [("on_scene", named), ("command_established", named)], text
        assert all(isinstance(c, Benchmark | Report | Assign) or c.intent == "incident_kind" for c in commands), text
    assert len(asked) <= NUMBER // 20, asked[:10]


def test_who_is_called_first_changes_nothing() -> None:
    part = TABLE["called"]
    missed = []
    for who, unit, (report, benchmark) in product(part["who"], TABLE["arrival"]["unit"], part["report"].items()):
        text = who.format(unit=unit) + report
        stamped = _stamped(read(text, PLAIN).commands)
        assert stamped in ([], [benchmark]), text
        if not stamped:
            missed.append(text)
    assert missed == []


def test_what_is_told_beside_a_report_is_kept() -> None:
    part = TABLE["beside"]
    missed = []
    for (report, benchmark), told in product(part["report"].items(), part["told"]):
        for text in (f"{report}, {told}", f"{report}. {told.capitalize()}."):
            stamped = _stamped(read(text, PLAIN).commands)
            assert stamped in ([], [benchmark]), text
            if not stamped:
                missed.append(text)
    assert missed == []


def test_what_may_leave_a_part_out_is_never_stamped() -> None:
    part = TABLE["leaves_out"]
    for report, left in product(part["report"], part["left"]):
        for text in (f"{report}, {left}", f"{report} {left}"):
            whole = [c for c in read(text, PLAIN).commands if isinstance(c, Benchmark) and c.place is None]
            assert whole == [], text
