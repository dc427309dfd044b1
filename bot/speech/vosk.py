"""Vosk instead of the built-in ear: a model folder of the user's, behind the same gate.

A Vosk grammar is only a bigram over its phrases and its confidence can be 1.0 on wrong sound, so the grammar-bound
result is believed only as far as the freely decoded one says the same: both are mapped to the nearest sentences of the
word graph, and their costs are added.
"""

from __future__ import annotations

import json
import math
from functools import lru_cache
from pathlib import Path
from random import Random
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bot.errors import VoskError
from bot.speech.activity import Activity, find_speech
from bot.speech.gate import Level, Thresholds, judge
from bot.speech.hearing import SAMPLE_RATE, Heard, HeardGuess, Meaning, nothing_heard
from bot.speech.nearest import nearest
from grammar.phrases import WordGraph

Samples = NDArray[np.float32]
_OTHER = "[unk]"
"""Vosk's word for any other speech."""
PER_COST = 4.0
"""Natural-log units that one unit of edit cost stands for."""
LEAST_KNOWN = 0.5
"""A model that knows a smaller part of the words can't be used."""
PHRASES = 3000
"""Random sentences that show Vosk which words follow each other."""

THRESHOLDS = Thresholds(
    weights=(0.0, 1.2, 0.2, 8.0, 4.0),
    answer=(Level(-math.inf, 0.93, 1.2, 2.0),),
    ask=0.15,
    rival_margin=1.2,
    under_control=0.97,
)
"""Not fitted: no English model could be had to fit them on. By these weights an answer takes a word confidence of about
0.85
with both decodings the same; from there on a comparable engine accepted nothing off-topic."""


class Vosk:
    """A Vosk model behind the `Recogniser` face; safe to share between threads (one engine object a call)."""

    name = "vosk"

    def __init__(self, folder: Path, thresholds: Thresholds = THRESHOLDS) -> None:
        self._folder, self._thresholds = folder, thresholds
        self._loading = Lock()
        self._loaded: tuple[Any, Any] | None = None
        self._grammar = lru_cache(maxsize=4)(self._grammar_of)

    def _model(self) -> tuple[Any, Any]:
        """The vosk module and the loaded model. Only by path: a model's name would make vosk download it."""
        with self._loading:
            if self._loaded is None:
                if not self._folder.is_dir():
                    raise VoskError(f"There is no Vosk model folder “{self._folder}”: check CROSSLAY_VOSK_MODEL.")
                try:
                    import vosk

                    vosk.SetLogLevel(-1)
                    self._loaded = (vosk, vosk.Model(model_path=str(self._folder)))
                except Exception as fault:  # vosk raises bare Exception
                    raise VoskError from fault
            return self._loaded

    def warm_up(self) -> None:
        """Load the model.

        Raises:
            VoskError: it can't be loaded.
        """
        self._model()

    def missing_words(self, graph: WordGraph) -> list[str]:
        """Words of the graph that the model doesn't know (Vosk itself only warns)."""
        _, model = self._model()
        return sorted(word for word in graph.words if model.vosk_model_find_word(word) < 0)

    def hear(self, samples: Samples, graph: WordGraph, meaning: Meaning) -> Heard:
        """Recognise one recording.

        Raises:
            VoskError: the model can't be loaded, or isn't one for these words.
        """
        activity = find_speech(samples)
        if not activity.stretches:
            return nothing_heard(self.name)
        return self.hear_speech(samples, activity, graph, meaning)

    def hear_speech(self, samples: Samples, activity: Activity, graph: WordGraph, meaning: Meaning) -> Heard:
        """As `hear`, with the speech already found."""
        grammar = self._grammar(graph)
        sound = samples[activity.stretches[0].start : activity.stretches[-1].end]
        free, clarity = self._decode(sound)
        bound, _ = self._decode(sound, grammar)
        scores = _agreed_scores(graph, free, bound)
        guesses = [HeardGuess(words, score, "grammar") for words, score in scores]
        guesses.append(HeardGuess(" ".join(free), 0.0, "free"))
        return judge(
            guesses,
            meaning=meaning,
            grammar_margin=scores[0][1] if scores else -np.inf,
            clarity=clarity,
            snr_db=activity.snr_db,
            speech_s=activity.speech_s,
            engine=self.name,
            thresholds=self._thresholds,
        )

    def _grammar_of(self, graph: WordGraph) -> str:
        """Phrases of known words as Vosk wants them: a JSON list, other speech as [unk]."""
        missing = set(self.missing_words(graph))
        if len(missing) > (1 - LEAST_KNOWN) * len(graph.words):
            raise VoskError(
                f"This Vosk model doesn't know {len(missing)} of the {len(graph.words)} words that can be said "
                f"(“{min(missing)}” …): name one for English in CROSSLAY_VOSK_MODEL."
            )
        phrases = {phrase for phrase in random_walks(graph, PHRASES) if missing.isdisjoint(phrase.split())}
        _, model = self._model()
        other = [_OTHER] if model.vosk_model_find_word(_OTHER) >= 0 else []
        # Vosk doesn't undo JSON's escapes: letters beyond ASCII must be written as they are.
        return json.dumps([*sorted(phrases), *sorted(graph.words - missing), *other], ensure_ascii=False)

    def _decode(self, sound: Samples, grammar: str | None = None) -> tuple[list[str], float]:
        """Words of one recording and the geometric mean of their confidences."""
        vosk, model = self._model()
        engine = vosk.KaldiRecognizer(model, SAMPLE_RATE, *([grammar] if grammar else []))
        engine.SetWords(True)
        pcm = (np.clip(sound, -1, 1) * 32_767).astype(np.int16).tobytes()
        results = []
        for at in range(0, len(pcm), 8000):
            if engine.AcceptWaveform(pcm[at : at + 8000]):  # a pause inside the message: go on after it
                results.append(json.loads(engine.Result()))
        results.append(json.loads(engine.FinalResult()))
        found = [entry for result in results for entry in result.get("result", [])]
        words = [entry["word"] for entry in found if entry["word"] != _OTHER]
        if not words:
            return [], 0.0
        return words, float(np.exp(np.mean([np.log(max(entry["conf"], 1e-6)) for entry in found])))


def _agreed_scores(graph: WordGraph, free: list[str], bound: list[str]) -> list[tuple[str, float]]:
    """Sentences of the graph near to what both decodings heard, best first; a score of 0 is exactly both."""
    near_free = {words: cost for cost, words in nearest(graph, free)}
    near_bound = {words: cost for cost, words in nearest(graph, bound)}
    worst_free = max(near_free.values(), default=0.0) + 0.6
    worst_bound = max(near_bound.values(), default=0.0) + 0.6
    scores = {
        words: -PER_COST * (near_free.get(words, worst_free) + near_bound.get(words, worst_bound)) / 2
        for words in near_free | near_bound
    }
    return sorted(scores.items(), key=lambda item: -item[1])


def random_walks(graph: WordGraph, count: int, seed: int = 0) -> list[str]:
    """Random sentences of a graph."""
    # the same ones each time
    rng = Random(seed)  # nosec B311
    sentences = []
    for _ in range(count):
        state = 0
        words: list[str] = []
        while graph.arcs[state] and not (words and graph.final[state] and rng.random() < 0.5):
            word = rng.choice(list(graph.arcs[state]))
            words.append(word)
            state = graph.arcs[state][word]
        sentences.append(" ".join(words))
    return sentences
