"""What stands around a wording that must never be missed, and whether it makes something else of it.

For trouble of a crew's own (trouble.toml) and orders to get out (orders_out.toml): each file's [around] says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from grammar.patterns import expression

MARK = re.compile(r" [.,;:!?\n] ")
_NEAR = 3
"""Words right before it in which a "no" denies it."""


class Near(NamedTuple):
    """A wording in a message: its words, those before and behind it in its clause, and the mark behind them."""

    words: str
    before: list[str]
    said: str
    after: str
    mark: str
    called: list[str]
    """The clause before this one, where nothing of this one stands before the wording."""

    @property
    def clause(self) -> str:
        """What stands before it, as words."""
        return " ".join(self.before)


def near(words: str, start: int, end: int) -> Near:
    """Of words as `text.spaced` gives them, what stands around start..end."""
    marks = [0, *(m.end() - 1 for m in MARK.finditer(words, 0, start + 1))]
    closing = MARK.search(words, end - 1)
    before = words[marks[-1] : start].split()
    called = words[marks[-2] : marks[-1] - 1].split() if len(marks) > 1 and not before else []
    after = words[end : closing.start() + 1 if closing else len(words)].strip()
    return Near(words, before, words[start:end], after, closing.group().strip() if closing else "", called)


def something_else(found: Near, around: Mapping[str, Sequence[str]]) -> bool:
    """Other people's work, denied, a condition or a plan, or what follows says so."""
    return (
        any(f" {one} " in found.words for one in around["elsewhere"])
        or any(word in found.before[-_NEAR:] for word in around["not_before"])
        or any(f" {one} " in f" {found.clause} " for one in around["clause"])
        or begins(found.after, around["after"])
    )


def begins(words: str, wordings: Sequence[str]) -> bool:
    """One of the wordings stands at the beginning."""
    return any(re.match(rf"{expression(one, {})}(?: |$)", words) for one in wordings)


def ends(words: str, phrases: Sequence[str]) -> bool:
    """One of the phrases stands at the end."""
    return any(f" {words}".endswith(f" {one}") for one in phrases)
