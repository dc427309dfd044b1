"""The notation for wording: words in a row; [x] may be left out; (a | b) either; <name> a rule, a slot or a list.

`_` is any word, `~` up to three of them, none of which denies, `_*` up to seven with pauses between, `#` a number in
digits, `####` a year; these only in wordings that are searched for. Contractions stand whole ("can not", "is not"), as
`grammar.text.tokens` gives them.

The word graph, the drawn sentences, the ways of a term (`wordings`) and what is searched for anywhere in a message
(`search`) are all written in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, TypeAlias

Node: TypeAlias = tuple[Any, ...]
"""("word", w) · ("rule", name) · ("gap", mark) · ("seq", nodes…) · ("any", nodes…) · ("maybe", node)."""
Lists: TypeAlias = Mapping[str, Sequence[str]]
"""Wordings by the name that stands for any of them."""

_SYMBOL = re.compile(r"<\w+>|[a-zà-ÿ0-9][a-zà-ÿ0-9'./%-]*|[\[\]()|]|_\*|####|[_~#,/%:&]")


@lru_cache(512)
def parse(pattern: str) -> Node:
    """A pattern as a tree.

    Raises:
        ValueError: brackets that don't match, or a character that isn't part of the notation.
    """
    symbols = _SYMBOL.findall(pattern)
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
        elif symbol in _GAPS:
            sequence.append(("gap", symbol))
        else:
            sequence.append(("rule", symbol[1:-1]) if symbol[0] == "<" else ("word", symbol))
    branches.append(("seq", *sequence))
    return (branches[0] if len(branches) == 1 else ("any", *branches)), at


def wordings(pattern: str) -> Iterator[str]:
    """Every wording of a pattern without rules: "(start | begin) [the] cpr" has four."""
    if not set(pattern) & set("[(|"):
        yield pattern
        return
    yield from dict.fromkeys(" ".join(words) for words in _every(parse(pattern)) if words)


def _every(node: Node) -> Iterator[tuple[str, ...]]:
    kind, *parts = node
    if kind == "word":
        yield (parts[0],)
    elif kind == "maybe":
        yield ()
        yield from _every(parts[0])
    elif kind == "any":
        for part in parts:
            yield from _every(part)
    elif kind == "seq" and parts:
        for head in _every(parts[0]):
            for tail in _every(("seq", *parts[1:])):
                yield (*head, *tail)
    elif kind == "seq":
        yield ()
    else:
        raise ValueError(f"a term's wording is words alone, and in this one stands {parts[0]!r}")


# ------------------------------------------------------------------------------------------------------------ searching

_WORD = r"[^ .,;:!?]+"
_NO_DENIAL = rf"(?!(?:not|no|never|nobody) ){_WORD}"
_GAPS = {
    "_": _WORD,
    "#": r"\d+",
    "####": r"(?:19|20)\d\d",
    "~": rf"(?:{_NO_DENIAL}(?: {_NO_DENIAL}){{0,2}})",
    "_*": r"(?:[^ .;!?]+(?: [^ .;!?]+){0,6})",
}
_MAYBE_GAPS = frozenset(("~", "_*"))


class Search:
    """Wordings that are searched for in `grammar.text.spaced` words; tried only where a first word of theirs stands."""

    __slots__ = ("_first", "_parts")

    def __init__(self, parts: Sequence[tuple[frozenset[str], re.Pattern[str]]]) -> None:
        self._parts = parts
        self._first = frozenset().union(*(first for first, _ in parts))

    def search(self, words: str) -> re.Match[str] | None:
        """The first of them that stands there."""
        return next(self.finditer(words), None)

    def match(self, words: str, at: int) -> re.Match[str] | None:
        """One of them that stands at this place."""
        return self._at(words, at, words[at : words.find(" ", at)])

    def finditer(self, words: str) -> Iterator[re.Match[str]]:
        """Each that stands there, one behind the other."""
        said = words.split(" ")
        if _ANY not in self._first and self._first.isdisjoint(said):
            return
        at = past = 0
        for word in said:
            if at >= past and word and (match := self._at(words, at, word)) is not None:
                yield match
                past = match.end()
            at += len(word) + 1

    def _at(self, words: str, at: int, word: str) -> re.Match[str] | None:
        for first, pattern in self._parts:
            if (word in first or _ANY in first) and (match := pattern.match(words, at)) is not None:
                return match
        return None

    def sub(self, plain: str, words: str) -> str:
        """The words with each of them replaced."""
        out, at = "", 0
        for match in self.finditer(words):
            out, at = out + words[at : match.start()] + plain, match.end()
        return out + words[at:]


_LONG = 4000
"""Characters of an expression from which on another is begun."""


def search(wordings: Sequence[str], lists: Lists) -> Search:
    """The wordings, to be searched in `grammar.text.spaced` words."""
    written = _Written(lists)
    parts: list[tuple[frozenset[str], re.Pattern[str]]] = []
    some: list[str] = []
    first: set[str] = set()
    for wording in wordings:
        tree = parse(wording)
        some.append(written.expression(tree))
        first |= written.first_words(tree)[0]
        if sum(map(len, some)) > _LONG or wording is wordings[-1]:
            parts.append((frozenset(first), re.compile(f"(?<= )(?:{'|'.join(some)})(?= )")))
            some, first = [], set()
    return Search(parts)


def expression(pattern: str, lists: Lists) -> str:
    """A pattern as a regular expression over words with one space between them."""
    return _Written(lists).expression(parse(pattern))


_ANY = "*"
"""Stands for every word."""


class _Written:
    """Patterns as regular expressions; each list is written once."""

    def __init__(self, lists: Lists) -> None:
        self._lists = lists
        self._expressions: dict[str, str] = {}
        self._first: dict[str, tuple[set[str], bool]] = {}

    def expression(self, node: Node) -> str:
        kind, *parts = node
        match kind:
            case "word":
                return re.escape(str(parts[0]))
            case "gap":
                return _GAPS[str(parts[0])]
            case "rule":
                name = parts[0]
                if name not in self._expressions:
                    self._expressions[name] = self.expression(("any", *map(parse, self._lists[name])))
                return f"(?:{self._expressions[name]})"
            case "any":
                return "|".join(map(self.expression, parts))
            case _:
                return self._joined(parts)

    def _joined(self, nodes: Sequence[Node]) -> str:
        """Pieces with a space between them; one that may be left out takes its space with it."""
        out, begun = "", False
        for node in nodes:
            optional = node[0] == "maybe" or (node[0] == "gap" and node[1] in _MAYBE_GAPS)
            inner = self.expression(node[1] if node[0] == "maybe" else node)
            one = f"(?:{inner})" if node[0] in ("maybe", "any", "seq") else inner
            if optional:
                out += f"(?: {one})?" if begun else f"(?:{one} )?"
            else:
                out += f" {one}" if begun else one
                begun = True
        return out

    def first_words(self, node: Node) -> tuple[set[str], bool]:
        """The words that a wording can begin with, and whether it can be empty."""
        kind, *parts = node
        match kind:
            case "word":
                return {parts[0]}, False
            case "gap":
                return {_ANY}, parts[0] in _MAYBE_GAPS
            case "maybe":
                return self.first_words(parts[0])[0], True
            case "rule":
                name = parts[0]
                if name not in self._first:
                    self._first[name] = self.first_words(("any", *map(parse, self._lists[name])))
                return self._first[name]
            case "any":
                each = [self.first_words(part) for part in parts]
                return {word for words, _ in each for word in words}, any(empty for _, empty in each)
        found: set[str] = set()
        for part in parts:
            words, empty = self.first_words(part)
            found |= words
            if not empty:
                return found, False
        return found, True
