"""How much of the corpus the word graph takes: `python -m tests.grammar.in_graph [--show]`.

Counted are the sentences that are answered rightly and can be spoken (no word nobody knows, no millimetres), in any
way that their numbers are said: as one sentence of the graph, and as up to three, which is what the recogniser joins.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TypeAlias

from grammar.phrases import Names, WordGraph, word_graph
from grammar.reader import read, warm
from grammar.spoken import say, spoken, wordings
from grammar.text import tokens
from grammar.vocabulary import names, vocabulary
from tests.grammar.corpus.loader import Case, cases, judge

NAMES = Names(
    units=("engine 9", "truck 4", "battalion 1", "medic 2", "rescue 1", "ladder 4", "tender 3", "engine 12"),
    own_unit="engine 12",
)
JOINED = 3
SPOILED = ("spoiled", "typos", "misheard", "chatter", "metric")
"""Files of the corpus that aren't spoken so."""
Ways: TypeAlias = Sequence[tuple[str, ...]]
"""How one token is said."""

_PIECE = re.compile(r"\d[\d,]*\.\d+|\d+/\d+|\d[\d,]*|[A-Za-z'’]+|[^\s\w]")
_MARKS = frozenset(",.;:!?-–—…\"“”()'#")
_UNITS = {"gpm": "gallons a minute", "psi": "pounds", "ft": "feet", "min": "minutes", "%": "percent"}
_SIZES = {
    "1.75": ("one and three quarter", "inch and three quarter", "one seventy five"),
    "2.5": ("two and a half",),
    "1.5": ("one and a half", "inch and a half"),
}


def said(text: str) -> list[Ways] | None:
    """The ways of saying each token; None where one can't be said."""
    found = [_ways(piece.lower()) for piece in _PIECE.findall(text) if piece not in _MARKS]
    return None if any(not ways for ways in found) else found


def _ways(piece: str) -> Ways:
    if piece[0].isdigit():
        return [tuple(way.split()) for way in _number(piece)]
    plain = [tuple(spoken(piece).split()), tuple(token.text for token in tokens(piece) if token.text.isalpha())]
    more = [tuple(_UNITS[piece].split())] if piece in _UNITS else []
    return [way for way in dict.fromkeys(plain + more) if way]


def _number(piece: str) -> Iterator[str]:
    whole = piece.replace(",", "")
    if whole.isdigit():
        yield from {*wordings(int(whole)), say(int(whole))} if len(whole) < 5 else ()
    elif "/" in whole:
        above, below = map(int, whole.split("/"))
        if 0 < above < below <= 16 and not 16 % below:
            part = say(above / below)
            yield from (
                part,
                f"and {part}",
                *([f"an {part[4:]}", f"and an {part[4:]}"] if part == "one eighth" else ()),
            )
    else:
        yield from _SIZES.get(whole, (say(float(whole), "decimal"),))


def takes(graph: WordGraph, ways: Sequence[Ways], joined: int) -> bool:
    """Whether any way of saying it is a sentence of the graph, or up to so many."""
    places = {(0, 1)}
    for token in ways:
        places = {after for way in token for after in _after(graph, places, way, joined)}
    return any(graph.final[state] for state, _ in places)


def _after(graph: WordGraph, places: set[tuple[int, int]], way: tuple[str, ...], joined: int) -> set[tuple[int, int]]:
    for word in way:
        begun = {(0, count + 1) for state, count in places if count < joined and graph.final[state]}
        rows = ((graph.arcs[state], count) for state, count in places | begun)
        places = {(row[word], count) for row, count in rows if word in row}
    return places


def spoken_cases(step: int = 1) -> Iterator[tuple[Case, list[Ways]]]:
    """The sentences that are counted, of every `step`th case."""
    known = vocabulary().words
    for case in islice(cases(), 0, None, step):
        if case.where.startswith(SPOILED) or case.expected.expect is None:
            continue
        ways = said(case.expected.say)
        named = names(case.context).words
        words = [token.text for token in tokens(case.expected.say)]
        if ways is None or any(w.isalpha() and len(w) > 1 and w not in known and w not in named for w in words):
            continue
        reading = read(case.expected.say, case.context)
        if reading.commands and judge(case, reading) == "right":
            yield case, ways


def main() -> None:
    """Print the shares, and with `--show` what isn't taken."""
    warm()
    graph = word_graph(NAMES)
    counts: Counter[str] = Counter()
    for case, ways in spoken_cases():
        counts["all"] += 1
        counts["one sentence"] += takes(graph, ways, 1)
        taken = takes(graph, ways, JOINED)
        counts[f"up to {JOINED}"] += taken
        if not taken and "--show" in sys.argv:
            print(case.where, case.expected.say)
    print(dict(counts), *(f"{kind}: {100 * n / counts['all']:.1f} %" for kind, n in counts.items() if kind != "all"))


if __name__ == "__main__":
    main()
