"""Takes the words of a message for what they were meant to be: misspelt, misheard or run together.

Several takes may compete.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache, lru_cache

from rapidfuzz.distance import OSA
from rapidfuzz.process import extract

from grammar.numbers import ONES, TEENS, TENS
from grammar.numbers import WORDS as NUMBER_WORDS
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


_Option = tuple[tuple[str, ...], float]


def spellings(found: Sequence[Token], known: Names, confusions: bool) -> list[Spelling]:
    """The likely word lists, cheapest first (at most 6).

    `confusions`: also swap words that recognisers take for each other.
    """
    terms = vocabulary()
    swapped = _slang(found, known)
    options = [_options(i, swapped, known, terms, confusions) for i in range(len(swapped))]
    combos: list[tuple[float, list[_Option]]] = [(0.0, [])]
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
    return list(out.values())


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


def _options(i: int, found: Sequence[Token], known: Names, terms: Vocabulary, confusions: bool) -> list[_Option]:
    word = found[i].text
    as_is: _Option = ((word,), 0.0)
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
    fixes: Sequence[_Option] = _corrections(word, known.words)
    if i and _likely(found[i - 1].text) in word_list("spelling_called") | word_list("spelling_tens"):
        fixes = _number_first(word, fixes)
    fixes = [option for fix in fixes for option in _and_sounds(i, found, fix)]
    single = _single(word, terms, known)
    if single is not None:
        fixes = [((single,), 0.08), *fixes]
    return [*fixes, (as_is[0], 0.0 if not fixes else 0.2 if len(word) < 4 else 0.6)]


def _number_first(word: str, fixes: Sequence[_Option]) -> list[_Option]:
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


def _nearly(word: str, before: str, after: str) -> list[_Option]:
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


def _and_sounds(i: int, found: Sequence[Token], fix: _Option) -> list[_Option]:
    """A corrected word that sounds like another: "tehre", there, three."""
    words, cost = fix
    sounds = _homophones(i, found, words[0]) if len(words) == 1 else []
    return [(other, cost + extra) for other, extra in sounds] or [fix]


def _likely(word: str) -> str:
    """A neighbour as it was likely meant."""
    if not word.isalpha() or word in vocabulary().words:
        return word
    fixes = _corrections(word, frozenset())
    counted = next((words[0] for words, _ in fixes if words[0] in word_list("spelling_nouns")), None)
    return counted or (fixes[0][0][0] if fixes else word)


def _homophones(i: int, found: Sequence[Token], taken_for: str | None = None) -> list[_Option]:
    """What a number or a small word that sounds like one may have been: ("to", "two"), ("for", "four") and so on.

    Both takes compete where both make sense; what they cost says how well each fits between its neighbours. Nothing: it
    is itself.
    """
    word = taken_for or found[i].text
    before = _likely(found[i - 1].text) if i else ""
    after = _likely(found[i + 1].text) if i + 1 < len(found) else ""
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


def _to(before: str, after: str) -> list[_Option]:
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


def _for(before: str, after: str) -> list[_Option]:
    four, itself = ("four",), ("for",)
    if after == "and" and before in ("a", "on", "with", "of", ""):
        return [(four, 0.05), (itself, 0.3)]
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


_SHORT = (
    "feet", "inch", "floor", "line", "one", "two", "six", "ten", "three", "four", "five", "nine", "will", "does",
    "tank", "long", "last", "down", "shut", "with", "half", "fire", "rear",
)  # fmt: skip
"""What an unknown word of three letters may have been."""


def _another_number(word: str, target: str, distance: int) -> bool:
    """Another number word is nearly as near."""
    others = (w for w in NUMBER_WORDS if w != target and len(w) > 2 and w.isalpha() and not w.startswith(target[:4]))
    return any(OSA.distance(word, other, score_cutoff=distance + 1) <= distance + 1 for other in others)


def _single(word: str, terms: Vocabulary, known: Names) -> str | None:
    """A word that is drawn out: "nooo", "maaayday"."""
    short = re.sub(r"(.)\1{2,}", r"\1", word)
    return short if short != word and len(short) > 1 and (short in terms.spoken or short in known.words) else None


_HESITATIONS = frozenset(("um", "uh", "er", "ah", "erm", "like", "so", "well"))


def _run_together(word: str, names: frozenset[str]) -> _Option | None:
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
                or piece in _HESITATIONS
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
    short = sum(len(p) < 3 and p not in terms.skip | {"on", "in", "to", "of", "at", "is"} for p in pieces)
    return pieces, 0.1 + 0.02 * len(pieces) + 0.3 * short


_UNSURE = 0.1
"""What it costs more when several words are as near to a misspelt one."""


_SEVERAL = frozenset(("twin", "dual", "pair", "couple", "double", "both"))
"""Words that count, though they are no numbers."""


@cache
def _targets() -> frozenset[str]:
    return frozenset(vocabulary().targets)


@lru_cache(maxsize=2048)
def _corrections(word: str, names: frozenset[str]) -> tuple[_Option, ...]:
    """Known words that an unknown one may be a misspelling of, or two that were run together."""
    if len(word) < 3 or len(word) > 24:
        return ()
    terms = vocabulary()
    found: list[_Option] = []
    most = 1 if len(word) < 6 else 2
    pool = (*terms.targets, *(n for n in names if len(n) > 3 and n not in _targets())) if names else terms.targets
    if len(word) == 3:
        pool = _SHORT
    short = word if len(word) < 6 else ""
    for target, distance, _ in extract(word, pool, scorer=OSA.distance, score_cutoff=most, limit=12):
        cost = 0.09 if distance == 1 else 0.36 if len(word) < 9 else 0.26
        if target[0] != word[0]:
            cost += 0.12
        if len(target) < 5:
            cost += 0.06
        if short and target in NUMBER_WORDS and _another_number(word, target, distance):
            cost += 0.3  # "fity": fifty, or forty?
        if (len(word) == 3 and target in NUMBER_WORDS) or target in _SEVERAL:
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
