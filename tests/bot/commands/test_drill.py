"""Drills: scripts with their faults by line, and a whole small fire with every reminder at its second."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot import cli
from bot.commands.drill import ScriptLine, parse_script
from bot.errors import ScriptError

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def _utc(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "UTC")


def play(capsys: pytest.CaptureFixture[str], script: str | Path, *options: str) -> list[dict[str, object]]:
    assert cli.run(["drill", str(script), "--json", *options]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return [json.loads(line) for line in out.splitlines()]


# --- the script


def test_a_script_is_lines_of_time_who_and_words() -> None:
    script = """
# a comment
00:00 dispatch: structure fire, 14 Juniper Lane   # sent by radio

00:05 Driver : charge crosslay #1
03:40 engine 9: on scene with four
61:00 firefighter: at the door: knocked down
1:02:03 captain: under control
"""
    assert parse_script(script, "x") == [
        ScriptLine(0, "officer", "dispatch: structure fire, 14 Juniper Lane"),
        ScriptLine(5, "driver", "charge crosslay #1"),
        ScriptLine(220, "engine 9", "on scene with four"),
        ScriptLine(3660, "crew", "at the door: knocked down"),
        ScriptLine(3723, "officer", "under control"),
    ]


@pytest.mark.parametrize(
    ("script", "line", "says"),
    [
        ("00:00 driver: a\n\n00:99 driver: b", 3, "'00:99' is no time"),
        ("# c\nat once driver: a", 2, "'at' is no time"),
        ("00:00 driver says a", 1, "write a line as MM:SS who: what was said"),
        ("00:00 : a", 1, "who says it is missing"),
        ("00:00 driver:", 1, "what is said is missing"),
        ("00:10 driver: a\n00:05 driver: b", 2, "before the line above it"),
        ("# nothing but this", 1, "holds no line"),
    ],
)
def test_a_bad_line_is_named(script: str, line: int, says: str) -> None:
    with pytest.raises(ScriptError, match=says) as caught:
        parse_script(script, "fire.drill")
    assert caught.value.line == line
    assert caught.value.message.startswith(f"fire.drill, line {line}: ")


def test_menu_commands_and_numbers_are_taken_as_in_a_room(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "fire.drill"
    script.write_text(
        "00:00 officer: on scene\n00:05 officer: all clear\n00:10 officer: 2\n00:15 driver: /tank\n00:20 driver: /again"
    )
    told = [row for row in play(capsys, script, "--until", "0:30") if row["kind"] == "reply"]
    assert [row["intent"] for row in told] == ["benchmark", "benchmark", "benchmark", "tank_time", "repeat"]
    assert str(told[2]["text"]).startswith("Secondary search complete")


@pytest.mark.parametrize(
    ("text", "options", "says"),
    [
        (b"00:00 driver says", [], "line 1"),
        (b"\xff\xfe", [], "isn't UTF-8 text"),
        (None, [], "there is no such drill script"),
        (b"00:00 driver: crosslay 1", ["--start", "noon"], "--start: 'noon' is no time"),
        (b"00:00 driver: crosslay 1", ["--until", "late"], "--until: 'late' is no time"),
    ],
)
def test_what_cant_be_played_is_one_sentence_and_exit_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: bytes | None, options: list[str], says: str
) -> None:
    if text is not None:
        (tmp_path / "x.drill").write_bytes(text)
    assert cli.run(["drill", str(tmp_path / "x.drill"), *options]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert err.count("\n") == 1


# --- whole incidents

DRILLS = sorted((HERE / "drills").glob("*.drill"))
KEYS = ["t_s", "to", "who", "kind", "name", "intent", "answer", "text"]


def expected(drill: Path) -> list[tuple[int, str, str]]:
    """(second, who, name) of the file beside a drill that says what falls due in it, and why."""
    lines = (line.split() for line in drill.with_suffix(".told").read_text().splitlines() if not line.startswith("#"))
    return sorted((int(second), who, name) for second, who, name in lines)


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.stem)
def test_every_reminder_is_told_at_its_second_to_whom_it_concerns(
    capsys: pytest.CaptureFixture[str], drill: Path
) -> None:
    told = play(capsys, drill, "--until", "27:00")
    assert sorted((one["t_s"], one["to"], one["name"]) for one in told if one["kind"] in ("reminder", "alert")) == (
        expected(drill)
    )


def test_a_drill_runs_until_its_incident_is_closed(capsys: pytest.CaptureFixture[str]) -> None:
    drill = HERE / "drills" / "house_fire.drill"
    assert play(capsys, drill) == play(capsys, drill, "--until", "90:00")


def test_an_open_incident_runs_for_two_hours(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "x.drill").write_text("00:00 officer: engine 12 on scene\n")
    told = play(capsys, tmp_path / "x.drill")
    assert [one["t_s"] for one in told if one["to"] == "officer" and one["name"] == "elapsed"] == [
        600 * number for number in range(1, 13)
    ]


def test_the_json_has_its_keys_one_object_a_recipient_in_order_of_time(capsys: pytest.CaptureFixture[str]) -> None:
    told = play(capsys, HERE / "drills" / "house_fire.drill")
    assert all(list(one) == KEYS for one in told)
    assert [one["t_s"] for one in told] == sorted(one["t_s"] for one in told)
    line_on = next(one for one in told if one["intent"] == "line_on")
    assert (line_on["t_s"], line_on["to"], line_on["who"], line_on["kind"]) == (270, "driver", "driver", "reply")
    assert line_on["answer"]["pump_pressure_psi"] == pytest.approx(169.75)
    assert {one["to"] for one in told if one["name"] == "brief"} == {"crew"}
    assert {one["kind"] for one in told} == {"reply", "notice", "reminder", "alert"}
    for one in told:
        assert (one["name"] is None) == (one["kind"] == "reply")
        assert (one["who"] is not None) == (one["kind"] == "reply")


def test_the_start_of_the_clock_can_be_set_and_changes_no_second(capsys: pytest.CaptureFixture[str]) -> None:
    drill = HERE / "drills" / "tank_runs_out.drill"
    day, night = (play(capsys, drill, "--start", f"2026-11-01T{at}:59:30Z") for at in ("05", "23"))
    assert [(one["t_s"], one["to"], one["name"]) for one in day] == [
        (one["t_s"], one["to"], one["name"]) for one in night
    ]
    assert day[0]["answer"]["at"] == "2026-11-01T05:59:30Z"


def test_as_text_it_shows_what_was_said_and_who_was_told_what(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["drill", str(HERE / "drills" / "house_fire.drill")]) == 0
    lines = capsys.readouterr().out.splitlines()
    said = lines.index("04:30 driver: charge crosslay 1")
    assert lines[said + 1].startswith("04:30   → driver: 170 psi, 150 gpm")
    assert any(line.startswith("06:40   → driver (ALERT): Tank: 1:00 left") for line in lines)
    assert any(line.startswith("14:00   → officer (reminder): Elapsed: 10 min on scene") for line in lines)


def test_a_unit_of_the_script_hears_what_concerns_it(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "x.drill").write_text(
        "00:00 officer: engine 12 on scene\n"
        "01:00 engine 9: on scene with four\n"
        "02:00 officer: par check\n"
        "02:20 crew: engine 12 par of 3\n"
        "05:00 officer: mayday mayday, roof collapsed\n"
    )
    told = play(capsys, tmp_path / "x.drill", "--until", "06:00")
    nine = [(one["t_s"], one["kind"], one["name"]) for one in told if one["to"] == "engine 9"]
    assert (60, "reply", None) in nine
    assert (120, "notice", "par_request") in nine
    assert (240, "reminder", "par_missing") in nine  # asked again after 2 min
    assert (300, "alert", "mayday") in nine
    assert (360, "alert", "mayday_clock") in nine
