"""Recordings are kept only in a named folder, of who agreed, with the words put right."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.message.read import read
from bot.message.recording import Listened
from bot.program.station import Station
from bot.rooms.scripted import ScriptedRoom
from bot.settings import Settings
from grammar.commands import Context
from handlers.rig import Rig

HEARD = "200 feet of 2.5 inch, inch and an eighth tip"
SOUND = b"OggS and so on"


class Ears:
    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened:
        return Listened(read(HEARD, context), HEARD, "ear", message.voice)


async def talk(url: str, clock: SimulatedClock, folder: Path | str, *lines: str | bytes) -> list[str]:
    room = ScriptedRoom("yard")
    settings = Settings(database=url, timezone="UTC", keep_recordings=str(folder))
    station = await Station.open(settings, rigs.load(), [room], clock=clock, ears=Ears())
    told = []
    for number, line in enumerate(lines):
        said = {"voice": line} if isinstance(line, bytes) else {"text": line}
        handled = await station.pipeline.say(Message("yard:1", str(number), "kim", clock.now(), addressed=True, **said))
        assert handled is not None
        told.append(handled.reply)
        clock.advance(5)
    await station.pipeline.stop()
    await station.store.close()
    return told


AGREED = "you may keep my recordings"


async def test_what_was_heard_can_be_put_right(url: str, clock: SimulatedClock) -> None:
    heard, right = await talk(url, clock, "", SOUND, "I said fifteen sixteenths")
    assert heard.splitlines()[0] == f"Heard: {HEARD}"
    assert "15/16" in right


async def test_a_recording_put_right_is_kept_with_its_words(url: str, clock: SimulatedClock, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    await talk(url, clock, folder, AGREED, SOUND, "I said fifteen sixteenths", SOUND)
    (sound,) = folder.glob("*.ogg")
    assert sound.read_bytes() == SOUND
    words = json.loads(sound.with_suffix(".json").read_text("utf-8"))
    assert words == {"heard": HEARD, "corrected": "fifteen sixteenths", "correction": "I said fifteen sixteenths"}


@pytest.mark.parametrize(
    "lines",
    [
        (SOUND, "I said fifteen sixteenths"),
        (AGREED, SOUND, "crosslay 1"),
        (AGREED, "don't keep my recordings", SOUND, "I said fifteen sixteenths"),
        (AGREED, SOUND, "you may not keep my recordings", "I said fifteen sixteenths"),
    ],
)
async def test_nothing_else_is_kept(
    url: str, clock: SimulatedClock, tmp_path: Path, lines: tuple[str | bytes, ...]
) -> None:
    await talk(url, clock, tmp_path / "kept", *lines)
    assert [path.name for path in (tmp_path / "kept").glob("*") if path.name != "agreed.json"] == []


async def test_without_a_folder_nothing_is_kept(
    url: str, clock: SimulatedClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    await talk(url, clock, "", AGREED, SOUND, "I said fifteen sixteenths")
    assert not [name for name in os.listdir() if not name.startswith("record.sqlite")]
