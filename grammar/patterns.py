"""The notation for wording: words in a row; [x] may be left out; (a | b) either; <name> a rule, a slot or names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any, TypeAlias

Node: TypeAlias = tuple[Any, ...]
"""("word", w) · ("rule", name) · ("seq", nodes…) · ("any", nodes…) · ("maybe", node)."""

_SYMBOL = re.compile(r"<\w+>|[a-z0-9][a-z0-9'./%-]*|[\[\]()|]")


@cache
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
        raise ValueError(f"a term's wording names no rule, and this one names <{parts[0]}>")
