"""Small finite automata of words: joined, made deterministic and minimal. All of them are acyclic.

An automaton is a list of arcs per state (word -> next state) and a list that says which states may end; state 0 is
the start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field


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
