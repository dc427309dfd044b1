"""Hands-free: end points, the call name, deaf while speaking, no microphone."""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable, Iterator
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.errors import MicrophoneError
from bot.speech.activity import FRAME
from bot.speech.ear.ear import Ear
from bot.speech.hands_free import EndPointer, HandsFree, Microphone, after_call_name, blocks_of
from bot.speech.hearing import Decision
from grammar.phrases import Names, word_graph
from tests.bot.speech.conftest import pump_noise, with_noise

Samples = NDArray[np.float32]
RATE = 16_000
GRAPH = word_graph(Names(call_names=("pump twelve",)))


def meaning(words: str) -> Hashable | None:
    return words.removeprefix("pump twelve ") if GRAPH.accepts(words) else None


@pytest.fixture(scope="module")
def ear() -> Ear:
    loaded = Ear()
    loaded.warm_up()
    return loaded


@pytest.mark.parametrize("snr_db", [None, 10])
def test_each_utterance_ends_soon_after_its_last_word(joe: Callable[[str], Samples], snr_db: float | None) -> None:
    clips = [joe("water on the fire"), joe("engine nine has par four")]
    stream = np.concatenate(clips)
    stream = stream if snr_db is None else with_noise(stream, snr_db)
    pointer, ends = EndPointer(), []
    for number, block in enumerate(blocks_of(stream)):
        utterance = pointer.feed(block)
        if utterance is not None:
            ends.append(number * FRAME / RATE)
            assert 0.5 < utterance.activity.speech_s < 3
    lengths = np.cumsum([len(clip) / RATE for clip in clips]) - 0.5  # each clip ends with half a second of quiet
    assert ends == pytest.approx(list(lengths), abs=0.5)


def test_noise_alone_is_no_utterance() -> None:
    pointer = EndPointer()
    assert [u for u in map(pointer.feed, blocks_of(0.1 * pump_noise(5 * RATE))) if u is not None] == []
    assert not pointer.speaking


def test_the_meter_shows_the_level() -> None:
    pointer = EndPointer()
    pointer.feed(np.full(FRAME, 0.1, np.float32))
    assert pointer.level_db == pytest.approx(-20, abs=0.1)


def test_commands_are_heard_from_a_stream(ear: Ear, joe: Callable[[str], Samples]) -> None:
    stream = np.concatenate([joe("water on the fire"), joe("engine nine has par four")])
    said = list(HandsFree(ear).listen(blocks_of(stream), GRAPH, meaning))
    assert [one.words for one in said] == ["water on the fire", "engine nine has par four"]
    assert all(one.addressed and one.heard.decision is Decision.ANSWER for one in said)


def test_only_what_follows_the_call_name_is_addressed(ear: Ear, joe: Callable[[str], Samples]) -> None:
    stream = np.concatenate([joe("shut down the rear line"), joe("pump twelve, shut down the rear line")])
    said = list(HandsFree(ear, call_name="Pump 12").listen(blocks_of(stream), GRAPH, meaning))
    assert [(one.words, one.addressed) for one in said] == [
        ("shut down the rear line", False),
        ("shut down the rear line", True),
    ]


@pytest.mark.parametrize(
    ("words", "rest"),
    [
        ("pump twelve water on the fire", "water on the fire"),
        ("pump twelve", ""),
        ("bump twelve water on the fire", "water on the fire"),
        ("water on the fire", None),
        ("pump", None),
        ("", None),
    ],
)
def test_the_call_name_may_be_heard_a_little_wrong(words: str, rest: str | None) -> None:
    assert after_call_name(words, "Pump 12") == rest


def test_nothing_is_heard_while_it_speaks_itself(ear: Ear, joe: Callable[[str], Samples]) -> None:
    hands_free = HandsFree(ear)
    own_answer, command = joe("engine nine has par four"), joe("water on the fire")

    def blocks() -> Iterator[Samples]:
        with hands_free.deaf():
            yield from blocks_of(own_answer)
        yield from blocks_of(command)

    assert [one.words for one in hands_free.listen(blocks(), GRAPH, meaning)] == ["water on the fire"]


@pytest.mark.parametrize("deaf_at_s", [(0.0, 0.5), (0.9, 9.0)], ids=["its beginning", "its end"])
def test_speech_of_which_a_part_is_lost_is_marked(
    joe: Callable[[str], Samples], deaf_at_s: tuple[float, float]
) -> None:
    hands_free = HandsFree(Ear())
    samples = np.concatenate([joe("don't charge crosslay one"), np.zeros(RATE, np.float32), joe("water on the fire")])

    def blocks() -> Iterator[Samples]:
        for number, block in enumerate(blocks_of(samples)):
            hands_free.is_deaf = deaf_at_s[0] <= number * FRAME / RATE < min(deaf_at_s[1], 2.0)
            yield block

    assert [utterance.cut for utterance in hands_free.utterances(blocks())] == [True, False]


def test_a_missing_portaudio_is_said_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    class NoPortAudio:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPortAudio(), *sys.meta_path])
    with pytest.raises(
        MicrophoneError, match=r"PortAudio is missing: install it .* or name a sound file instead \(--from FILE\)\."
    ):
        Microphone().__enter__()


class Stream:
    """A sound system that brings `sounds`, then nothing more."""

    sounds: tuple[float, ...] = ()

    def __init__(self, *, callback: Callable[..., None], blocksize: int, **_: object) -> None:
        self._callback, self._blocksize = callback, blocksize

    def start(self) -> None:
        for sound in self.sounds:
            self._callback(np.full((self._blocksize, 1), sound, np.float32), self._blocksize, None, None)

    def close(self) -> None:
        pass


@pytest.fixture
def sound_system(monkeypatch: pytest.MonkeyPatch) -> type[Stream]:
    class Brings(Stream):
        pass

    class PortAudioError(Exception):
        pass

    monkeypatch.setitem(sys.modules, "sounddevice", SimpleNamespace(InputStream=Brings, PortAudioError=PortAudioError))
    return Brings


def test_a_microphone_gives_its_blocks_until_it_is_closed(sound_system: type[Stream]) -> None:
    sound_system.sounds = (0.1, 0.2)
    with Microphone() as blocks:
        heard = [next(blocks) for _ in sound_system.sounds]
    assert [float(block[0]) for block in heard] == pytest.approx([0.1, 0.2])
    assert {block.shape for block in heard} == {(FRAME,)}
    assert list(blocks) == []


def test_a_microphone_that_goes_silent_for_good_is_told(sound_system: type[Stream]) -> None:
    sound_system.sounds = (0.1,)
    with Microphone(stalled_s=0.01) as blocks, pytest.raises(MicrophoneError, match="gives no more sound"):
        list(blocks)


def test_when_nobody_takes_the_blocks_the_oldest_go(sound_system: type[Stream]) -> None:
    sound_system.sounds = tuple(np.linspace(0, 1, 500))
    with Microphone() as blocks:
        pass
    kept = [float(block[0]) for block in blocks]
    assert kept[0] > 0.1
    assert kept[-1] == 1.0
