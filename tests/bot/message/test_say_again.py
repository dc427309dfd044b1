""" "Say again": what was asked is worked out as of now, what was logged stands with its time, a question is asked
again; and where there are no buttons, a question's choices are printed under it.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot import cli

SCRIPT = """
00:00 officer: on scene
01:00 driver: crosslay 1 charged
01:30 driver: say again
02:00 driver: how long will the tank last
02:30 driver: say again
03:00 officer: how long have we been here
05:00 officer: say again
05:10 officer: all clear
05:20 officer: say again
05:30 officer: primary
05:40 officer: had water on the fire at 14:02
05:50 officer: knocked it down two minutes after that
06:00 officer: belay that, it isn't
06:10 officer: take it back
07:00 driver: 200 feet of 1.75 third floor
07:10 driver: say again
"""


@pytest.fixture
def replies(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> dict[int, str]:
    """What each line of the script is answered, by its second."""
    script = tmp_path / "x.drill"
    script.write_text(SCRIPT)
    assert cli.run(["drill", str(script), "--json", "--until", "07:20"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    return {one["t_s"]: one["text"] for one in told if one["kind"] == "reply"}


def test_an_answer_is_worked_out_as_of_now(replies: dict[int, str]) -> None:
    # 500 − 25 gal of hose, 150 gpm from 01:00: 325 gal at 02:00, 250 at 02:30
    assert replies[120].startswith("Tank 325 gal, 2:10 left")
    assert replies[150].startswith("Tank 250 gal, 1:40 left")
    assert replies[180].startswith("3 min on scene")
    assert replies[300].startswith("5 min on scene")


def test_what_was_logged_stands_and_the_pump_is_told_as_it_is_now(replies: dict[int, str]) -> None:
    assert replies[90].startswith("Told at 14:01: 170 psi, 150 gpm: Crosslay 1 on.\nNow: 170 psi, 150 gpm total.")
    assert "Tank 400 gal" in replies[90]
    assert "475" not in replies[90]


def test_an_answer_with_a_question_behind_it_is_said_again_itself(replies: dict[int, str]) -> None:
    """100 + 70 + 10 psi; beneath it stands that it counts as flowing once it is said to be charged."""
    assert replies[420].startswith("180 psi, 150 gpm")
    assert replies[430].startswith("180 psi, 150 gpm")


def test_a_question_is_asked_again_and_stays_open(replies: dict[int, str]) -> None:
    assert replies[320] == replies[310]
    assert replies[330].startswith("Primary search complete, 14:05. Logged.")


def test_late_reports_are_taken_with_their_time(replies: dict[int, str]) -> None:
    assert replies[340].startswith("Water on the fire, 14:02. Logged.")
    assert replies[350].startswith("Fire knocked down, 14:04. Logged.")


def test_a_denied_last_report_is_offered_to_be_taken_back(replies: dict[int, str]) -> None:
    assert replies[360].startswith("Take back “knocked down")
    assert replies[370].startswith("Taken back: ")


def test_a_question_prints_its_choices(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    cli.run(["ask", "all clear"])
    assert "[1] primary   [2] secondary" in capsys.readouterr().out
    script = tmp_path / "x.drill"
    script.write_text("00:00 officer: on scene\n00:10 officer: all clear\n")
    cli.run(["drill", str(script), "--until", "00:20"])
    assert "[1] primary   [2] secondary" in capsys.readouterr().out
