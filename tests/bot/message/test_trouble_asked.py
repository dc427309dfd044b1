"""Trouble in other words through the whole house: asked, confirmed, on the clock from the first words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot import cli

OPENED = "00:00 officer: dispatch: house fire, 21 Anchor Way, engine 12, engine 9\n00:30 officer: on scene\n"


def play(capsys: pytest.CaptureFixture[str], folder: Path, script: str, until: str) -> list[dict[str, object]]:
    file = folder / "fire.drill"
    file.write_text(OPENED + script, encoding="utf-8")
    assert cli.run(["drill", str(file), "--json", "--until", until]) == 0
    out, _ = capsys.readouterr()
    return [json.loads(line) for line in out.splitlines()]


def replies(rows: list[dict[str, object]]) -> dict[object, dict[str, object]]:
    return {row["t_s"]: row for row in rows if row["kind"] == "reply"}


@pytest.mark.parametrize("confirmed", ["yes", "mayday", "mayday mayday mayday"])
def test_a_confirmed_one_runs_from_the_first_words(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, confirmed: str
) -> None:
    rows = play(capsys, tmp_path, f"05:00 crew: lost my partner\n05:40 crew: {confirmed}\n", "07:30")
    said = replies(rows)
    assert str(said[300]["text"]).startswith("Is that a Mayday?")
    assert said[340]["intent"] == "mayday"
    clock = sorted({row["t_s"] for row in rows if row.get("name") == "mayday_clock"})
    assert clock == [360, 420]


def test_a_member_down_alerts_everyone_and_is_asked_at_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    rows = play(capsys, tmp_path, "05:00 crew: firefighter down in the basement\n05:20 crew: mayday\n", "06:30")
    alerted = {row["to"] for row in rows if row["t_s"] == 300 and row["kind"] == "alert"}
    assert {"officer", "driver"} <= alerted
    assert "Is that a Mayday?" in str(replies(rows)[300]["text"])
    assert replies(rows)[320]["answer"]["location"] == "basement"  # type: ignore[index]


def test_more_of_it_is_added_by_anyone_and_no_routine_order_is(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows = play(
        capsys,
        tmp_path,
        "05:00 crew: mayday mayday mayday\n"
        "05:10 crew: engine 9 firefighter Brandt, second floor charlie side, low on air\n"
        "05:20 officer: he's trapped under a beam, need a saw\n"
        "05:30 driver: near the stairs\n"
        "05:40 officer: they've got him\n"
        "05:50 officer: status of the mayday\n",
        "06:00",
    )
    told = str(replies(rows)[350]["text"])
    for part in ("second floor, charlie side", "Engine 9", "firefighter Brandt", "low on air", "need a saw"):
        assert part in told


def test_an_order_to_get_out_reaches_every_room_with_its_reason(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows = play(capsys, tmp_path, "05:00 crew: roof's sagging, get everybody out\n", "05:10")
    alerts = {row["to"]: str(row["text"]) for row in rows if row["kind"] == "alert" and row["name"] == "evacuate"}
    assert {"officer", "driver", "crew"} <= set(alerts)
    assert all("roof is sagging" in text for text in alerts.values())


def test_a_reminder_that_asks_takes_no_answer_from_what_was_asked_before(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """ "PAR asked 2 min ago: ask again?" falls due between a question and its answer."""
    script = "01:00 officer: par check\n{asked}03:10 officer: {answer}\n"
    trouble = script.format(asked="02:30 officer: he's not answering\n", answer="yes")
    rows = play(capsys, tmp_path, trouble, "03:30")
    assert [row["t_s"] for row in rows if row.get("name") == "par_missing" and row["to"] == "officer"] == [180]
    assert replies(rows)[190]["intent"] == "mayday"
    search = script.format(asked="02:30 officer: all clear\n", answer="secondary")
    assert replies(play(capsys, tmp_path, search, "03:30"))[190]["answer"]["benchmark"] == (  # type: ignore[index]
        "secondary_search_complete"
    )
