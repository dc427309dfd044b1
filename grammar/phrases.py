"""The word graph: everything that can be said, as a deterministic automaton of words.

Compiled from the frames' wording and the patterns of `phrases.toml`, and from the names that a rig and an incident
bring. The recognisers search it; `grammar.samples` draws sentences from the same patterns.

    graph = word_graph(Names(lines=("crosslay 1",), own_unit="engine 12"))
    graph.accepts("charge crosslay one")
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeAlias

from grammar.automaton import Automaton, Net, determinise, of_sentences
from grammar.frames import Frame, frames
from grammar.lexicon import LanguageError, by_language, lately, spoken_here
from grammar.patterns import Node, parse
from grammar.slots import Slot
from grammar.spoken import ONES, clock_wordings, spoken, wordings
from grammar.vocabulary import vocabulary


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
class Numbers:
    values: tuple[int, ...]
    common: tuple[int, ...]
    """The round ones."""
    skew: float
    typical: int
    """What the help says."""


Examples: TypeAlias = Mapping[str, Sequence[str]]
"""Examples by topic of the help."""


@dataclass(frozen=True, slots=True)
class Patterns:
    rules: dict[str, Node]
    numbers: dict[str, Numbers]
    sentences: dict[str, tuple[int, Node]]
    """Group -> (weight when sampling, tree)."""
    frames: tuple[tuple[Frame, Node], ...]
    """Frames that say how they are said, with the tree of it; a slot in it is a ("slot", field, slot)."""
    drawn: dict[str, Any]
    helped: dict[str, tuple[Examples, Examples]]
    """Group -> its examples for the help, and those where people speak in metric units."""


@by_language
def patterns() -> Patterns:
    data = spoken_here().table("phrases")
    numbers = {}
    for name, spec in data.get("numbers", {}).items():
        values = sorted({value for low, high, step in spec["ranges"] for value in range(low, high + 1, step)})
        common = tuple(value for value in values if value % spec["common"] == 0)
        typical = spec.get("typical", common[len(common) // 4])
        numbers[name] = Numbers(tuple(values), common, spec["skew"], typical)
    rules = {name: parse(pattern) for name, pattern in data.get("rules", {}).items()}
    sentences = {
        group: (spec.get("weight", 1), ("any", *map(parse, spec["patterns"])))
        for group, spec in data.get("sentences", {}).items()
    }
    said = tuple((frame, _frame_tree(frame)) for frame in frames() if frame.says)
    helped = {
        group: (spec.get("help", {}), spec.get("metric", {})) for group, spec in data.get("sentences", {}).items()
    }
    return Patterns(rules, numbers, sentences, said, data.get("drawn", {}), helped)


def _frame_tree(frame: Frame) -> Node:
    return ("any", *(_with_slots(parse(pattern), frame) for pattern in frame.says))


def _with_slots(node: Node, frame: Frame) -> Node:
    kind, *parts = node
    if kind == "rule" and parts[0] in frame.slots:
        return ("slot", parts[0], frame.slots[parts[0]])
    if kind in ("word", "rule"):
        return node
    return (kind, *(_with_slots(part, frame) for part in parts))


_RULES = {"unit": "unit", "time": "when", "place": "in_where"}
"""Kinds of slots that are said by a rule of their own."""


def slot_tree(slot: Slot) -> Node:
    """How a slot's values are said.

    Raises:
        LanguageError: wording names a slot whose values can't be drawn.
    """
    if slot.kind == "choice":
        return ("any", *(tree for terms in slot.choices.values() for tree in said_trees(terms[:1])))
    if slot.examples:
        return ("any", *(("seq", *(("word", word) for word in said.split())) for said in slot.examples))
    if slot.kind == "topic":
        return ("any", *(("word", topic.name) for topic in vocabulary().topics if " " not in topic.name))
    rule = slot.draw or _RULES.get(slot.kind)
    if rule is None:
        raise LanguageError(f"slot {slot.name} stands in wording and has no `draw`; name the numbers it is drawn from")
    return ("rule", rule)


def said_trees(terms: Iterable[str]) -> Iterator[Node]:
    """The spoken ways of saying any of the terms."""
    for way in dict.fromkeys(spoken(way) for term in terms for way in vocabulary().concepts[term]):
        if way and way.replace(" ", "").isalpha():
            yield ("seq", *(("word", word) for word in way.split()))


@by_language
def clock_times() -> tuple[str, ...]:
    return tuple(said for hour in range(24) for minute in range(60) for said in clock_wordings(hour, minute))


def names_said(names: Names) -> dict[str, tuple[str, ...]]:
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
        self._patterns = patterns()
        self._names = names_said(names)
        self._done: dict[str, Automaton | None] = {}

    def graph(self) -> Automaton:
        net = Net()
        start, body, after, end = (net.state() for _ in range(4))
        net.skip(start, body)
        net.skip(after, end)
        self._add(net, ("rule", "carrier"), start, body)
        self._add(net, ("rule", "tail"), after, end)
        for tree in (*(tree for _, tree in self._patterns.sentences.values()), *(t for _, t in self._patterns.frames)):
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
            return of_sentences([said.split() for said in clock_times()])
        if name == "digits":
            return self._compile(("seq", *[("any", *[("word", word) for word in DIGITS])] * 4))
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
        elif kind == "slot":
            self._add(net, slot_tree(parts[1]), start, end)
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


DIGITS = ("oh", *ONES)


@by_language
def _number(name: str) -> Automaton:
    return of_sentences([said.split() for value in patterns().numbers[name].values for said in wordings(value)])


@lately(8)
def word_graph(names: Names = Names()) -> WordGraph:
    """The graph for these names; built in about a second, the same content is built once."""
    automaton = _Compiler(names).graph()
    content = repr((automaton.arcs, automaton.final)).encode()
    return WordGraph(automaton, hashlib.sha256(content).hexdigest()[:16])


@by_language
def _closing_words() -> frozenset[str]:
    """What may stand at a sentence's end and says nothing."""
    return _Compiler(Names()).words_of("tail")


def every_word(names: Names = Names()) -> frozenset[str]:
    """All words that can be said with these names."""
    return word_graph(names).words
