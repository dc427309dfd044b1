"""The built-in recogniser: voice activity, the network, the grammar-bound search beside free decoding, the margins.

Sound goes through in windows of at most `LONGEST_WINDOW_S`, cut in the pauses of a longer message.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from bot.speech.activity import Activity, SpeechStretch, find_speech
from bot.speech.ear.network import DATA, Network
from bot.speech.ear.search import SearchResult, TokenGraph, TokenGraphs, search
from bot.speech.gate import EAR, UNCLEAR, Thresholds, judge
from bot.speech.hearing import SAMPLE_RATE, Decision, Heard, HeardGuess, Meaning, nothing_heard
from grammar.phrases import WordGraph, word_graph
from grammar.spoken import spoken

Samples = NDArray[np.float32]
LONGEST_WINDOW_S = 8.0
LONG_FOR_NOTHING_S = 1.5
"""Speech of this length in which no word is found was missed: the other windows don't hold all that was said."""
_LONGEST = int(LONGEST_WINDOW_S * SAMPLE_RATE)
SENTENCE_MARGIN = -4.0
"""A stretch that fits the grammar better than this is a sentence of its own."""
KEPT_GUESSES = 8


@dataclass(frozen=True, slots=True)
class _Window:
    """What was found in one window, as words."""

    grammar: tuple[tuple[str, float], ...]
    free: str
    free_score: float
    clarity: float
    lost: bool = False
    """No word was found in a long sound."""

    @property
    def grammar_margin(self) -> float:
        """log p(best grammar sentence) − log p(freely decoded text)."""
        return self.grammar[0][1] - self.free_score if self.grammar else -np.inf


class Ear:
    """The built-in recogniser. Loads at first use or `warm_up`; safe to share between threads."""

    name = "ear"

    def __init__(self, folder: Path = DATA, thresholds: Thresholds = EAR, threads: int | None = None) -> None:
        self._folder, self._thresholds, self._threads = folder, thresholds, threads
        self._loading = Lock()

    @cached_property
    def _loaded(self) -> tuple[Network, TokenGraphs]:
        network = Network(self._folder, self._threads)
        return network, TokenGraphs(network.tokens)

    def _ready(self) -> tuple[Network, TokenGraphs]:
        with self._loading:
            return self._loaded

    def warm_up(self) -> None:
        """Load the network and run it once.

        Raises:
            bot.errors.EarError: the files are missing or damaged.
        """
        network, graphs = self._ready()
        hiss = np.random.default_rng(0).normal(0, 1e-3, 3 * SAMPLE_RATE).astype(np.float32)
        find_speech(hiss)
        search(network, network.encode(hiss), graphs.of(word_graph()))

    def hear(self, samples: Samples, graph: WordGraph, meaning: Meaning) -> Heard:
        """Recognise one recording (16 kHz mono)."""
        samples = _levelled(samples)
        activity = find_speech(samples)
        if not activity.stretches:
            return nothing_heard(self.name)
        return self.hear_speech(samples, activity, graph, meaning)

    def hear_speech(self, samples: Samples, activity: Activity, graph: WordGraph, meaning: Meaning) -> Heard:
        """As `hear`, with the speech already found."""
        samples = _levelled(samples)
        network, graphs = self._ready()
        token_graph = graphs.of(graph)
        windows = self._windows(network, token_graph, samples, activity.stretches)
        free = " ".join(window.free for window in windows).strip()
        guesses = [HeardGuess(words, score, "grammar") for words, score in _joined(windows)]
        free_score = sum(window.free_score for window in windows)
        margin = min(window.grammar_margin for window in windows)
        if graph.accepts(free) and all(guess.words != free for guess in guesses):
            # The search keeps few beams and can lose a long sentence; free decoding found one of the graph's.
            guesses = sorted([*guesses, HeardGuess(free, free_score, "grammar")], key=lambda guess: -guess.score)
            margin = max(margin, guesses[0].score - free_score)
        heard = judge(
            [*guesses, HeardGuess(free, free_score, "free")],
            meaning=meaning,
            grammar_margin=margin,
            clarity=min(window.clarity for window in windows),
            snr_db=activity.snr_db,
            speech_s=activity.speech_s,
            engine=self.name,
            thresholds=self._thresholds,
        )
        if heard.decision is not Decision.DECLINE and any(window.lost for window in windows):
            return replace(heard, decision=Decision.DECLINE, reason=UNCLEAR)
        return heard

    def _windows(
        self, network: Network, graph: TokenGraph, samples: Samples, stretches: tuple[SpeechStretch, ...]
    ) -> list[_Window]:
        """What was found in each window. Pauses part sentences, or somebody only took a breath: the likelier holds."""
        parted = [
            _listen(network, graph, piece)
            for stretch in stretches
            for piece in _halved(samples[stretch.start : stretch.end], _LONGEST)
        ]
        if len(stretches) == 1 or min(window.grammar_margin for window in parted) > SENTENCE_MARGIN:
            return parted
        joined = [_listen(network, graph, sound) for sound in cut(samples, stretches)]
        return max(joined, parted, key=lambda windows: min(window.grammar_margin for window in windows))


def _listen(network: Network, graph: TokenGraph, sound: Samples) -> _Window:
    window = _in_words(network, search(network, network.encode(sound), graph))
    return replace(window, lost=not window.free and len(sound) >= LONG_FOR_NOTHING_S * SAMPLE_RATE)


def _in_words(network: Network, found: SearchResult) -> _Window:
    best: dict[str, float] = {}
    for sentence in found.grammar:
        words = network.tokens.decode(sentence.ids).strip()
        best[words] = max(best.get(words, -np.inf), sentence.score)
    clarity = float(np.exp(np.mean(found.free_log_probs))) if found.free_log_probs else 0.0
    free = plain_words(network.tokens.decode(found.free.ids))
    return _Window(tuple(list(best.items())[:KEPT_GUESSES]), free, found.free.score, clarity)


def plain_words(text: str) -> str:
    """Freely decoded text as the grammar writes words: lower case, no punctuation, numbers spelled out."""
    return spoken(re.sub(r"(?<=\d),(?=\d{3})", "", text))


def _levelled(sound: Samples) -> Samples:
    """Quiet recordings are raised: the network heard levels of −24…0 dB of full scale in training."""
    peak = float(np.abs(sound).max())
    return sound if 0.06 < peak <= 1.0 else (sound * (0.5 / max(peak, 1e-6))).astype(np.float32)


def _joined(windows: list[_Window]) -> list[tuple[str, float]]:
    """Best combinations of the windows' grammar sentences."""
    combined: list[tuple[str, float]] = [("", 0.0)]
    for window in windows:
        combined = [(f"{words} {more}", score + plus) for words, score in combined for more, plus in window.grammar]
        combined = sorted(combined, key=lambda item: -item[1])[:KEPT_GUESSES]
    return [(words.strip(), score) for words, score in combined]


def cut(samples: Samples, stretches: tuple[SpeechStretch, ...]) -> list[Samples]:
    """Windows of sound: stretches put together while they fit, an over-long stretch cut at its quietest moments."""
    pieces = [piece for stretch in stretches for piece in _halved(samples[stretch.start : stretch.end], _LONGEST)]
    windows: list[Samples] = []
    for piece in pieces:
        if windows and len(windows[-1]) + len(piece) <= _LONGEST:
            windows[-1] = np.concatenate([windows[-1], piece])
        else:
            windows.append(piece)
    return windows


def _halved(sound: Samples, longest: int) -> list[Samples]:
    if len(sound) <= longest:
        return [sound]
    block = SAMPLE_RATE // 20
    power = (sound[: len(sound) // block * block].reshape(-1, block).astype(np.float64) ** 2).mean(axis=1)
    third = len(power) // 3
    middle = (third + int(power[third : 2 * third].argmin())) * block + block // 2
    return [*_halved(sound[:middle], longest), *_halved(sound[middle:], longest)]
