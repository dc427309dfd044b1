"""Hands-free at the panel: a sound file stands in for the microphone, a list for the loudspeaker."""

from __future__ import annotations

import asyncio
import io
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from rich.console import Console
from sqlalchemy import func, select

from bot import cli, rigs
from bot.clock import SimulatedClock
from bot.commands.listen import turns_of
from bot.errors import MicrophoneError
from bot.message import Outgoing
from bot.message.recording import Listener
from bot.program.station import Station
from bot.rooms.panel.dialogue import Panel, PanelEars, as_wav
from bot.rooms.panel.listening_screen import ListeningScreen
from bot.rooms.panel.panel_room import PanelRoom
from bot.settings import Settings
from bot.speech.activity import FRAME
from bot.speech.audio import decode
from bot.speech.hands_free import HandsFree, blocks_of
from bot.speech.voice import Speech
from bot.store.tables import inbox
from tests.bot.conftest import NOON
from tests.bot.speech.conftest import joe

__all__ = ["joe"]
Samples = NDArray[np.float32]


@pytest.fixture
def recording(joe: Callable[[str], Samples], tmp_path: Path) -> Callable[..., str]:
    def speak(*sentences: str) -> str:
        path = tmp_path / "panel.wav"
        path.write_bytes(as_wav(np.concatenate([joe(one) for one in sentences])))
        return str(path)

    return speak


@pytest.fixture
def listen(url: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    monkeypatch.setenv("CROSSLAY_DATABASE", url)

    def run(*arguments: str) -> str:
        assert cli.run(["listen", *arguments]) == 0
        return capsys.readouterr().out

    return run


def test_the_call_name_comes_first_or_it_is_left_alone(
    recording: Callable[..., str], listen: Callable[..., str]
) -> None:
    said = recording("shut down the rear line", "pump twelve, charge crosslay one")
    out = listen("--from", said, "--quiet").splitlines()
    assert out[0] == "Listening. Say “pump twelve” first."
    assert out[1] == "(without the call name: shut down the rear line)"
    assert out[2:4] == ["Heard: charge crosslay one", "170 psi, 150 gpm: Crosslay 1 on."]


def test_after_the_call_name_alone_the_command_may_follow(
    recording: Callable[..., str], listen: Callable[..., str]
) -> None:
    out = listen("--from", recording("pump twelve", "charge crosslay one"), "--quiet")
    assert "Go ahead.\nHeard: charge crosslay one\n170 psi, 150 gpm: Crosslay 1 on." in out


def test_a_mayday_needs_no_call_name(recording: Callable[..., str], listen: Callable[..., str]) -> None:
    out = listen("--from", recording("mayday mayday mayday"), "--quiet")
    assert "MAYDAY" in out


def test_without_a_call_name_everything_is_addressed(recording: Callable[..., str], listen: Callable[..., str]) -> None:
    assert "Water on the fire, " in listen("--from", recording("water on the fire"), "--quiet", "--no-call-name")


def test_a_missing_file_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["listen", "--from", "no-such.wav"]) == 1
    assert capsys.readouterr().err == "no-such.wav: there is no such file.\n"


class At:
    """A panel on a simulated clock that keeps what it speaks."""

    def __init__(self) -> None:
        self.listener = Listener()
        self.hands_free = HandsFree(self.listener.recogniser, "pump twelve")
        self.clock = SimulatedClock(NOON)
        self.spoken: list[str] = []
        self.played: list[str] = []
        self.deaf_meanwhile: list[bool] = []
        self._terminal = io.StringIO()
        self.screen = ListeningScreen(self.hands_free, UTC, Console(file=self._terminal, width=200))
        self.room = PanelRoom(self.screen.show, self.hands_free, self.clock, self, self.play, rigs.load().own)

    def shown(self) -> str:
        return self._terminal.getvalue()

    def speak(self, text: str) -> Speech:
        self.spoken.append(text)
        return Speech(np.zeros(len(self.spoken), np.int16), 16_000)

    def play(self, speech: Speech) -> None:
        blocks = blocks_of(np.zeros(16_000, np.float32))
        before = self.hands_free.end_pointer.level_db
        self.played.append(self.spoken[len(speech.pcm) - 1])
        list(self.hands_free.utterances(blocks))
        self.deaf_meanwhile.append(self.hands_free.end_pointer.level_db == before)


@asynccontextmanager
async def at_the_panel(url: str) -> AsyncIterator[tuple[At, Panel]]:
    at = At()
    ears = PanelEars(at.listener)
    station = await Station.open(
        Settings(database=url, timezone="UTC"), rigs.load(), [at.room], clock=at.clock, ears=ears
    )
    try:
        yield at, Panel(station, at.room, ears, at.hands_free)
    finally:
        await station.pipeline.stop()
        await station.store.close()


async def test_answers_and_reminders_are_spoken_while_it_is_deaf(url: str, joe: Callable[[str], Samples]) -> None:
    async with at_the_panel(url) as (at, panel):
        stream = np.concatenate([joe("shut down the rear line"), joe("pump twelve, engine twelve on scene")])
        for found in at.hands_free.turns(blocks_of(stream)):
            await panel.take(found, at.screen)
        assert at.spoken == ["Engine 12 on scene, 12:00. Logged."]
        at.clock.advance(600)
        await panel.station.pipeline.fire()
        await panel.station.outbox.drain()
        assert "10 minutes" in at.spoken[1] or "10 min" in at.spoken[1]
        assert at.deaf_meanwhile == [True, True]
        async with panel.station.store.begin() as tx:  # what was said without the call name was never written down
            assert (await tx.execute(select(func.count()).select_from(inbox))).scalar_one() == 1


async def test_what_was_cut_short_is_not_taken_but_a_mayday_is(url: str, joe: Callable[[str], Samples]) -> None:
    async with at_the_panel(url) as (at, panel):
        stream = np.concatenate([joe("pump twelve, engine twelve on scene"), joe("mayday mayday mayday")])
        for utterance in at.hands_free.utterances(blocks_of(stream)):
            await panel.take(replace(utterance, cut=True), at.screen)
        await panel.settle()
        assert not any("on scene" in spoken for spoken in at.spoken)
        assert any("ayday" in spoken for spoken in at.spoken)
        assert "(said while it spoke, not taken: pump twelve engine twelve on scene. Say it again.)" in at.shown()


async def test_a_reminder_waits_for_who_is_speaking_and_an_alert_does_not() -> None:
    at = At()
    at.hands_free.end_pointer._utterance = [np.zeros(512, np.float32)]
    waiting = asyncio.create_task(at.room.send(Outgoing(1, "panel", "reminder", "Ten minutes.")))
    await at.room.send(Outgoing(2, "panel", "alert", "MAYDAY"))
    at.hands_free.end_pointer.reset()
    await waiting
    assert at.played == ["MAYDAY", "Ten minutes."]


def test_the_meter_shows_the_level_and_who_is_heard() -> None:
    hands_free = HandsFree(Listener().recogniser)
    screen = ListeningScreen(hands_free, UTC, Console(file=io.StringIO()))
    assert screen.meter().plain == "·" * 30 + " listening"
    hands_free.end_pointer.level_db = -30.0
    assert screen.meter().plain == "█" * 15 + "·" * 15 + " listening"
    with hands_free.deaf():
        assert screen.meter().plain == "·" * 30 + " speaking: wait to be heard"


async def test_a_microphone_that_goes_is_told_at_the_panel_and_reminders_go_on(url: str) -> None:
    def blocks() -> Iterator[Samples]:
        yield np.zeros(FRAME, np.float32)
        raise MicrophoneError("The microphone gives no more sound: check it, and start again.")

    async with at_the_panel(url) as (at, panel):
        heard = turns_of(at.hands_free, blocks(), patient=False)
        assert not await panel.listen(heard, at.screen)
        assert at.played == [
            "The microphone gives no more sound: check it, and start again. Nothing is heard any more; reminders go on."
        ]
        assert at.screen.meter().plain == "·" * 30 + " no microphone: nothing is heard"


def test_an_utterance_kept_as_a_file_is_the_same_sound() -> None:
    tone = np.sin(np.arange(8_000) / 20).astype(np.float32) * 0.5
    assert decode(as_wav(tone)) == pytest.approx(tone, abs=1e-3)
