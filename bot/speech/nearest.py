"""The sentences of the word graph that come nearest to a list of heard words, by word-wise edit cost.

Sounds count, not letters: a crude phonetic key makes "pour" near "four". For recognisers that can't be bound to the
graph.
"""

from __future__ import annotations

import heapq
import re
from functools import lru_cache

from rapidfuzz.distance import Levenshtein

from grammar.phrases import WordGraph

LEFT_OUT = 0.6
"""Cost of a word too many or too few."""
SMALL_LEFT_OUT = 0.3
SMALL = frozenset({"a", "an", "the", "of", "on", "in", "at", "is", "to", "and", "uh"})
WORST_SUBSTITUTE = 0.75
"""Words less alike than this aren't taken for each other."""
WORST_TOTAL = 6.0

Path = tuple[str, ...]
_Layer = dict[int, list[tuple[float, Path]]]


def nearest(graph: WordGraph, heard: list[str], keep: int = 6, beam: int = 300) -> list[tuple[float, str]]:
    """Up to `keep` (cost, sentence), cheapest first; empty when nothing comes near."""
    layer: _Layer = {0: [(0.0, ())]}
    for word in heard:
        layer = _step(graph, _with_extra_words(graph, layer, keep, beam), word, keep, beam)
        if not layer:
            return []
    layer = _with_extra_words(graph, layer, keep, beam)
    whole = sorted(path for state, paths in layer.items() if graph.final[state] for path in paths)
    best: dict[str, float] = {}
    for cost, path in whole:
        best.setdefault(" ".join(path), cost)
    return [(cost, sentence) for sentence, cost in list(best.items())[:keep] if sentence]


def _with_extra_words(graph: WordGraph, layer: _Layer, keep: int, beam: int) -> _Layer:
    """The layer and what is reached from it by words that weren't heard."""
    queue = [(cost, path, state) for state, paths in layer.items() for cost, path in paths]
    heapq.heapify(queue)
    reached: _Layer = {}
    taken = 0
    while queue and taken < beam:
        cost, path, state = heapq.heappop(queue)
        paths = reached.setdefault(state, [])
        if cost > WORST_TOTAL or len(paths) >= keep or any(path == other for _, other in paths):
            continue
        paths.append((cost, path))
        taken += 1
        for word, to in graph.arcs[state].items():
            heapq.heappush(queue, (cost + _left_out(word), (*path, word), to))
    return reached


def _step(graph: WordGraph, layer: _Layer, word: str, keep: int, beam: int) -> _Layer:
    """One heard word further: dropped, or taken for a word of the graph."""
    following: dict[int, list[tuple[float, Path]]] = {}
    for state, paths in layer.items():
        following.setdefault(state, []).extend((cost + _left_out(word), path) for cost, path in paths)
        for other, to in graph.arcs[state].items():
            unlike = unlikeness(word, other)
            if unlike < WORST_SUBSTITUTE:
                following.setdefault(to, []).extend((cost + unlike, (*path, other)) for cost, path in paths)
    costs = sorted(cost for paths in following.values() for cost, _ in paths)
    if not costs:
        return {}
    limit = costs[min(len(costs) - 1, beam)]
    kept = {state: [p for p in sorted(set(paths)) if p[0] <= limit][:keep] for state, paths in following.items()}
    return {state: paths for state, paths in kept.items() if paths}


def _left_out(word: str) -> float:
    return SMALL_LEFT_OUT if word in SMALL else LEFT_OUT


@lru_cache(maxsize=200_000)
def unlikeness(word: str, other: str) -> float:
    """0 for the same word, about 1 for words with nothing in common."""
    if word == other:
        return 0.0
    by_letter = Levenshtein.normalized_distance(word, other)
    by_sound = 0.15 + 0.85 * Levenshtein.normalized_distance(_sound(word), _sound(other))
    return 1.1 * min(by_letter, by_sound)


_SOUNDS = (
    (r"ough", "o"), (r"gh", ""), (r"ph", "f"), (r"[ckq]+", "k"), (r"[sz]+", "s"), (r"wh", "w"), (r"kn", "n"),
    (r"(.)\1", r"\1"), (r"[aeiouy]+", "a"),
)  # fmt: skip


@lru_cache(maxsize=50_000)
def _sound(word: str) -> str:
    for pattern, key in _SOUNDS:
        word = re.sub(pattern, key, word)
    return word
