"""Puts misspelt words right: known words a slip away, drawn-out ones, words run together."""

from __future__ import annotations

import re

from rapidfuzz.distance import OSA
from rapidfuzz.process import extract

from grammar.lexicon import by_language, lately
from grammar.numbers import number_words
from grammar.vocabulary import Names, Vocabulary, vocabulary, word_list

Option = tuple[tuple[str, ...], float]
"""Words that one may have been meant as, and what that costs."""


def _another_number(word: str, target: str, distance: int) -> bool:
    """Another number word is nearly as near."""
    others = (
        w for w in number_words().words if w != target and len(w) > 2 and w.isalpha() and not w.startswith(target[:4])
    )
    return any(OSA.distance(word, other, score_cutoff=distance + 1) <= distance + 1 for other in others)


def single(word: str, terms: Vocabulary, known: Names) -> str | None:
    """A word that is drawn out: "nooo", "maaayday"."""
    short = re.sub(r"(.)\1{2,}", r"\1", word)
    return short if short != word and len(short) > 1 and (short in terms.spoken or short in known.words) else None


def _run_together(word: str, names: frozenset[str]) -> Option | None:
    """Words that were run together: "onthe", "wateronthefire"; at most four."""
    if len(word) < 5:
        return None
    terms = vocabulary()
    best: list[tuple[str, ...] | None] = [()] + [None] * len(word)
    for end in range(1, len(word) + 1):
        for start in range(max(0, end - 14), end):
            head = best[start]
            piece = word[start:end]
            if (
                head is None
                or piece in word_list("spelling_hesitations")
                or len(head) > 3
                or (len(piece) < 2 and piece != "a")
                or not (piece in terms.spoken or piece in names)
            ):
                continue
            if best[end] is None or len(head) + 1 < len(best[end] or ()):
                best[end] = (*head, piece)
    pieces = best[len(word)]
    if pieces is None or len(pieces) < 2 or max(len(p) for p in pieces) < 3:
        return None
    short = sum(len(p) < 3 and p not in terms.skip | word_list("spelling_between") for p in pieces)
    return pieces, 0.1 + 0.02 * len(pieces) + 0.3 * short


_UNSURE = 0.1
"""What it costs more when several words are as near to a misspelt one."""


@by_language
def _short() -> tuple[str, ...]:
    """What an unknown word of three letters may have been."""
    return tuple(sorted(word_list("spelling_short")))


@by_language
def _targets() -> frozenset[str]:
    return frozenset(vocabulary().targets)


@lately(2048)
def corrections(word: str, names: frozenset[str]) -> tuple[Option, ...]:
    """Known words that an unknown one may be a misspelling of, or two that were run together."""
    if len(word) < 3 or len(word) > 24:
        return ()
    terms = vocabulary()
    found: list[Option] = []
    most = 1 if len(word) < 6 else 2
    pool = (*terms.targets, *(n for n in names if len(n) > 3 and n not in _targets())) if names else terms.targets
    if len(word) == 3:
        pool = _short()
    short = word if len(word) < 6 else ""
    for target, distance, _ in extract(word, pool, scorer=OSA.distance, score_cutoff=most, limit=12):
        cost = 0.09 if distance == 1 else 0.36 if len(word) < 9 else 0.26
        if target[0] != word[0]:
            cost += 0.12
        if len(target) < 5:
            cost += 0.06
        if short and target in number_words().words and _another_number(word, target, distance):
            cost += 0.3  # "fity": fifty, or forty?
        if (len(word) == 3 and target in number_words().words) or target in word_list("spelling_several"):
            cost += 0.25
        found.append(((target,), cost))
    joined = _run_together(word, names)
    if joined is not None:
        found.append(joined)
    found.sort(key=lambda f: f[1])
    if found:
        near = sum(cost <= found[0][1] + 0.03 for _, cost in found)
        found = [f for f in found if f[1] <= found[0][1] + 0.13][:3]
        if near > 1:
            found = [(words, cost + _UNSURE) for words, cost in found]
    return tuple(found)
