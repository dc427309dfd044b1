"""Token-level beam search for the best sentences of the word graph, beside free decoding, in one run of the network.

Each hypothesis is a state of the graph plus a node of that state's token trie (the graph's next words, spelled in
tokens). The free hypothesis follows the most probable token. All of them go through the network as one batch.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from functools import lru_cache
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from bot.speech.ear.network import LONGEST_SENTENCE, Floats, Network, Sound
from bot.speech.ear.tokens import Tokens
from grammar.phrases import WordGraph

WIDTH = 16
"""Hypotheses that are kept after each token."""
PRUNE = 12.0
"""Hypotheses this much worse (natural log) than the best are dropped."""
JOIN = -4.0
"""Log-probability of another sentence following without a pause: one message can hold several reports."""
MOST_SENTENCES = 3


@dataclass(slots=True)
class _Node:
    """Where a spelled word has come to: next tokens, and the graph's states when a word ends here."""

    ids: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    next: tuple[_Node, ...] = ()
    ends: tuple[int, ...] = ()


TRIES = 512
"""States of a graph whose spellings are kept."""


class TokenGraph:
    """A word graph spelled in tokens; the tries of its states are made when they are visited."""

    def __init__(self, graph: WordGraph, tokens: Tokens) -> None:
        self._arcs, self.final, self._tokens = graph.arcs, graph.final, tokens
        self._trie = lru_cache(TRIES)(self._made)

    def trie(self, state: int) -> _Node:
        """The spellings of all words that go on from a state."""
        return self._trie(state)

    def _made(self, state: int) -> _Node:
        return _frozen(self._spell(state))

    def _spell(self, state: int) -> dict[int | None, object]:
        root: dict[int | None, object] = {}
        for word, to in self._arcs[state].items():
            node = root
            for token in self._tokens.encode_word(word):
                node = node.setdefault(token, {})  # type: ignore[assignment]
            node.setdefault(None, []).append(to)  # type: ignore[attr-defined]
        return root


def _frozen(tree: dict[int | None, object]) -> _Node:
    ids = [token for token in tree if token is not None]
    children = tuple(_frozen(tree[token]) for token in ids)  # type: ignore[arg-type]
    return _Node(np.array(ids, np.int64), children, tuple(tree.get(None, ())))  # type: ignore[arg-type]


class TokenGraphs:
    """The few token graphs in use, by the content of their word graph; safe to share between threads."""

    def __init__(self, tokens: Tokens, keep: int = 4) -> None:
        self._tokens, self._keep = tokens, keep
        self._graphs: OrderedDict[str, TokenGraph] = OrderedDict()
        self._lock = Lock()

    def of(self, graph: WordGraph) -> TokenGraph:
        """The token graph of a word graph."""
        with self._lock:
            found = self._graphs.get(graph.digest) or TokenGraph(graph, self._tokens)
            self._graphs[graph.digest] = found
            self._graphs.move_to_end(graph.digest)
            while len(self._graphs) > self._keep:
                self._graphs.popitem(last=False)
            return found


@dataclass(frozen=True, slots=True)
class SearchedSentence:
    """A finished hypothesis: its tokens and the log-probability of all of them, the end token's included."""

    ids: tuple[int, ...]
    score: float


@dataclass(frozen=True, slots=True)
class SearchResult:
    """Grammar sentences best first, the freely decoded one, and the latter's token log-probabilities."""

    grammar: tuple[SearchedSentence, ...]
    free: SearchedSentence
    free_log_probs: tuple[float, ...]


@dataclass(slots=True)
class _Hypothesis:
    score: float
    ids: tuple[int, ...]
    node: _Node
    sentences: int
    row: int
    """Row of the last step that it goes on from."""


def search(network: Network, sound: Sound, graph: TokenGraph, width: int = WIDTH) -> SearchResult:
    """Best grammar sentences and the freely decoded one for one stretch of sound."""
    step = network.start(sound)
    beam = [_Hypothesis(0.0, (), graph.trie(0), 1, 0)]
    free: list[int] = []
    free_log_probs: list[float] = []
    free_row: int | None = 0
    finished: dict[tuple[int, ...], float] = {}
    for _ in range(LONGEST_SENTENCE):
        log_probs = step.log_probs
        if free_row is not None:
            token = int(log_probs[free_row].argmax())
            free_log_probs.append(float(log_probs[free_row, token]))
            if token == network.tokens.end:
                free_row = None
            else:
                free.append(token)
        beam = _extend(beam, log_probs, graph, network.tokens.end, finished, width)
        ids = [hypothesis.ids[-1] for hypothesis in beam]
        parents = [hypothesis.row for hypothesis in beam]
        if free_row is not None:
            ids.append(free[-1])
            parents.append(free_row)
            free_row = len(ids) - 1
        if not ids:
            break
        for row, hypothesis in enumerate(beam):
            hypothesis.row = row
        step = network.go_on(sound, ids, parents, step.past)
    grammar = tuple(SearchedSentence(ids, score) for ids, score in sorted(finished.items(), key=lambda item: -item[1]))
    return SearchResult(grammar[: 2 * width], SearchedSentence(tuple(free), sum(free_log_probs)), tuple(free_log_probs))


def _extend(
    beam: list[_Hypothesis],
    log_probs: Floats,
    graph: TokenGraph,
    end: int,
    finished: dict[tuple[int, ...], float],
    width: int,
) -> list[_Hypothesis]:
    """All ways on from the hypotheses, the best `width` of them; whole sentences go to `finished`."""
    scores: list[NDArray[np.float64]] = []
    origins: list[tuple[_Hypothesis, _Node, int, int]] = []
    for hypothesis in beam:
        row = log_probs[hypothesis.row]
        for node, sentences, penalty in _ways_on(hypothesis, graph):
            if node is None:
                score = hypothesis.score + float(row[end])
                if score > finished.get(hypothesis.ids, -np.inf):
                    finished[hypothesis.ids] = score
            elif len(node.ids):
                scores.append(hypothesis.score + penalty + row[node.ids].astype(np.float64))
                origins.append((hypothesis, node, sentences, len(node.ids)))
    if not scores:
        return []
    joined = np.concatenate(scores)
    starts = np.cumsum([0, *(count for *_, count in origins)])
    least = max(joined.max() - PRUNE, _worth(finished, width))
    chosen = np.argsort(-joined, kind="stable")[: 3 * width]
    following: list[_Hypothesis] = []
    seen: set[tuple[tuple[int, ...], int]] = set()
    for place in chosen:
        if joined[place] <= least or len(following) == width:
            break
        which = int(np.searchsorted(starts, place, side="right")) - 1
        hypothesis, node, sentences, _ = origins[which]
        within = int(place - starts[which])
        child = node.next[within]
        key = ((*hypothesis.ids, int(node.ids[within])), id(child))
        if key not in seen:
            seen.add(key)
            following.append(_Hypothesis(float(joined[place]), key[0], child, sentences, hypothesis.row))
    return following


def _ways_on(hypothesis: _Hypothesis, graph: TokenGraph) -> list[tuple[_Node | None, int, float]]:
    """Nodes to go on from (None: end here), how many sentences that makes, and what it costs."""
    ways: list[tuple[_Node | None, int, float]] = [(hypothesis.node, hypothesis.sentences, 0.0)]
    for state in hypothesis.node.ends:
        ways.append((graph.trie(state), hypothesis.sentences, 0.0))
        if graph.final[state]:
            ways.append((None, hypothesis.sentences, 0.0))
            if hypothesis.sentences < MOST_SENTENCES:
                ways.append((graph.trie(0), hypothesis.sentences + 1, JOIN))
    return ways


def _worth(finished: dict[tuple[int, ...], float], width: int) -> float:
    """Score below which nothing unfinished can still come among the best."""
    if len(finished) < width:
        return -np.inf
    return sorted(finished.values())[-width]
