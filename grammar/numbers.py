"""Reads numbers in every way they are said or typed.

`numbers_at(words, i)` gives every number that can begin at a word, with its reach and how far-fetched it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeAlias

Form: TypeAlias = Literal["int", "decimal", "fraction", "mixed", "ordinal", "time", "hundreds", "digits"]
"""hundreds: "one fifty" = 150. digits: said digit by digit."""


class NumberAt(NamedTuple):
    """A number that reaches up to word `end` (exclusive). `cost` 0: plain; higher: less likely meant."""

    end: int
    value: float
    form: Form
    cost: float


ONES = dict(zip(["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"], range(1, 10), strict=True))
TEENS = dict(
    zip(
        ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"],
        range(10, 20),
        strict=True,
    )
)
TENS = dict(
    zip(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], range(20, 100, 10), strict=True)
)
ORDINALS = {
    w: i
    for i, w in enumerate(
        [
            "first",
            "second",
            "third",
            "fourth",
            "fifth",
            "sixth",
            "seventh",
            "eighth",
            "ninth",
            "tenth",
            "eleventh",
            "twelfth",
            "thirteenth",
            "fourteenth",
            "fifteenth",
            "sixteenth",
            "seventeenth",
            "eighteenth",
            "nineteenth",
            "twentieth",
        ],
        start=1,
    )
} | {"thirtieth": 30, "fortieth": 40, "fiftieth": 50}
PARTS = {
    "half": 2,
    "halfs": 2,
    "halves": 2,
    "third": 3,
    "thirds": 3,
    "quarter": 4,
    "quarters": 4,
    "fourth": 4,
    "fourths": 4,
    "eighth": 8,
    "eighths": 8,
    "sixteenth": 16,
    "sixteenths": 16,
    "tenth": 10,
    "tenths": 10,
    "thirtysecond": 32,
}
OH = frozenset(("oh", "o", "zero"))
SPELLED = {
    "fourty": "forty",
    "niner": "nine",
    "fife": "five",
    "ninty": "ninety",
    "fivty": "fifty",
    "eigth": "eighth",
    "ates": "eighths",
    "eights": "eighths",
    "eigths": "eighths",
}
WORDS = frozenset(
    (
        *ONES,
        *TEENS,
        *TENS,
        *ORDINALS,
        *PARTS,
        *SPELLED,
        "zero",
        "hundred",
        "thousand",
        "point",
        "oh",
        "minus",
        "hundredth",
        "deuce",
        "buck",
    )
)
"""Every word a number can be made of."""


def numbers_at(words: Sequence[str], i: int) -> list[NumberAt]:
    """Every number that can begin at word `i`, the longest and plainest of each value kept."""
    word = words[i]
    if word in ("minus", "negative") and i + 1 < len(words):
        return [n._replace(value=-n.value) for n in numbers_at(words, i + 1) if n.form not in ("ordinal", "time")]
    found = _clock(word, i) or [*_fractions(words, i), *_mixed(words, i), *_decimals(words, i), *_ordinal(words, i)]
    if not found or found[0].form != "time":
        found.extend(_wholes(words, i))
    best: dict[tuple[int, float, bool], NumberAt] = {}
    for n in found:
        key = (n.end, n.value, n.form == "ordinal")
        if key not in best or n.cost < best[key].cost:
            best[key] = n
    return list(best.values())


def _word(words: Sequence[str], i: int) -> str:
    if i >= len(words):
        return ""
    return SPELLED.get(words[i], words[i])


_LONGEST = 12
"""Digits of a number that is still one."""


def _digits(word: str) -> bool:
    return (word[:1].isdigit() or (word[:1] == "." and word[1:2].isdigit())) and len(word) <= _LONGEST


def _clock(word: str, i: int) -> list[NumberAt]:
    if ":" not in word or not _digits(word):
        return []
    hour, minute, *second = (int(p) for p in word.split(":"))
    return [NumberAt(i + 1, hour * 10000 + minute * 100 + (second[0] if second else 0), "time", 0.0)]


def _literal(word: str) -> float | None:
    if not _digits(word) or ":" in word or len(word) > _LONGEST:
        return None
    return float(word.replace(",", ""))


def _small(words: Sequence[str], i: int) -> tuple[int, int] | None:
    """1..99 in words, or as digits: (end, value)."""
    word = _word(words, i)
    if word in ONES:
        return i + 1, ONES[word]
    if word in TEENS:
        return i + 1, TEENS[word]
    if word in TENS:
        unit = _word(words, i + 1)
        return (i + 2, TENS[word] + ONES[unit]) if unit in ONES else (i + 1, TENS[word])
    return None


def _wholes(words: Sequence[str], i: int) -> list[NumberAt]:
    """Whole numbers: digits, plain cardinals, "one fifty", "two oh five", "one five zero", "fifteen hundred"."""
    word = _word(words, i)
    literal = _literal(word)
    if literal is not None:
        return _from_digits(words, i, word, literal)
    found: list[NumberAt] = []
    if word in ("zero",):
        found.append(NumberAt(i + 1, 0, "int", 0.0))
    for end, value in _cardinals(words, i):
        found.append(NumberAt(end, value, "int", 0.0))
    found.extend(_elided(words, i))
    found.extend(_digit_by_digit(words, i))
    return found


def _from_digits(words: Sequence[str], i: int, word: str, literal: float) -> list[NumberAt]:
    whole = "." not in word
    after = _word(words, i + 1)
    if whole and after in ("st", "nd", "rd", "th"):
        return [NumberAt(i + 2, literal, "ordinal", 0.0)]
    found = [
        NumberAt(i + 1, literal, "int" if whole else "decimal", 0.0 if "," not in word or literal < 20000 else 0.6)
    ]
    if whole and after in ("hundred", "thousand"):
        scale = 100 if after == "hundred" else 1000
        found = [NumberAt(i + 2, literal * scale, "int", 0.0)]
        tail = _below_hundred_tail(words, i + 2) if scale == 100 else _tail(words, i + 2)
        found.extend(NumberAt(end, literal * scale + rest, "int", 0.02) for end, rest in tail)
    elif whole and literal < 20 and after in TENS:
        found.extend(
            NumberAt(end, literal * 100 + rest, "hundreds", 0.2) for end, rest in _below_hundred_tail(words, i + 1)
        )
    return found


def _cardinals(words: Sequence[str], i: int) -> list[tuple[int, int]]:
    """All plain cardinals that begin at `i`: "two", "two hundred", "two hundred and fifty", "a thousand" …"""
    head = _small(words, i)
    word = _word(words, i)
    if head is None:
        if word in ("a", "an", "one") and _word(words, i + 1) in ("hundred", "thousand"):
            head = (i + 1, 1)
        elif word in ("hundred", "thousand"):
            head = (i, 1)
        else:
            return []
    end, value = head
    found = [(end, value)] if end > i and word not in ("a", "an") else []
    if word in TENS and end == i + 2:
        found.append((i + 1, TENS[word]))
    scale = _word(words, end)
    if scale == "hundred":
        found.append((end + 1, value * 100))
        found.extend((e, value * 100 + rest) for e, rest in _below_hundred_tail(words, end + 1))
    elif scale == "thousand":
        found.append((end + 1, value * 1000))
        found.extend((e, value * 1000 + rest) for e, rest in _tail(words, end + 1))
    return found


def _tail(words: Sequence[str], i: int) -> list[tuple[int, int]]:
    """What can follow a thousand."""
    if _word(words, i) == "and":
        i += 1
    small = _small(words, i)
    if small is None:
        return []
    end, value = small
    if _word(words, end) == "hundred" and value < 10:
        return [(end + 1, value * 100), *((e, value * 100 + r) for e, r in _below_hundred_tail(words, end + 1))]
    elided = [(n.end, int(n.value)) for n in _elided(words, i)]
    return [small, *elided]


def _below_hundred_tail(words: Sequence[str], i: int) -> list[tuple[int, int]]:
    """1..99 after a hundred, with or without "and", not when it begins a fraction ("two hundred and three quarter")."""
    j = i + 1 if _word(words, i) == "and" else i
    small = _small(words, j)
    if small is None or _is_part(words, small[0]) or _word(words, small[0]) in ("hundred", "thousand"):
        return []
    if _word(words, j) in TENS and small[0] == j + 2:
        return [small, (j + 1, TENS[_word(words, j)])]
    return [small]


_AFTER_ORDINAL = frozenset(("floor", "floors", "fl", "story", "storey", "level", "line", "leg"))


def _is_part(words: Sequence[str], i: int) -> bool:
    """ "Quarters", "sixteenths"; not the "eighth" of "flowing one seventy five, eighth floor"."""
    word = _word(words, i)
    return word in PARTS and not (word in ORDINALS and _word(words, i + 1) in _AFTER_ORDINAL)


def _elided(words: Sequence[str], i: int) -> list[NumberAt]:
    """Hundreds left out: "one fifty" = 150, "two oh five" = 205, "twelve fifty" = 1,250, "one seventy five" = 175."""
    if _word(words, i) in ("a", "buck") and "buck" in words[i : i + 2]:
        return _bucks(words, i)
    word = _word(words, i)
    head = ONES.get(word) or TEENS.get(word) or TENS.get(word)
    if head is None:
        return []
    start = i + 1
    if word in TENS and _word(words, start) in ONES:
        head += ONES[_word(words, start)]
        start += 1
    following = _word(words, start)
    if word == "one" and len(following) == 2 and following.isdigit() and following >= "10":
        cost = 0.12 if following >= "20" else 0.3
        return [NumberAt(start + 1, 100 + int(following), "hundreds", cost)]  # "one 50"; "one 15 gallon nozzle" is one
    if following in ("oh", "o") and _word(words, start + 1) in ONES:
        return [NumberAt(start + 2, head * 100 + ONES[_word(words, start + 1)], "hundreds", 0.02)]
    if following not in TENS and following not in TEENS:
        return []
    small = _small(words, start)
    assert small is not None
    end, rest = small
    if _word(words, end) in ("hundred", "thousand"):
        return []
    if _is_part(words, end):  # "one fifteen sixteenths" is a count and a tip
        return []
    cost = 0.02 if head < 20 else 0.16
    found = [NumberAt(end, head * 100 + rest, "hundreds", cost)]
    if following in TENS and end == start + 2:
        found.append(NumberAt(start + 1, head * 100 + TENS[following], "hundreds", cost + 0.02))
    return found


def _bucks(words: Sequence[str], i: int) -> list[NumberAt]:
    """ "A buck fifty" = 150, "buck and a half" = 150, "a buck" = 100."""
    start = i + 1 if words[i] == "buck" else i + 2
    found = [NumberAt(start, 100, "hundreds", 0.1)]
    if tuple(words[start : start + 3]) == ("and", "a", "half"):
        found.append(NumberAt(start + 3, 150, "hundreds", 0.02))
    small = _small(words, start)
    literal = _literal(_word(words, start))
    if small is not None and small[1] >= 10:
        found.append(NumberAt(small[0], 100 + small[1], "hundreds", 0.0))
    elif literal is not None and 10 <= literal < 100 and literal % 1 == 0:
        found.append(NumberAt(start + 1, 100 + literal, "hundreds", 0.0))
    return found


def _digit_by_digit(words: Sequence[str], i: int) -> list[NumberAt]:
    """Digits said one by one: "one five zero", "one four one two"; two alone are far-fetched."""
    digits = ""
    j = i
    found = []
    while j < len(words):
        word = _word(words, j)
        if word in ONES:
            digits += str(ONES[word])
        elif (word in OH and digits) or (word in ("zero", "oh") and not digits and _word(words, j + 1) in (*ONES, *OH)):
            digits += "0"
        else:
            break
        j += 1
        if len(digits) > 1 and len(digits) <= 5:
            found.append(NumberAt(j, int(digits), "digits", 0.05 if len(digits) > 2 else 0.35))
    return found


def _ordinal(words: Sequence[str], i: int) -> list[NumberAt]:
    word = _word(words, i)
    if word in ORDINALS:
        return [NumberAt(i + 1, ORDINALS[word], "ordinal", 0.0)]
    if word in TENS and ORDINALS.get(_word(words, i + 1), 99) < 10:
        return [NumberAt(i + 2, TENS[word] + ORDINALS[_word(words, i + 1)], "ordinal", 0.0)]
    return []


def fraction_at(words: Sequence[str], i: int) -> tuple[int, float] | None:
    """A proper fraction at `i`: "3/4", "three quarters", "fifteen sixteenths", "a half", "half", "15 16ths"."""
    word = _word(words, i)
    if _digits(word) and ":" not in word and "." not in word:
        above = int(float(word.replace(",", "")))
        if _word(words, i + 1) == "/" and _word(words, i + 2).isdigit():
            below = int(_word(words, i + 2))
            end = i + 4 if _word(words, i + 3) in ("ths", "th") else i + 3
            return (end, above / below) if 0 < above < below <= 64 else None
        if _word(words, i + 1) in PARTS and above < PARTS[_word(words, i + 1)]:
            return i + 2, above / PARTS[_word(words, i + 1)]
        if _word(words, i + 1) in ("16", "8", "32") and _word(words, i + 2) in ("ths", "th"):
            below = int(_word(words, i + 1))
            return (i + 3, above / below) if above < below else None
        return None
    if word in ("a", "an") and _word(words, i + 1) in PARTS:
        return i + 2, 1 / PARTS[_word(words, i + 1)]
    if word in ("half", "quarter"):
        return i + 1, 1 / PARTS[word]
    small = _small(words, i)
    if small is not None:
        end, above = small
        part = _word(words, end)
        if _is_part(words, end) and above < PARTS[part] and (above == 1 or part not in ("half", "third", "tenth")):
            return end + 1, above / PARTS[part]
        if part in ("thirty",) and _word(words, end + 1) in ("seconds", "second") and above < 32:
            return end + 2, above / 32
    return None


def _fractions(words: Sequence[str], i: int) -> list[NumberAt]:
    found = fraction_at(words, i)
    if found is None:
        return []
    end, value = found
    ordinal_like = words[end - 1] in ("third", "fourth", "tenth", "eighth", "sixteenth") and words[i] in ("a", "an")
    return [NumberAt(end, value, "fraction", 0.5 if ordinal_like else 0.0)]


def _mixed(words: Sequence[str], i: int) -> list[NumberAt]:
    """A whole and a fraction: "1 3/4", "1 and 3/4", "one and three quarter", "one three quarter", "two and a half"."""
    word = _word(words, i)
    literal = _literal(word)
    if literal is not None and literal == int(literal) and "." not in word:
        wholes = [(i + 1, int(literal))]
    else:
        wholes = [(end, value) for end, value in _cardinals(words, i) if value < 20]
    found = []
    for end, whole in wholes:
        joined = _word(words, end) in ("and", "n") or (_word(words, end) in ("in", "an") and whole <= 6)
        start = end + 1 if joined else end
        fraction = fraction_at(words, start)
        if fraction is None or whole > 20:
            continue
        bare = _word(words, start) in ("a", "an", "half", "quarter") and not joined
        cost = 0.0 if whole <= 6 and not bare else 0.3
        if whole <= 6 and bare and _word(words, start) in ("half", "quarter"):
            cost = 0.1
        found.append(NumberAt(fraction[0], whole + fraction[1], "mixed", cost))
    return found


def _decimals(words: Sequence[str], i: int) -> list[NumberAt]:
    """ "one point seven five", "point five", "two point five", "one point seventy five"."""
    word = _word(words, i)
    starts: list[tuple[int, float]] = []
    if word == "point":
        starts.append((i, 0))
    elif _literal(word) is not None and "." not in word:
        starts.append((i + 1, _literal(word) or 0))
    elif word == "zero":
        starts.append((i + 1, 0))
    else:
        starts.extend(_cardinals(words, i))
    for end, whole in starts:
        if _word(words, end) != "point":
            continue
        digits, j = _decimal_digits(words, end + 1)
        if digits:
            return [NumberAt(j, float(f"{int(whole)}.{digits}"), "decimal", 0.0)]
    return []


def _decimal_digits(words: Sequence[str], j: int) -> tuple[str, int]:
    small = _small(words, j)
    if small is not None and small[1] >= 10:
        return str(small[1]), small[0]
    literal = _word(words, j)
    if literal.isdigit():
        return literal, j + 1
    digits = ""
    while j < len(words) and (_word(words, j) in ONES or _word(words, j) in OH):
        digits += str(ONES.get(_word(words, j), 0))
        j += 1
    return digits, j
