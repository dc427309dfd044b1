"""Takes the words of a message for what they were meant to be: misspelt, misheard or run together.

Several takes may compete.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from rapidfuzz.distance import OSA

from grammar.misspelling import Option, corrections, single
from grammar.numbers import ONES, TEENS, TENS
from grammar.text import Token
from grammar.vocabulary import Names, Vocabulary, vocabulary, word_list

_RIVAL_SPELLING = 0.35


class Spelling:
    """One way to take the words of a message: the words and what each correction costs."""

    __slots__ = ("costs", "glued", "words")

    def __init__(self, words: tuple[str, ...], costs: tuple[float, ...], glued: tuple[bool, ...]) -> None:
        self.words = words
        self.costs = costs
        self.glued = glued


def spellings(found: Sequence[Token], known: Names, confusions: bool) -> list[Spelling]:
    """The likely word lists, cheapest first (at most 6).

    `confusions`: also swap words that recognisers take for each other.
    """
    return list(_spellings(tuple(found), known, confusions))


@lru_cache(maxsize=256)
def _spellings(found: tuple[Token, ...], known: Names, confusions: bool) -> tuple[Spelling, ...]:
    """A message's words are looked at by several readers, one after the other."""
    terms = vocabulary()
    swapped = _slang(found, known)
    options = [_options(i, swapped, known, terms, confusions) for i in range(len(swapped))]
    combos: list[tuple[float, list[Option]]] = [(0.0, [])]
    for choice in options:
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


def _slang(found: Sequence[Token], known: Names) -> list[Token]:
    """The department's own words replaced by what they mean."""
    if not known.slang:
        return list(found)
    out: list[Token] = []
    i = 0
    while i < len(found):
        for said, means in known.slang:
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
    fixes: Sequence[Option] = corrections(word, known.words)
    if i and _likely(found[i - 1].text) in word_list("spelling_called") | word_list("spelling_tens"):
        fixes = _number_first(word, fixes)
    fixes = [option for fix in fixes for option in _and_sounds(i, found, fix)]
    drawn_out = single(word, terms, known)
    if drawn_out is not None:
        fixes = [((drawn_out,), 0.08), *fixes]
    return [*fixes, (as_is[0], 0.0 if not fixes else 0.2 if len(word) < 4 else 0.6)]


def _number_first(word: str, fixes: Sequence[Option]) -> list[Option]:
    """ "Engine nime", "seventy fice": a number belongs there, and nothing else is as likely."""
    numbers = [w for w in _NUMBERS if len(w) == len(word) and len(w) > 3 and OSA.distance(w, word) == 1]
    if not numbers:
        return list(fixes)
    cost = 0.09 if len(numbers) == 1 else 0.25
    rest = [(words, max(extra, 0.4)) for words, extra in fixes if words[0] not in numbers]
    return [*(((number,), cost) for number in numbers), *rest]


_SCALE = frozenset(("hundred", "thousand"))
_NUMBERS = frozenset((*ONES, *TEENS, *TENS))
_STOP = frozenset(("", ".", ",", ";", "?", "!"))
_ALWAYS = {"too": "two", "teo": "two", "tow": "two", "fore": "four", "won": "one", "tree": "three", "ate": "eight"}


_NEARLY = {
    "there": "three",
    "free": "three",
    "our": "four",
    "ive": "five",
    "even": "seven",
    "ore": "more",
    "tem": "team",
    "tam": "team",
    "wine": "nine",
    "mine": "nine",
    "none": "nine",
    "nun": "nine",
    "on": "one",
    "here": "three",
    "fore": "four",
}
"""Ordinary words a slip or a sound away from a number."""
_FRACTION_WORDS = frozenset(["quarter", "quarters", "eighth", "eighths", "sixteenth", "sixteenths"])


def _nearly(word: str, before: str, after: str) -> list[Option]:
    """ "there hundred", "even eighths", "sixty wine": the number where only a number fits; both where either does."""
    number, itself = (_NEARLY[word],), (word,)
    if word == "on":
        return (
            [(number, 0.08), (itself, 0.08)]
            if after in word_list("spelling_tens") and before in ("at", "flow", "flowing")
            else []
        )
    if word in ("there", "here", "free", "our") and (
        (before in _STOP and after in _NUMBERS) or (before in _NUMBERS and after in word_list("spelling_nouns"))
    ):
        return [(itself, 0.25), (number, 0.35)]  # "there four lines": one of them is a slip
    if word == "our" and after in ("lines", "legs", "feet", "minutes", "gallons", "members", "people"):
        return [(number, 0.08), (itself, 0.08)]
    scaled = after in _SCALE or after in _FRACTION_WORDS
    closes = after in _STOP and (
        before in word_list("spelling_tens")
        or before in ("of", "with", "last")
        or before in word_list("spelling_called")
    )
    if scaled or closes or (word == "there" and after in word_list("spelling_nouns")):
        return [(number, 0.06), (itself, 0.3)]
    if after in word_list("spelling_tens") and before in (*_STOP, "at", "flow", "flowing", "lowest", "gauge"):
        return [(number, 0.08), (itself, 0.08)]
    return []


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
    """What a number or a small word that sounds like one may have been: ("to", "two"), ("for", "four") and so on.

    Both takes compete where both make sense; what they cost says how well each fits between its neighbours. Nothing: it
    is itself.
    """
    word = taken_for or found[i].text
    before = _likely(found[i - 1].text) if i else ""
    after = _likely(found[i + 1].text) if i + 1 < len(found) else ""
    if word in ("there", "here") and before == "of" and i > 1 and found[i - 2].text == "out":
        return []  # "out of there"
    if before in word_list("spelling_called") and word in (
        "night",
        "nite",
        "tin",
        "sex",
        "to",
        "too",
        "for",
        "won",
        "ate",
        "tree",
    ):
        meant = {"night": "nine", "nite": "nine", "tin": "ten", "sex": "six", "to": "two", "for": "four"}.get(
            word
        ) or _ALWAYS[word]
        if after in _STOP or word not in ("to", "for") or before in ("floor", "division"):
            return [((meant,), 0.04), ((word,), 0.35)]
    if word == "too" and after in (
        "much",
        "high",
        "low",
        "long",
        "far",
        "many",
        "weak",
        "hot",
        "little",
        "fast",
        "late",
    ):
        return []
    if word in _ALWAYS:
        if after not in _STOP or before in _NUMBERS or before in ("last", "undo", "par", "of", "floor", "or"):
            return [((_ALWAYS[word],), 0.05), ((word,), 0.5)]
        return [] if before in word_list("spelling_idle") else [((_ALWAYS[word],), 0.08), ((word,), 0.08)]
    if (
        word in ("have", "haff")
        and before == "a"
        and after not in _NUMBERS
        and i > 1
        and found[i - 2].text in ("and", "in", "an")
    ):
        return [(("half",), 0.04), ((word,), 0.4)]
    if word in _NEARLY:
        near = _nearly(word, before, after)
        if near:
            return near
    if word in ("to", "for") and after in ("inch", "deuce") and [t.text for t in found[i + 2 : i + 3]] in _PART_OF_INCH:
        return []  # "for inch and three quarter": a size of its own
    if word == "to" and (after in _NUMBERS or after[:1].isdigit()) and _sets(found[:i]):
        return [(("to",), 0.04), (("two",), 0.35)]
    if word == "to":
        return _to(before, after)
    if word == "for":
        half = [t.text for t in found[i + 1 : i + 4]]
        if half[1:] == ["a", "half"] and half[0] in ("and", "in", "an"):
            return [(("four",), 0.05), ((word,), 0.3)]
        return _for(before, after)
    if (
        word == "four"
        and before in word_list("spelling_govern_for")
        and (after in _NUMBERS or after[:1].isdigit() or after in ("the", "a", "crosslay", "bumper", "rear", "two"))
    ):
        return [(("four",), 0.06), (("for",), 0.06)]
    if word in ("feed", "feat", "fete", "fee") and (before[:1].isdigit() or before in _NUMBERS or before in _SCALE):
        return [(("feet",), 0.04), ((word,), 0.4)]
    if word == "ill" and after in ("crosslay", "bumper", "rear", "deck", "the"):
        return [(("kill",), 0.08), (("ill",), 0.08)]
    if word == "two" and after in word_list("spelling_doing"):
        return [(("to",), 0.04), (("two",), 0.3)]
    if (
        word == "two"
        and before
        in (
            "down",
            "dropped",
            "fell",
            "up",
            "went",
            "reduced",
            "reduces",
            "wyed",
            "added",
            "changed",
            "switched",
            "moved",
        )
        and (after in _NUMBERS or after[:1].isdigit())
    ):
        return [(("to",), 0.05), (("two",), 0.05)]
    return []


def _sets(before: Sequence[Token]) -> bool:
    """Whether a verb before says that something is set to what follows: "set the par interval to twenty"."""
    start = next((k + 1 for k in range(len(before) - 1, -1, -1) if before[k].text in _STOP), 0)
    return any(token.text in word_list("spelling_sets") for token in before[start:])


_PART_OF_INCH = (["and"], ["an"], ["n"], ["three"], ["eighth"], ["&"])


def _to(before: str, after: str) -> list[Option]:
    two, itself = ("two",), ("to",)
    if before in ("male", "female", "storz"):
        return []
    if (
        after in _SCALE
        or after in word_list("spelling_nouns")
        or (after in _STOP and (before in _NUMBERS or before in ("undo", "last", "of", "with")))
    ):
        return [(two, 0.04), (itself, 0.4)]
    if after == "and":
        return [(two, 0.05), (itself, 0.3)]
    if after in _STOP:
        return [(two, 0.06), (itself, 0.25)]
    number = after in _NUMBERS or after[:1].isdigit()
    if (
        number
        and before not in word_list("spelling_govern_to")
        and (before not in word_list("spelling_nouns") or before in ("line", "lines", "legs"))
        and not before[:1].isdigit()
        and before not in _NUMBERS
        and before not in _SCALE
    ):
        return [(two, 0.08), (itself, 0.08)]
    return []


def _for(before: str, after: str) -> list[Option]:
    four, itself = ("four",), ("for",)
    if after == "and" and before in ("a", "on", "with", "of", ""):
        return [(four, 0.05), (itself, 0.3)]
    if before == "of" and after:
        return [(four, 0.04), (itself, 0.3)]  # "par of for engine 12": of four
    if before in word_list("spelling_govern_for") and not (after in _STOP and before in ("par", "is", "with")):
        return []
    if after in word_list("spelling_nouns") and after not in ("out", "water", "more"):
        return [(four, 0.04), (itself, 0.4)]
    if after in _STOP and before in ("of", "is", "with", "par", "have"):
        return [(four, 0.04), (itself, 0.4)]
    if after in _STOP and before in _STOP:
        return [(four, 0.08), (itself, 0.08)]
    if after in word_list("spelling_tens") and (before in _STOP or before in ("at", "flowing")):
        return [(four, 0.08), (itself, 0.08)]
    if after in _SCALE:
        return [(four, 0.04), (itself, 0.4)]
    return []
