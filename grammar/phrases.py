"""The word graph: everything that can be said, as a deterministic automaton of words.

Composed of the ways of the wording bank (their slots as `phrases.toml` says them, their terms in every wording that
means as much), of what is told in any order ([told]), of the frames' wording and the patterns of `phrases.toml`, and of
the names that a rig and an incident bring. The recognisers search it; `grammar.samples` draws sentences of frames and
patterns.

    graph = word_graph(Names(lines=("crosslay 1",), own_unit="engine 12"))
    graph.accepts("charge crosslay one")
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeAlias

from grammar.automaton import Arcs, Automaton, Composed, Ends, Net, determinise, of_sentences
from grammar.bank import Way, bank, in_pieces
from grammar.frames import Frame, frames
from grammar.lexicon import LanguageError, by_language, lately, spoken_here
from grammar.numbers import number_words
from grammar.patterns import Node, parse
from grammar.slots import Slot
from grammar.sounds import has_sounds
from grammar.spoken import ONES, clock_wordings, say, spoken, wordings
from grammar.text import tokens
from grammar.vocabulary import END, Tree, matches, vocabulary, word_list


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

    automaton: Automaton | Composed = field(compare=False)
    digest: str
    patterns: Automaton = field(default=Automaton(({},), (False,)), compare=False)
    """The sentences of the frames and the patterns alone."""

    @property
    def arcs(self) -> tuple[dict[str, int], ...] | Composed:
        """Words that go on from each state, and where to; 0 is the start."""
        return self.automaton.arcs

    @cached_property
    def final(self) -> tuple[bool, ...] | Ends:
        """Whether a sentence may end in each state."""
        return self.automaton.final

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word that occurs."""
        return self.automaton.words()

    def accepts(self, sentence: str) -> bool:
        """Whether these space-separated words are a whole sentence."""
        state = 0
        for word in sentence.split():
            row = self.arcs[state]
            if word not in row:
                return False
            state = row[word]
        return self.final[state]

    def goes_on(self, sentence: str) -> bool:
        """Whether more than a closing word ("please", "over") can follow these words, or no pattern has them."""
        state, said = 0, sentence.split()
        while said and said[-1] in _closing_words():
            said.pop()
        for word in said:
            if word not in self.patterns.arcs[state]:
                return True
            state = self.patterns.arcs[state][word]
        return not self.patterns.final[state] or bool(self.patterns.arcs[state])


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
    slots: dict[str, Node]
    """Slot of the bank -> how its values are said."""
    told: dict[str, dict[str, Node]]
    """What is told in any order: its pieces by name."""


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
    slots = {name: parse(pattern) for name, pattern in data.get("slots", {}).items()}
    told = {
        name: {f"<{name} {n}>": parse(pattern) for n, pattern in enumerate(pieces)}
        for name, pieces in data.get("told", {}).items()
    }
    return Patterns(rules, numbers, sentences, said, data.get("drawn", {}), helped, slots, told)


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
        "rig_family": tuple(way for line in names.lines for way in _family(line)),
    }
    return {rule: tuple(dict.fromkeys(filter(None, map(spoken, said)))) for rule, said in lists.items()}


def _family(line: str) -> Iterator[str]:
    """ "Crosslay", "crosslays" of a line that has a number."""
    *stem, last = spoken(line).split() or [""]
    if stem and last in number_words().words:
        yield from (" ".join(stem), " ".join(stem) + "s")


# ---------------------------------------------------------------------------------------------------------- compilation


class _Compiler:
    """Compiles rules to minimal automata, each once."""

    def __init__(self, names: Names) -> None:
        self._patterns = patterns()
        self._names = names_said(names)
        self._done: dict[str, Automaton | None] = {}

    def graph(self) -> WordGraph:
        """The graph of all that can be said."""
        trees = (*(tree for _, tree in self._patterns.sentences.values()), *(t for _, t in self._patterns.frames))
        parts = {"<said>": self._compile(("any", *trees)), **_terms_said()}
        parts |= {f"<{name}>": self._compile(tree) for name, tree in self._patterns.slots.items()}
        for pieces in self._patterns.told.values():
            parts |= {name: self._compile(tree) for name, tree in pieces.items()}
        parts |= {f"<{rule}>": self._compile(("rule", rule)) for rule in ("carrier", "tail")}
        arcs, final = self._top()
        content = repr((arcs, sorted((name, part.arcs, part.final) for name, part in parts.items()))).encode()
        return WordGraph(Composed(arcs, final, parts), hashlib.sha256(content).hexdigest()[:16], parts["<said>"])

    def _top(self) -> tuple[Arcs, list[bool]]:
        """The start, what follows a carrier, the sentence's end, and all bodies between, of words and parts."""
        arcs: Arcs = [{"<carrier>": [1]}, {}, {"<tail>": [3]}, {}]
        final = [False, False, True, True]
        for body in (_ways_said(), *self._told()):
            first = len(arcs)
            for state, row in enumerate(body.arcs):
                arcs.append({})
                final.append(body.final[state])
                for word, to in row.items():
                    arcs[-1].setdefault(word, []).append(first + to)
                if body.final[state]:
                    arcs[-1].setdefault("<tail>", []).append(3)
            for word, ends in arcs[first].items():
                for start in (0, 1):
                    arcs[start].setdefault(word, []).extend(ends)
        for start in (0, 1):
            arcs[start]["<said>"] = [2]
        return arcs, final

    def _told(self) -> Iterator[Automaton]:
        """Two pieces or more, in any order."""
        for pieces in self._patterns.told.values():
            yield Automaton((dict.fromkeys(pieces, 1), *(dict.fromkeys(pieces, 2),) * 2), (False, False, True))

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
        if name not in self._names:
            return of_sentences(
                _ways_of((word_list(name) or {name}) - word_list("graph_of_the_rig") - word_list("graph_as_said"))
            )
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


@by_language
def _ways_said() -> Automaton:
    """The bank's ways as they are spoken: words, slots and terms."""
    said = (_spoken_way(way) for way in bank() if not way.held_out and not _is_talk(way))
    return of_sentences(sorted({symbols for symbols in said if symbols}))


def _is_talk(way: Way) -> bool:
    """Of what is said among people, and nothing is to be done."""
    return way.means is None and way.context == "group"


def _spoken_way(way: Way) -> tuple[str, ...]:
    """A way as words and parts; empty where it isn't said so, but typed."""
    out: list[str] = []
    for kind, piece in in_pieces(way):
        if kind == "slot" and piece not in patterns().slots:
            return ()
        symbols = _spoken_words(piece) if kind == "said" else (f"<{piece}>",)
        if symbols is None:
            return ()
        out += symbols
    return tuple(out)


def _spoken_words(text: str) -> tuple[str, ...] | None:
    """Words and terms of a stretch of wording; None where it can't be spoken."""
    words: list[str] = []
    for token in tokens(text.replace("-", " ")):
        if token.text.isalpha():
            words.append(token.text)
        elif token.text.isdigit() and len(token.text) < 5:
            words += say(int(token.text)).split()
        elif token.text not in _PAUSES:
            return None
    known, out, i = vocabulary(), [], 0
    while i < len(words):
        found = matches(known.tree, words, i, known.skip) if words[i] not in number_words().words else []
        end, concepts = found[-1] if found else (i + 1, ())
        meant = frozenset(concepts) - {"skip", "free"}
        if not meant.isdisjoint(word_list("graph_of_the_rig")):
            out.append("<family>")
        elif meant and meant.isdisjoint(word_list("graph_as_said")):
            out.append(_part_of(meant))
        else:
            out += words[i:end]
        i = end
    return tuple(out)


_PAUSES = frozenset(",.;:!?\n")


def _part_of(concepts: frozenset[str]) -> str:
    return f"<{' '.join(sorted(concepts))}>"


@by_language
def _terms_said() -> dict[str, Automaton]:
    """Parts of the ways that are terms: whatever is read as at least the same concepts."""
    parts = {word for row in _ways_said().arcs for word in row if word[0] == "<"}
    wanted = parts - {f"<{slot}>" for slot in patterns().slots}
    by_concepts: dict[frozenset[str], list[tuple[str, ...]]] = {}
    for words, concepts in _phrases(vocabulary().tree, ()):
        by_concepts.setdefault(frozenset(concepts), []).append(words)
    said: dict[str, Automaton] = {}
    for part in wanted:
        meant = frozenset(part[1:-1].split())
        said[part] = of_sentences([words for found, ways in by_concepts.items() if found >= meant for words in ways])
    return said


def _ways_of(terms: Iterable[str]) -> list[tuple[str, ...]]:
    """The spoken ways of terms; none that is one word which sounds like a number: in any order it is that number."""
    said = _phrases(vocabulary().tree, ())
    ways = (words for words, concepts in said if not frozenset(concepts).isdisjoint(terms))
    return [words for words in ways if len(words) > 1 or not has_sounds(words[0])]


def _phrases(tree: Tree, before: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Every phrase of the vocabulary that can be spoken, with its concepts."""
    for word, below in tree.items():
        if word == END:
            yield before, below
        elif word.isalpha():
            yield from _phrases(below, (*before, word))


DIGITS = ("oh", *ONES)


@by_language
def _number(name: str) -> Automaton:
    return of_sentences([said.split() for value in patterns().numbers[name].values for said in wordings(value)])


@lately(8)
def word_graph(names: Names = Names()) -> WordGraph:
    """The graph for these names; built in about a second, the same content is built once."""
    return _Compiler(names).graph()


@by_language
def _closing_words() -> frozenset[str]:
    """What may stand at a sentence's end and says nothing."""
    return _Compiler(Names()).words_of("tail")


def every_word(names: Names = Names()) -> frozenset[str]:
    """All words that can be said with these names."""
    return word_graph(names).words
