"""The word graph takes most of what is answered and can be said: `python -m tests.grammar.in_graph` counts it all."""

from __future__ import annotations

import os

from grammar.phrases import word_graph
from tests.grammar.in_graph import JOINED, NAMES, said, spoken_cases, takes

STEP = 1 if os.environ.get("CROSSLAY_LAWS") == "full" else 25


def test_most_of_the_corpus_is_in_the_graph() -> None:
    graph = word_graph(NAMES)
    taken = [takes(graph, ways, JOINED) for _, ways in spoken_cases(STEP)]
    print(f"{sum(taken)} of {len(taken)}")
    assert sum(taken) / len(taken) >= 0.5


def test_a_number_is_said_in_every_usual_way() -> None:
    ways = said("200 feet, 1.75")
    assert ways is not None
    assert ("two", "hundred") in ways[0]
    assert ("inch", "and", "three", "quarter") in ways[2]


def test_what_cannot_be_said_is_not_counted() -> None:
    assert said("E12 @ 3/0") is None
