"""Short courses of messages at the panel, through the whole pipeline, worked out by hand (courses.toml)."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from bot import cli

COURSES: dict[str, dict[str, list[list[str]]]] = tomllib.loads(
    Path(__file__).with_name("courses.toml").read_text("utf-8")
)
APART_S = 10


@pytest.mark.parametrize("name", COURSES)
def test_a_course(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "UTC")
    messages = COURSES[name]["messages"]
    script = tmp_path / "course.drill"
    times = [APART_S * (n + 1) for n in range(len(messages))]
    lines = [f"{t // 60:02}:{t % 60:02} driver: {words}" for t, (words, *_) in zip(times, messages, strict=True)]
    script.write_text("\n".join(["00:00 driver: on scene, house fire", *lines]), "utf-8")
    assert cli.run(["drill", str(script), "--json", "--until", "05:00"]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    for t, (words, *expected) in zip(times, messages, strict=True):
        told = "\n".join(row["text"] for row in rows if row["t_s"] == t and row["kind"] == "reply")
        for part in expected:
            assert (part.removeprefix("!").lower() in told.lower()) != part.startswith("!"), (words, part, told)
