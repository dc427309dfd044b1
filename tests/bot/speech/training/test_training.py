"""The training material: what is said, by whom, and how it is spoiled. (The training itself needs torch and hours.)"""

import re
from itertools import islice
from pathlib import Path
from random import Random

import numpy as np
import pytest

from bot.speech.training import augment, noises, voices
from bot.speech.training.clips import RATE, Clips, ShardWriter
from bot.speech.training.sentences import expand, grammar_phrase, is_held_out, trade_sentences, training_sentences
from bot.speech.training.wording import SLOTS, number
from grammar.numbers import numbers_at

SECOND = RATE


@pytest.fixture(scope="module")
def speech() -> np.ndarray:
    """A spoken command of about two seconds."""
    speaker = voices.EspeakSpeaker()
    samples, _ = speaker.speak("two lines two hundred feet of one and three quarter", Random(1))
    return samples.astype(np.float32) / 32_768


def test_templates_are_filled() -> None:
    said = {expand("[charge|open] {line} [now|]", Random(seed)) for seed in range(40)}
    assert all(re.fullmatch(r"(charge|open) [a-z ]+", sentence) for sentence in said)
    assert len(said) > 20


@pytest.mark.parametrize("kind", ["command", "free", "report", "radio"])
def test_trade_sentences_are_plain_spoken_words(kind: str) -> None:
    for sentence in islice(trade_sentences(3, frozenset({kind})), 300):
        assert re.fullmatch(r"[a-z]+( [a-z]+)*", sentence.text), sentence.text


def test_training_and_bench_share_no_long_sentence() -> None:
    trained = {one.text for one in training_sentences(1500, 1, [])}
    benched = {one.text for one in training_sentences(300, 2, [], held_out=True)}
    assert not {text for text in trained & benched if len(text.split()) > 2}
    assert not any(is_held_out(text) for text in trained)


def test_the_split_hears_words_only() -> None:
    assert is_held_out("Turn left, then stop there.") == is_held_out("turn left then stop there")
    assert not is_held_out("under control")


def test_no_held_out_voice_is_a_training_voice() -> None:
    assert not set(voices.TRAINING_ACCENTS) & set(voices.HELD_OUT_ACCENTS)
    assert not set(voices.TRAINING_VARIANTS) & set(voices.VALIDATION_VARIANTS)


@pytest.mark.parametrize("value", [7, 50, 95, 100, 150, 175, 205, 300, 999, 1000, 1250, 1500])
def test_numbers_are_said_as_they_are_read(value: int) -> None:
    for seed in range(30):
        said = number(Random(seed), value)
        words = said.split()
        assert any(found.value == value and found.end == len(words) for found in numbers_at(words, 0)), said


@pytest.mark.parametrize("slot", sorted(SLOTS))
def test_every_slot_is_words(slot: str) -> None:
    assert re.fullmatch(r"[a-z]+( [a-z]+)*", SLOTS[slot](Random(5)))


def test_grammar_phrases_are_accepted_by_the_grammar_of_their_names() -> None:
    assert all(re.fullmatch(r"[a-z]+( [a-z]+)*", grammar_phrase(Random(seed))) for seed in range(100))


@pytest.mark.parametrize("kind", sorted(noises.KINDS))
def test_noises_have_unit_level(kind: str) -> None:
    sound = noises.KINDS[kind][1](3 * SECOND, np.random.default_rng(2))
    assert len(sound) == 3 * SECOND
    assert sound.std() == pytest.approx(1, abs=0.01)


def test_mixing_keeps_the_ratio_asked_for(speech: np.ndarray) -> None:
    noise = noises.engine(len(speech), np.random.default_rng(1))
    added = augment.mixed(speech, noise, 10) - speech
    assert 20 * np.log10(augment.speech_level(speech) / added.std()) == pytest.approx(10, abs=0.1)


def test_a_clip_is_never_heard_twice_the_same(speech: np.ndarray) -> None:
    augmenter = augment.Augmenter()
    rng = np.random.default_rng(4)
    heard = [augmenter.augmented(speech, rng) for _ in range(12)]
    assert all(np.isfinite(one).all() and np.abs(one).max() <= 1.05 and len(one) <= 8 * SECOND for one in heard)
    assert len({one.tobytes() for one in heard}) == 12


def test_noise_alone(speech: np.ndarray) -> None:
    assert len(augment.Augmenter().augmented(None, np.random.default_rng(0))) >= SECOND


def test_opus_keeps_the_length(speech: np.ndarray) -> None:
    assert abs(len(augment.opus(speech, 16_000)) - len(speech)) < SECOND // 20


def test_a_shard_gives_back_what_was_put_in(tmp_path: Path) -> None:
    first, second = np.arange(100, dtype=np.int16), np.arange(50, dtype=np.int16)
    with ShardWriter(tmp_path / "shard") as shard:
        shard.add(first, "one", "command", "voice a")
        shard.add(second, "two", "english", "voice b")
    clips = Clips([tmp_path / "shard"])
    assert [clip.text for clip in clips.clips] == ["one", "two"]
    assert np.array_equal(clips.samples(1) * 32_768, second)
