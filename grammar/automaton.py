"""Small finite automata of words: joined, made deterministic and minimal, all of them acyclic; and large ones of parts.

An automaton is a list of arcs per state (word -> next state) and a list that says which states may end; state 0 is
the start. One that is `Composed` of parts is worked out state by state where it is walked.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Automaton:
    """Deterministic and minimal."""

    arcs: tuple[dict[str, int], ...]
    final: tuple[bool, ...]

    def accepts(self, words: Iterable[str]) -> bool:
        """Whether the words are a whole sentence of it."""
        state = 0
        for word in words:
            if word not in self.arcs[state]:
                return False
            state = self.arcs[state][word]
        return self.final[state]

    def words(self) -> frozenset[str]:
        """Every word on an arc."""
        return frozenset(word for arcs in self.arcs for word in arcs)


@dataclass(slots=True)
class Net:
    """A nondeterministic automaton being put together; parts are added between two states."""

    arcs: list[list[tuple[str, int]]] = field(default_factory=list)
    empty: list[list[int]] = field(default_factory=list)

    def state(self) -> int:
        """A new state."""
        self.arcs.append([])
        self.empty.append([])
        return len(self.arcs) - 1

    def word(self, start: int, word: str, end: int) -> None:
        """An arc that takes one word."""
        self.arcs[start].append((word, end))

    def skip(self, start: int, end: int) -> None:
        """An arc that takes nothing."""
        self.empty[start].append(end)

    def embed(self, part: Automaton, start: int, end: int) -> None:
        """A copy of a finished automaton between two states."""
        copies = [self.state() for _ in part.arcs]
        self.skip(start, copies[0])
        for state, arcs in enumerate(part.arcs):
            self.arcs[copies[state]] = [(word, copies[to]) for word, to in arcs.items()]
            if part.final[state]:
                self.skip(copies[state], end)


def determinise(net: Net, start: int, end: int) -> Automaton:
    """Subset construction, then merging of equal states."""
    closures: dict[int, frozenset[int]] = {}

    def closure(state: int) -> frozenset[int]:
        found = closures.get(state)
        if found is None:
            reached, todo = {state}, [state]
            while todo:
                for other in net.empty[todo.pop()]:
                    if other not in reached:
                        reached.add(other)
                        todo.append(other)
            # States without words matter only when they are the end.
            found = closures[state] = frozenset(s for s in reached if net.arcs[s] or s == end)
        return found

    first = closure(start)
    index = {first: 0}
    subsets = [first]
    arcs: list[dict[str, int]] = []
    for subset in subsets:  # grows while it is walked
        targets: dict[str, set[int]] = {}
        for state in subset:
            for word, to in net.arcs[state]:
                targets.setdefault(word, set()).add(to)
        row: dict[str, int] = {}
        for word, states in targets.items():
            key = closure(next(iter(states))) if len(states) == 1 else frozenset().union(*map(closure, states))
            if key not in index:
                index[key] = len(subsets)
                subsets.append(key)
            row[word] = index[key]
        arcs.append(row)
    return _minimal(arcs, [end in subset for subset in subsets])


def _minimal(arcs: Sequence[dict[str, int]], final: Sequence[bool]) -> Automaton:
    """Merge states with the same future. Acyclic, so one pass from the ends is enough."""
    same: dict[tuple[bool, frozenset[tuple[str, int]]], int] = {}
    kept_arcs: list[dict[str, int]] = []
    kept_final: list[bool] = []
    place: dict[int, int] = {}
    for state in _ends_first(arcs):
        row = {word: place[to] for word, to in arcs[state].items() if to in place}
        if not row and not final[state] and state != 0:
            continue  # leads nowhere: a rule whose names this rig doesn't have
        key = (final[state], frozenset(row.items()))
        if key not in same:
            same[key] = len(kept_arcs)
            kept_arcs.append(row)
            kept_final.append(final[state])
        place[state] = same[key]
    last = len(kept_arcs) - 1  # the start was finished last: turn the order round so that it is state 0
    turned = tuple({word: last - to for word, to in row.items()} for row in reversed(kept_arcs))
    return Automaton(turned, tuple(reversed(kept_final)))


def _ends_first(arcs: Sequence[dict[str, int]]) -> list[int]:
    order: list[int] = []
    seen = {0}
    stack = [(0, iter(arcs[0].values()))]
    while stack:
        state, rest = stack[-1]
        for to in rest:
            if to not in seen:
                seen.add(to)
                stack.append((to, iter(arcs[to].values())))
                break
        else:
            order.append(state)
            stack.pop()
    return order


def of_sentences(sentences: Iterable[Sequence[str]]) -> Automaton:
    """The automaton of a list of word sequences."""
    arcs: list[dict[str, int]] = [{}]
    final = [False]
    for words in sentences:
        state = 0
        for word in words:
            if word not in arcs[state]:
                arcs[state][word] = len(arcs)
                arcs.append({})
                final.append(False)
            state = arcs[state][word]
        final[state] = True
    return _minimal(arcs, final)


# ---------------------------------------------------------------------------------------------------- composed of parts

Arcs: TypeAlias = list[dict[str, list[int]]]
"""Of each state, where a word or a part ("<unit>") leads."""
_Place: TypeAlias = tuple[str, int, int]
"""Inside a part, where it leads and its own state; "" and a state between the parts."""
_ROWS = 512
"""Rows of arcs that are kept: another is worked out again when it is walked again."""


class Composed:
    """A deterministic automaton whose words stand in arcs or in parts, worked out state by state where it is walked.

    Safe to share between threads.
    """

    def __init__(self, arcs: Arcs, final: Sequence[bool], parts: Mapping[str, Automaton]) -> None:
        ways = _alive([[(word, to) for word, ends in row.items() for to in ends] for row in arcs], final, parts)
        self._said = [[(word, to) for word, to in row if word not in parts] for row in ways]
        self._parts_at = [[(name, to, 0) for name, to in row if name in parts] for row in ways]
        self._ends, self._parts = final, parts
        self._numbers: dict[frozenset[_Place], int] = {}
        self._states: list[frozenset[_Place]] = []
        self._rows: OrderedDict[int, dict[str, int]] = OrderedDict()
        self._lock = Lock()
        self._number(frozenset(self._at(0)))

    def __getitem__(self, state: int) -> dict[str, int]:
        """Words that go on from a state, and where to."""
        with self._lock:
            row = self._rows.get(state)
            if row is None:
                row = self._rows[state] = self._row(state)
            self._rows.move_to_end(state)
            while len(self._rows) > _ROWS:
                self._rows.popitem(last=False)
            return row

    @property
    def arcs(self) -> Composed:
        """As an automaton's."""
        return self

    @property
    def final(self) -> Ends:
        """As an automaton's."""
        return Ends(self)

    def may_end(self, state: int) -> bool:
        """Whether a sentence may end in a state that was reached."""
        return any(not part and self._ends[at] for part, at, _ in self._states[state])

    def words(self) -> frozenset[str]:
        """Every word that can be said."""
        literal = frozenset(word for row in self._said for word, _ in row)
        return literal.union(*(part.words() for part in self._parts.values()))

    def _number(self, places: frozenset[_Place]) -> int:
        if places not in self._numbers:
            self._numbers[places] = len(self._states)
            self._states.append(places)
        return self._numbers[places]

    def _at(self, state: int) -> Iterator[_Place]:
        """A state, and the parts that begin in it."""
        yield "", state, 0
        yield from self._parts_at[state]

    def _row(self, state: int) -> dict[str, int]:
        found: dict[str, set[_Place]] = {}
        for name, at, inner in self._states[state]:
            if not name:
                for word, to in self._said[at]:
                    found.setdefault(word, set()).update(self._at(to))
                continue
            part = self._parts[name]
            for word, after in part.arcs[inner].items():
                if part.arcs[after]:
                    found.setdefault(word, set()).add((name, at, after))
                if part.final[after]:
                    found.setdefault(word, set()).update(self._at(at))
        return {word: self._number(frozenset(places)) for word, places in found.items()}


def _alive(
    ways: list[list[tuple[str, int]]], final: Sequence[bool], parts: Mapping[str, Automaton]
) -> list[list[tuple[str, int]]]:
    """The ways on without parts that have no words, and without those that lead nowhere."""
    ways = [[(word, to) for word, to in row if word not in parts or parts[word].arcs[0]] for row in ways]
    while True:
        ends = [done or bool(row) for done, row in zip(final, ways, strict=True)]
        kept = [[(word, to) for word, to in row if ends[to]] for row in ways]
        if kept == ways:
            return kept
        ways = kept


class Ends:
    """Whether a sentence may end in each state."""

    __slots__ = ("_of",)

    def __init__(self, of: Composed) -> None:
        self._of = of

    def __getitem__(self, state: int) -> bool:
        return self._of.may_end(state)
