"""The word graph: everything that can be said, as a deterministic automaton of words, and random sentences of it.

Compiled from the patterns of `phrases.toml` and from the names that a rig and an incident bring. The recognisers search
it; training and evaluation sentences are sampled from the same patterns, so what is trained is what can be understood.

    graph = word_graph(Names(lines=("crosslay 1",), own_unit="engine 12"))
    graph.accepts("charge crosslay one")
    sample(random.Random(1), names)           # Phrase(intent="line_on", words="charge crosslay one")
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from importlib import resources
from random import Random
from typing import Any

from grammar.automaton import Automaton, Net, determinise, of_sentences
from grammar.spoken import ONES, clock_wordings, spoken, wordings


@dataclass(frozen=True, slots=True)
class Names:
    """What the rig file and the incident add to the words of the trade, as written or as spoken ("Crosslay 1")."""

    lines: tuple[str, ...] = ("crosslay one", "crosslay two", "bumper line", "rear line", "deck gun")
    units: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    call_names: tuple[str, ...] = ("crosslay",)
    own_unit: str = "engine twelve"


@dataclass(frozen=True)
class WordGraph:
    """The automaton of all sentences; two are equal when their `digest` is."""

    automaton: Automaton = field(compare=False)
    digest: str

    @property
    def arcs(self) -> tuple[dict[str, int], ...]:
        """Words that go on from each state, and where to; 0 is the start."""
        return self.automaton.arcs

    @property
    def final(self) -> tuple[bool, ...]:
        """Whether a sentence may end in each state."""
        return self.automaton.final

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word that occurs."""
        return self.automaton.words()

    def accepts(self, sentence: str) -> bool:
        """Whether these space-separated words are a whole sentence."""
        return self.automaton.accepts(sentence.split())

    def goes_on(self, sentence: str) -> bool:
        """Whether more than a closing word ("please", "over") can follow these words, or they aren't in the graph."""
        state = 0
        for word in sentence.split():
            if word not in self.arcs[state]:
                return True
            state = self.arcs[state][word]
        return not self.final[state] or not _closing_words() >= self.arcs[state].keys()


@dataclass(frozen=True, slots=True)
class Phrase:
    """One random sentence and the group of patterns it comes from (mostly an intent's name)."""

    intent: str
    words: str


# ----------------------------------------------------------------------------------------------------- pattern notation

Node = tuple[Any, ...]
"""("word", w) · ("rule", name) · ("seq", nodes…) · ("any", nodes…) · ("maybe", node)."""


def parse(pattern: str) -> Node:
    """A pattern as a tree.

    Raises:
        ValueError: brackets that don't match, or a character that isn't part of the notation.
    """
    symbols = re.findall(r"<\w+>|[a-z]+|[\[\]()|]", pattern)
    if "".join(symbols) != re.sub(r"\s+", "", pattern):
        raise ValueError(f"not a pattern: {pattern!r}")
    node, rest = _alternatives(symbols, 0)
    if rest != len(symbols):
        raise ValueError(f"brackets don't match: {pattern!r}")
    return node


def _alternatives(symbols: list[str], at: int) -> tuple[Node, int]:
    branches: list[Node] = []
    sequence: list[Node] = []
    while at < len(symbols) and symbols[at] not in ")]":
        symbol = symbols[at]
        at += 1
        if symbol == "|":
            branches.append(("seq", *sequence))
            sequence = []
        elif symbol in "([":
            inner, at = _alternatives(symbols, at)
            if at >= len(symbols) or symbols[at] != {"(": ")", "[": "]"}[symbol]:
                raise ValueError("brackets don't match: " + " ".join(symbols))
            at += 1
            sequence.append(inner if symbol == "(" else ("maybe", inner))
        else:
            sequence.append(("rule", symbol[1:-1]) if symbol[0] == "<" else ("word", symbol))
    branches.append(("seq", *sequence))
    return (branches[0] if len(branches) == 1 else ("any", *branches)), at


@dataclass(frozen=True, slots=True)
class _Numbers:
    values: tuple[int, ...]
    common: tuple[int, ...]
    """The round ones."""
    skew: float


@dataclass(frozen=True, slots=True)
class _Patterns:
    rules: dict[str, Node]
    numbers: dict[str, _Numbers]
    sentences: dict[str, tuple[int, Node]]
    """Group -> (weight when sampling, tree)."""


@cache
def _patterns() -> _Patterns:
    data = tomllib.loads(resources.files("grammar").joinpath("phrases.toml").read_text(encoding="utf-8"))
    numbers = {}
    for name, spec in data["numbers"].items():
        values = sorted({value for low, high, step in spec["ranges"] for value in range(low, high + 1, step)})
        common = tuple(value for value in values if value % spec["common"] == 0)
        numbers[name] = _Numbers(tuple(values), common, spec["skew"])
    rules = {name: parse(pattern) for name, pattern in data["rules"].items()}
    sentences = {
        group: (spec.get("weight", 1), ("any", *map(parse, spec["patterns"])))
        for group, spec in data["sentences"].items()
    }
    return _Patterns(rules, numbers, sentences)


@cache
def _clock_times() -> tuple[str, ...]:
    return tuple(said for hour in range(24) for minute in range(60) for said in clock_wordings(hour, minute))


def _said(names: Names) -> dict[str, tuple[str, ...]]:
    """The names' rules, as spoken."""
    lists = {
        "rig_line": names.lines,
        "known_unit": names.units,
        "place": names.places,
        "person": names.people,
        "call": names.call_names,
        "own_unit": (names.own_unit,),
    }
    return {rule: tuple(dict.fromkeys(filter(None, map(spoken, said)))) for rule, said in lists.items()}


# ---------------------------------------------------------------------------------------------------------- compilation


class _Compiler:
    """Compiles rules to minimal automata, each once."""

    def __init__(self, names: Names) -> None:
        self._patterns = _patterns()
        self._names = _said(names)
        self._done: dict[str, Automaton | None] = {}

    def graph(self) -> Automaton:
        net = Net()
        start, body, after, end = (net.state() for _ in range(4))
        net.skip(start, body)
        net.skip(after, end)
        self._add(net, ("rule", "carrier"), start, body)
        self._add(net, ("rule", "tail"), after, end)
        for _, tree in self._patterns.sentences.values():
            net.embed(self._compile(tree), body, after)
        return determinise(net, start, end)

    def words_of(self, rule: str) -> frozenset[str]:
        """Every word of a rule."""
        return self._compile(("rule", rule)).words()

    def _compile(self, tree: Node) -> Automaton:
        net = Net()
        start, end = net.state(), net.state()
        self._add(net, tree, start, end)
        return determinise(net, start, end)

    def _rule(self, name: str) -> Automaton | None:
        """A rule's automaton; None when it is a list of names and there are none."""
        if name not in self._done:
            self._done[name] = self._make(name)
        return self._done[name]

    def _make(self, name: str) -> Automaton | None:
        if name in self._patterns.rules:
            return self._compile(self._patterns.rules[name])
        if name in self._patterns.numbers:
            return _number(name)
        if name == "clock_time":
            return of_sentences([said.split() for said in _clock_times()])
        if name == "digits":
            return self._compile(("seq", *[("any", *[("word", word) for word in _DIGITS])] * 4))
        said = self._names[name]
        return of_sentences([words.split() for words in said]) if said else None

    def _add(self, net: Net, node: Node, start: int, end: int) -> None:
        kind, *parts = node
        if kind == "word":
            net.word(start, parts[0], end)
        elif kind == "rule":
            automaton = self._rule(parts[0])
            if automaton is not None:
                net.embed(automaton, start, end)
        elif kind == "maybe":
            net.skip(start, end)
            self._add(net, parts[0], start, end)
        elif kind == "any":
            for part in parts:
                self._add(net, part, start, end)
        else:
            for part in parts[:-1]:
                middle = net.state()
                self._add(net, part, start, middle)
                start = middle
            if parts:
                self._add(net, parts[-1], start, end)
            else:
                net.skip(start, end)


_DIGITS = ("oh", *ONES)


@cache
def _number(name: str) -> Automaton:
    return of_sentences([said.split() for value in _patterns().numbers[name].values for said in wordings(value)])


@lru_cache(maxsize=8)
def word_graph(names: Names = Names()) -> WordGraph:
    """The graph for these names; built in about a second, the same content is built once."""
    automaton = _Compiler(names).graph()
    content = repr((automaton.arcs, automaton.final)).encode()
    return WordGraph(automaton, hashlib.sha256(content).hexdigest()[:16])


@cache
def _closing_words() -> frozenset[str]:
    """What may stand at a sentence's end and says nothing."""
    return _Compiler(Names()).words_of("tail")


def every_word(names: Names = Names()) -> frozenset[str]:
    """All words that can be said with these names."""
    return word_graph(names).words


# ------------------------------------------------------------------------------------------------------------- sampling


def sample(rng: Random, names: Names = Names(), intent: str | None = None) -> Phrase:
    """A random sentence (of one group of patterns, when named); round numbers and short forms come more often."""
    patterns = _patterns()
    groups = [intent] if intent else list(patterns.sentences)
    group = rng.choices(groups, [patterns.sentences[name][0] for name in groups])[0]
    said = _said(names)
    while True:
        words = _draw(rng, patterns.sentences[group][1], said)
        if words:
            break
    if rng.random() < 0.2:
        words = [*(_draw(rng, ("rule", "carrier"), said) or []), *words]
    if rng.random() < 0.1:
        words = [*words, *(_draw(rng, ("rule", "tail"), said) or [])]
    return Phrase(group, " ".join(words))


def groups() -> tuple[str, ...]:
    """Names of all groups of patterns."""
    return tuple(_patterns().sentences)


def _draw(rng: Random, node: Node, said: dict[str, tuple[str, ...]]) -> list[str] | None:
    """Random words of a tree; None when it needs a name that the rig doesn't have."""
    kind, *parts = node
    if kind == "word":
        return [parts[0]]
    if kind == "rule":
        return _draw_rule(rng, parts[0], said)
    if kind == "maybe":
        return (_draw(rng, parts[0], said) or []) if rng.random() < 0.4 else []
    if kind == "any":
        return _draw(rng, rng.choice(parts), said)
    words: list[str] = []
    for part in parts:
        drawn = _draw(rng, part, said)
        if drawn is None:
            return None
        words += drawn
    return words


def _draw_rule(rng: Random, name: str, said: dict[str, tuple[str, ...]]) -> list[str] | None:
    patterns = _patterns()
    if name in patterns.rules:
        return _draw(rng, patterns.rules[name], said)
    if name in patterns.numbers:
        numbers = patterns.numbers[name]
        pool = numbers.common if rng.random() < 0.75 else numbers.values
        value = pool[int(len(pool) * rng.random() ** numbers.skew)]
        ways = wordings(value)
        return ways[min(int(rng.expovariate(1.0)), len(ways) - 1)].split()
    if name == "clock_time":
        return rng.choice(_clock_times()).split()
    if name == "digits":
        return [rng.choice(_DIGITS) for _ in range(4)]
    return rng.choice(said[name]).split() if said[name] else None
