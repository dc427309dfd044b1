"""Takes the words of a message for what they were meant to be: misspelt, misheard or run together.

Several takes may compete.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from rapidfuzz.distance import OSA

from grammar.items import Item
from grammar.lexicon import lately
from grammar.misspelling import Option, corrections, single
from grammar.sounds import STOP, Neighbours, has_sounds, number_list, sounds
from grammar.text import Token
from grammar.vocabulary import Names, Vocabulary, vocabulary, word_list

Words: TypeAlias = tuple[str, ...]

_RIVAL_SPELLING = 0.35


class Spelling:
    """One way to take the words of a message: the words and what each correction costs."""

    __slots__ = ("costs", "cuts", "glued", "words")

    def __init__(self, words: tuple[str, ...], costs: tuple[float, ...], glued: tuple[bool, ...]) -> None:
        self.words = words
        self.costs = costs
        self.glued = glued
        self.cuts: tuple[tuple[float, tuple[Item, ...]], ...] | None = None
        """How it is cut into items, once that was worked out."""


def spellings(found: Sequence[Token], known: Names, confusions: bool) -> list[Spelling]:
    """The likely word lists, cheapest first (at most 6).

    `confusions`: also swap words that recognisers take for each other.
    """
    return list(_spellings(tuple(found), known, confusions))


@lately(256)
def _spellings(found: tuple[Token, ...], known: Names, confusions: bool) -> tuple[Spelling, ...]:
    """A message's words are looked at by several readers, one after the other."""
    terms = vocabulary()
    swapped = _slang(found, known)
    options = [_options(i, swapped, known, terms, confusions) for i in range(len(swapped))]
    combos: list[tuple[float, list[Option]]] = [(0.0, [])]
    for choice in options:
        if len(choice) == 1:
            combos = [(cost + choice[0][1], [*picked, choice[0]]) for cost, picked in combos]
            continue
        combos = sorted(
            ((cost + extra, [*picked, (words, extra)]) for cost, picked in combos for words, extra in choice),
            key=lambda c: c[0],
        )[:6]
    out: dict[tuple[str, ...], Spelling] = {}
    for total, picked in combos:
        if total > combos[0][0] + _RIVAL_SPELLING:
            break
        words: list[str] = []
        costs: list[float] = []
        glued: list[bool] = []
        for (pieces, extra), token in zip(picked, swapped, strict=True):
            for k, piece in enumerate(pieces):
                words.append(piece)
                costs.append(extra / len(pieces))
                glued.append(token.glued and k == 0)
        out.setdefault(tuple(words), Spelling(tuple(words), tuple(costs), tuple(glued)))
    return tuple(out.values())


_DROPPED = 0.01
"""What a dropped g costs: "flowin"."""


@lately(64)
def _swaps(slang: tuple[tuple[Words, Words], ...]) -> Mapping[str, tuple[tuple[Words, Words], ...]]:
    """What is replaced by what, by its first word."""
    swaps: dict[str, tuple[tuple[Words, Words], ...]] = {}
    for said, means in (*slang, *vocabulary().misheard):
        swaps[said[0]] = (*swaps.get(said[0], ()), (said, means))
    return swaps


def _slang(found: Sequence[Token], known: Names) -> list[Token]:
    """The department's own words, and what recognisers write for the trade's, replaced by what they mean."""
    swaps = _swaps(known.slang)
    out: list[Token] = []
    i = 0
    while i < len(found):
        for said, means in swaps.get(found[i].text, ()):
            if tuple(t.text for t in found[i : i + len(said)]) == said:
                first, last = found[i], found[i + len(said) - 1]
                out.extend(Token(w, first.start, last.end, False) for w in means)
                i += len(said)
                break
        else:
            out.append(found[i])
            i += 1
    return out


def _options(i: int, found: Sequence[Token], known: Names, terms: Vocabulary, confusions: bool) -> list[Option]:
    word = found[i].text
    as_is: Option = ((word,), 0.0)
    if not word.isalpha():
        return [as_is]
    familiar = word in terms.words or word in known.words
    sounds = _homophones(i, found)
    if sounds:
        return sounds
    if familiar:
        if confusions and word in terms.confusions:
            return [as_is, *(((meant,), 0.3) for meant in terms.confusions[word])]
        return [as_is]
    if word in terms.confusions:
        return [*(((meant,), 0.08) for meant in terms.confusions[word]), (as_is[0], 0.5)]
    if word.endswith("in") and f"{word}g" in terms.words:
        return [((f"{word}g",), _DROPPED)]
    fixes: Sequence[Option] = corrections(word, known.words)
    if i and _likely(found[i - 1].text) in word_list("spelling_called") | word_list("spelling_tens"):
        fixes = _number_first(word, fixes)
    fixes = [option for fix in fixes for option in _and_sounds(i, found, fix)]
    drawn_out = single(word, terms, known)
    if drawn_out is not None:
        fixes = [((drawn_out,), 0.08), *fixes]
    itself = 0.0 if not fixes or _is_name(i, found) else 0.2 if len(word) < 4 else 0.6
    return [*fixes, (as_is[0], itself)]


_NAMED = word_list("benchmarks_roads") | {"command", "ic"}


def _is_name(i: int, found: Sequence[Token]) -> bool:
    """ "Kiln Street": what stands before a road's word, or before one that command goes by, may be a name."""
    return i + 1 < len(found) and found[i + 1].text in _NAMED


def _number_first(word: str, fixes: Sequence[Option]) -> list[Option]:
    """ "Engine nime", "seventy fice": a number belongs there, and nothing else is as likely."""
    numbers = [w for w in number_list() if len(w) == len(word) and len(w) > 3 and OSA.distance(w, word) == 1]
    if not numbers:
        return list(fixes)
    cost = 0.09 if len(numbers) == 1 else 0.25
    rest = [(words, max(extra, 0.4)) for words, extra in fixes if words[0] not in numbers]
    return [*(((number,), cost) for number in numbers), *rest]


def _and_sounds(i: int, found: Sequence[Token], fix: Option) -> list[Option]:
    """A corrected word that sounds like another: "tehre", there, three."""
    words, cost = fix
    sounds = _homophones(i, found, words[0]) if len(words) == 1 else []
    return [(other, cost + extra) for other, extra in sounds] or [fix]


def _likely(word: str) -> str:
    """A neighbour as it was likely meant."""
    if not word.isalpha() or word in vocabulary().words:
        return word
    fixes = corrections(word, frozenset())
    counted = next((words[0] for words, _ in fixes if words[0] in word_list("spelling_nouns")), None)
    return counted or (fixes[0][0][0] if fixes else word)


def _homophones(i: int, found: Sequence[Token], taken_for: str | None = None) -> list[Option]:
    """What a word, or one that it was taken for, may have been by its sound."""
    word = taken_for or found[i].text
    if not has_sounds(word):
        return []
    said = [token.text for token in found]
    start = next((k + 1 for k in range(i - 1, -1, -1) if said[k] in STOP), 0)
    after = [*said[i + 1 : i + 4], "", "", ""]
    around = Neighbours(
        before=_likely(said[i - 1]) if i else "",
        before2=said[i - 2] if i > 1 else "",
        after=_likely(after[0]),
        after2=after[1],
        after3=after[2],
        clause=said[start:i],
    )
    return sounds(word, around)
