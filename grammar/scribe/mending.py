"""Misspelt names of signs, drugs and what is done, put right where one of them is nearest: "presure", "puls"."""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz.distance import OSA
from rapidfuzz.process import extract

from grammar.lexicon import by_language, language
from grammar.numbers import number_words
from grammar.patterns import Node, parse
from grammar.text import Token
from grammar.vocabulary import vocabulary, word_list

_NAMING = frozenset(("vital", "procedure"))
_LISTS = ("drug", "dose_unit", "rhythm")
_NUMBER_SLIPS = 1
"""Letters by which a number word may be misspelt and still be one: "eiighty", "nienty"."""
_SHORTEST, _LONG = 4, 8
"""Letters of a word that may be misspelt by one letter; by two from the second on."""


@by_language
def _words() -> frozenset[str]:
    """Every word that names a vital sign, a drug, its unit, or something done; none of what is kept as said."""
    care = language().get("care", {})
    named = [one for one in language().get("told", ()) if one["kind"] in _NAMING]
    ways = [way for one in named for way in one["says"]]
    ways += [way for name, said in care.get("rule", {}).items() if name.endswith("_word") for way in said]
    ways += [way for values in (care.get("list", {}).get(n, {}) for n in _LISTS) for s in values.values() for way in s]
    return frozenset(word for way in ways for word in _of(parse(way)) if word not in _else())


def _of(node: Node) -> set[str]:
    kind, *parts = node
    if kind == "word":
        return {str(parts[0])}
    return set().union(*(_of(part) for part in parts if isinstance(part, tuple)))


@by_language
def _else() -> frozenset[str]:
    """Words of the plain lists."""
    return frozenset(word for words in language().get("care", {}).get("words", {}).values() for word in words)


@by_language
def _known() -> frozenset[str]:
    """Words that are something else: ordinary ones, numbers, the rest of the language's."""
    care = language().get("care", {})
    ways = [way for table in ("rule", "said") for said in care.get(table, {}).values() for way in said]
    ways += [way for one in language().get("told", ()) for way in one["says"]]
    said = {word for way in ways for word in _of(parse(way))}
    return frozenset(vocabulary().words | number_words().words | _else() | said)


def mend(tokens: Sequence[Token]) -> tuple[list[Token], tuple[str, ...]]:
    """The tokens with misspelt words put right, and what was read for what."""
    found, notes = [], []
    words = _words()
    for token in tokens:
        said = token.text
        if len(said) < _SHORTEST or not said.isalpha() or said in words or said in _known():
            found.append(token)
            continue
        near = extract(said, words, scorer=OSA.distance, score_cutoff=2 if len(said) >= _LONG else 1, limit=2)
        near = [one for one in near if len(one[0]) >= _SHORTEST and one[0][0] == said[0]]
        if not near or (len(near) > 1 and near[1][1] == near[0][1]):
            found.append(token)
            continue
        found.append(token._replace(text=near[0][0]))
        notes.append(f"“{said}” read as {near[0][0]}")
    return found, tuple(notes)


def strange(tokens: Sequence[Token]) -> tuple[list[str], list[str]]:
    """Words that nothing knows: those that may be a misspelt number, and the others."""
    known = _known() | _words()
    words = [token.text for token in tokens]
    odd = [word for word in words if len(word) >= _SHORTEST and word.isalpha() and word not in known]
    numbers = [*number_words().words]
    counted = [word for word in odd if extract(word, numbers, scorer=OSA.distance, score_cutoff=_NUMBER_SLIPS, limit=1)]
    return [*counted, *_sounding(words)], [word for word in odd if word not in counted]


def _sounding(words: Sequence[str]) -> list[str]:
    """Words that sound like a number's, where they stand like one: "thirty ate", "won gram", "came up two 96"."""
    beside = zip(words, ["", *words], [*words[1:], ""], strict=False)
    return [word for word, before, after in beside if _sounds_counted(word, before, after)]


def _sounds_counted(word: str, before: str, after: str) -> bool:
    counts = after in word_list("care_counted_units")
    if word in word_list("care_sounds_counted"):
        return counts or _numbers(before) or _numbers(after)
    if word in word_list("care_sounds_joining"):
        return counts or (before in number_words().tens and not after)
    return word in number_words().ones and after.isdigit() and len(after) > 1 and before in word_list("care_changes")


def _numbers(word: str) -> bool:
    return word.isdigit() or word in number_words().words - _else()
