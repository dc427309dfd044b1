"""Drills: scripts with their faults by line, and a whole small fire with every reminder at its second."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot import cli
from bot.drill import Utterance, parse_script
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
        Utterance(0, "officer", "dispatch: structure fire, 14 Juniper Lane"),
        Utterance(5, "driver", "charge crosslay #1"),
        Utterance(220, "engine 9", "on scene with four"),
        Utterance(3660, "crew", "at the door: knocked down"),
        Utterance(3723, "officer", "under control"),
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
