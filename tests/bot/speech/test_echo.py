"""Somebody who speaks while it speaks: noticed by how loud its own voice comes back, never taken for it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.speech.activity import FRAME
from bot.speech.echo import Echo
from bot.speech.hands_free import HandsFree
from bot.speech.voice import EspeakVoice, Speech
from tests.bot.speech.conftest import at_16k, pump_noise

Samples = NDArray[np.float32]
RATE = 16_000
FULL = os.environ.get("CROSSLAY_LAWS") == "full"
FIRST, ANSWER = "Engine 12 on scene, 12 hundred hours. Logged.", "1 7 0, crosslay 1. 150 gallons. Tank 3 minutes 20."


@pytest.fixture(scope="module")
def spoken() -> tuple[Speech, Speech]:
    return EspeakVoice().speak(FIRST), EspeakVoice().speak(ANSWER)


def back(speech: Speech, gain: float, delay_s: float, noise: float = 0.0) -> Samples:
    """Its own voice as the microphone brings it, with a second of what follows."""
    own = np.concatenate([np.zeros(round(delay_s * RATE), np.float32), at_16k(speech)[RATE // 2 :] * gain])
    return (own + noise * pump_noise(len(own))).astype(np.float32)


def blocks(sound: Samples) -> Iterator[Samples]:
    for start in range(0, len(sound) - FRAME + 1, FRAME):
        yield sound[start : start + FRAME]


def noticed(echo: Echo, speech: Speech, sound: Samples) -> int | None:
    """The block at which somebody was noticed."""
    echo.begin(speech.pcm, speech.rate)
    return next((number for number, block in enumerate(blocks(sound)) if echo.somebody(block)), None)


@pytest.mark.parametrize("noise", [0.0, 0.02] if FULL else [0.01])
@pytest.mark.parametrize("delay_s", [0.0, 0.1, 0.3] if FULL else [0.2])
@pytest.mark.parametrize("gain", [0.0, 0.02, 0.3, 1.5])
def test_its_own_voice_is_never_somebody(
    spoken: tuple[Speech, Speech], gain: float, delay_s: float, noise: float
) -> None:
    """Law: whatever comes back, as loud, as late and in whatever noise."""
    echo = Echo()
    for speech in (*spoken, *spoken) if FULL else spoken:
        assert noticed(echo, speech, back(speech, gain, delay_s, noise)) is None


@pytest.mark.parametrize(("gain", "faint"), [(0.0, True), (0.02, True), (0.25, False)])
@pytest.mark.parametrize("after_s", [0.4, 1.0, 2.0] if FULL else [0.4, 1.5])
def test_who_speaks_over_it_is_noticed_within_half_a_second(
    spoken: tuple[Speech, Speech], joe: Callable[[str], Samples], gain: float, faint: bool, after_s: float
) -> None:
    echo = Echo()
    assert noticed(echo, spoken[0], back(spoken[0], gain, 0.1)) is None
    sound, voice, at = back(spoken[1], gain, 0.1), joe("on the third floor")[RATE // 2 :], round(after_s * RATE)
    sound[at : at + len(voice)] += voice
    block = noticed(echo, spoken[1], sound)
    assert block is not None
    assert after_s <= block * FRAME / RATE <= after_s + 0.55
    assert echo.faint == faint


def test_with_a_headset_what_is_said_over_an_answer_is_heard_whole(
    spoken: tuple[Speech, Speech], joe: Callable[[str], Samples]
) -> None:
    from bot.speech.ear.ear import Ear

    hands_free = HandsFree(Ear())
    quiet = np.zeros(2 * RATE, np.float32)
    voice = joe("on the third floor")

    def sound() -> Iterator[Samples]:
        with hands_free.deaf(spoken[0]):
            yield from blocks(quiet)
        with hands_free.deaf(spoken[1]):
            yield from blocks(np.concatenate([quiet, voice]))
        yield from blocks(quiet)

    (utterance,) = hands_free.utterances(sound())
    assert hands_free.interrupted
    assert not utterance.cut
    assert utterance.activity.speech_s == pytest.approx(len(voice) / RATE - 1, abs=0.4)
    assert utterance.began_s == pytest.approx(4.5, abs=0.25)


def test_an_alert_is_not_broken_off(spoken: tuple[Speech, Speech], joe: Callable[[str], Samples]) -> None:
    from bot.speech.ear.ear import Ear

    hands_free = HandsFree(Ear())
    with hands_free.deaf():
        assert list(hands_free.utterances(blocks(joe("on the third floor")))) == []
    assert not hands_free.interrupted
