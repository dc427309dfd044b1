"""A message in clauses: what stands between its pauses, with the facts in it, its unread words and its stance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from grammar.scribe.matching import MARKS, Found, words_of_care
from grammar.text import Token

Stance = Literal["said", "readied", "denied"]


@dataclass
class Clause:
    """What stands between two pauses: its tokens, the facts that begin in it, the words that none of them takes."""

    lo: int
    hi: int
    facts: list[Found]
    left: list[int]
    words: list[str]
    """All words of the message."""

    def has(self, *kinds: str) -> bool:
        return any(fact.kind in kinds for fact in self.facts)

    def of(self, *kinds: str) -> list[Found]:
        return [fact for fact in self.facts if fact.kind in kinds]

    @property
    def said(self) -> list[str]:
        return self.words[self.lo : self.hi]

    @property
    def unread(self) -> list[str]:
        """Words that say something more than what was understood."""
        plain = words_of_care().get("plain", frozenset())
        return [self.words[i] for i in self.left if self.words[i] not in plain]


def clauses(tokens: Sequence[Token], found: Sequence[Found]) -> list[Clause]:
    """The message parted at its pauses; a fact belongs to the clause it begins in, and holds that together."""
    words = [token.text for token in tokens]
    taken = {i for fact in found for i in range(fact.start, fact.end)}
    parts: list[Clause] = []
    lo = 0
    for i in range(len(words) + 1):
        if i < len(words) and (i in taken or not (words[i] in MARKS or words[i] == "then")):
            continue
        if i > lo:
            parts += _split_at_and(words, lo, i, found, taken)
            lo = i + 1
            continue
        lo = i + 1
    return parts


def _split_at_and(words: list[str], lo: int, hi: int, found: Sequence[Found], taken: set[int]) -> list[Clause]:
    """A clause in two at an "and" with nothing of a patient on one side of it: that side may tell something."""
    for i in range(lo + 1, hi - 1):
        if words[i] in ("and", "but") and i not in taken:
            before = any(lo <= fact.start < i for fact in found)
            behind = any(i < fact.start < hi for fact in found)
            if before != behind:
                return [_clause(words, lo, i, found, taken), _clause(words, i + 1, hi, found, taken)]
    return [_clause(words, lo, hi, found, taken)]


def _clause(words: list[str], lo: int, hi: int, found: Sequence[Found], taken: set[int]) -> Clause:
    inside = [fact for fact in found if lo <= fact.start < hi]
    return Clause(lo, hi, inside, [k for k in range(lo, hi) if k not in taken], words)


def stance(clause: Clause, at: int) -> Stance:
    """What the words of a clause make of the drug or procedure at token `at`."""
    care = words_of_care()
    before = [clause.words[i] for i in clause.left if i < at]
    said = [clause.words[i] for i in clause.left]
    if any(word in care["denials"] for word in before) or {"not", "never", "isnt", "wasnt"} & {*said}:
        return "denied"
    if clause.has("later") or any(said[k : k + 2] in (["going", "to"], ["about", "to"]) for k in range(len(said))):
        return "readied"
    first = next((word for word in said if word not in ("ok", "okay", "lets", "go", "ahead", "and", "please")), "")
    done = any(word in care["done"] for word in said)
    if any(word in care["readied"] for word in said) and not (done and not {"want", "if", "could", "should"} & {*said}):
        return "readied"
    if first in care["commands"] and clause.left and clause.left[0] < at:
        return "readied"
    return "said"


def denied(clause: Clause, fact: Found) -> bool:
    return any(clause.words[i] in words_of_care()["denials"] for i in clause.left if i < fact.start)
