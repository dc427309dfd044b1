"""Reads numbers in every way they are said or typed; the words are the language's own (`[number]` of its files).

`numbers_at(words, i)` gives every number that can begin at a word, with its reach and how far-fetched it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple, TypeAlias

from grammar.lexicon import by_language, language, lately
from grammar.text import clean

Form: TypeAlias = Literal["int", "decimal", "fraction", "mixed", "ordinal", "time", "hundreds", "digits"]
"""hundreds: "one fifty" = 150. digits: said digit by digit."""


class NumberAt(NamedTuple):
    """A number that reaches up to word `end` (exclusive). `cost` 0: plain; higher: less likely meant."""

    end: int
    value: float
    form: Form
    cost: float


class NumberWords(NamedTuple):
    """A language's number words, as numbers.toml explains them."""

    ones: Mapping[str, int]
    teens: Mapping[str, int]
    """Every single word from ten on that is no round ten."""
    tens: Mapping[str, int]
    hundreds: Mapping[str, int]
    """Hundreds that are one word."""
    ordinals: Mapping[str, int]
    parts: Mapping[str, int]
    part_pairs: Mapping[tuple[str, str], int]
    spelled: Mapping[str, str]
    scales: Mapping[str, int]
    """Words of a hundred and a thousand."""
    listed: Mapping[str, frozenset[str]]
    """The other word lists, by name."""
    elides_hundreds: bool
    words: frozenset[str]
    """Every word a number can be made of."""


_LISTS = (
    "zero", "oh", "and", "weak_and", "hundred_and", "tens_and", "a", "point", "minus", "bucks", "elided_before",
    "couple", "couple_of", "ordinal_marks", "after_ordinal", "bare_parts", "single_parts", "part_marks",
)  # fmt: skip


@by_language
def number_words() -> NumberWords:
    """The number words of the language that is read."""
    data: dict[str, Any] = language().get("number", {})

    def counted(name: str, start: int, step: int = 1) -> dict[str, int]:
        """Words by value: listed in order (any of them in a list of its own), or beside it in a table."""
        said = data.get(name, [])
        if isinstance(said, dict):
            return {clean(word): value for word, value in said.items()}
        each = [[one] if isinstance(one, str) else one for one in said]
        return {clean(word): start + k * step for k, ways in enumerate(each) for word in ways}

    ones, teens, tens = counted("ones", 1), counted("teens", 10), counted("tens", 20, 10)
    hundreds = counted("hundreds", 100, 100)
    ordinals = counted("ordinals", 1) | counted("later_ordinals", 0)
    parts = {way: int(part) for part, ways in data.get("parts", {}).items() for way in map(clean, ways)}
    scales = dict.fromkeys(data.get("hundred", ()), 100) | dict.fromkeys(data.get("thousand", ()), 1000)
    spelled: dict[str, str] = data.get("spelled", {})
    listed = {name: frozenset(map(clean, data.get(name, ()))) for name in _LISTS}
    single = {part: below for part, below in parts.items() if " " not in part}
    pairs = {(part.split()[0], part.split()[1]): below for part, below in parts.items() if " " in part}
    words = frozenset(
        (*ones, *teens, *tens, *hundreds, *ordinals, *single, *spelled, *scales, *data.get("also", ()),
         *listed["zero"], *listed["bucks"], *(w for w in listed["oh"] if len(w) > 1))
    )  # fmt: skip
    return NumberWords(
        ones, teens, tens, hundreds, ordinals, single, pairs, spelled, scales, listed,
        elides_hundreds=data.get("elides_hundreds", False), words=words,
    )  # fmt: skip


def numbers_at(words: Sequence[str], i: int) -> list[NumberAt]:
    """Every number that can begin at word `i`, the longest and plainest of each value kept."""
    return _reader(tuple(words)).at(i)


def fraction_at(words: Sequence[str], i: int) -> tuple[int, float] | None:
    """A proper fraction at `i`: "3/4", "three quarters", "fifteen sixteenths", "a half", "half", "15 16ths"."""
    return _reader(tuple(words)).fraction(i)


@lately(8)
def _reader(words: tuple[str, ...]) -> _Reader:
    return _Reader(words)


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


class _Reader:
    """Reads the numbers of some words; every method takes the place where its part begins."""

    __slots__ = ("_found", "_spelled", "said", "words")

    def __init__(self, words: Sequence[str]) -> None:
        self.words = words
        self.said = number_words()
        self._spelled = [*map(self.said.spelled.get, words, words), "", "", "", ""]
        self._found: dict[int, list[NumberAt]] = {}

    def at(self, i: int) -> list[NumberAt]:
        """The numbers at a word, worked out once."""
        if i not in self._found:
            self._found[i] = self.numbers(i)
        return self._found[i]

    def numbers(self, i: int) -> list[NumberAt]:
        """As `numbers_at`."""
        word = self.words[i]
        if self._is(i, "minus") and i + 1 < len(self.words):
            return [n._replace(value=-n.value) for n in self.numbers(i + 1) if n.form not in ("ordinal", "time")]
        found = _clock(word, i) or [*self._fractions(i), *self._mixed(i), *self._decimals(i), *self._ordinal(i)]
        if not found or found[0].form != "time":
            found.extend(self._wholes(i))
        best: dict[tuple[int, float, bool], NumberAt] = {}
        for n in found:
            key = (n.end, n.value, n.form == "ordinal")
            if key not in best or n.cost < best[key].cost:
                best[key] = n
        return list(best.values())

    def _word(self, i: int) -> str:
        return self._spelled[i] if i < len(self._spelled) else ""

    def _is(self, i: int, name: str) -> bool:
        """One of the words of this list stands there."""
        return i < len(self._spelled) and self._spelled[i] in self.said.listed[name]

    def _scale(self, i: int) -> int:
        """100 or 1000 where such a word stands, else 0."""
        return self.said.scales.get(self._word(i), 0)

    def _small(self, i: int) -> tuple[int, int] | None:
        """1..99 in words: (end, value)."""
        said, word = self.said, self._word(i)
        if word in said.ones:
            return i + 1, said.ones[word]
        if word in said.teens:
            return i + 1, said.teens[word]
        if word in said.tens:
            j = i + 2 if self._is(i + 1, "tens_and") else i + 1
            unit = said.ones.get(self._word(j), 0)
            return (j + 1, said.tens[word] + unit) if unit else (i + 1, said.tens[word])
        return None

    def _wholes(self, i: int) -> list[NumberAt]:
        """Whole numbers: digits, plain cardinals, "one fifty", "two oh five", "one five zero", "fifteen hundred"."""
        literal = _literal(self._word(i))
        if literal is not None:
            return self._from_digits(i, literal)
        found = [NumberAt(i + 1, 0, "int", 0.0)] if self._is(i, "zero") else []
        found.extend(NumberAt(end, value, "int", 0.0) for end, value in self._cardinals(i))
        found.extend(self._elided(i))
        found.extend(self._digit_by_digit(i))
        return found

    def _from_digits(self, i: int, literal: float) -> list[NumberAt]:
        word = self._word(i)
        whole = "." not in word
        if whole and self._is(i + 1, "ordinal_marks"):
            return [NumberAt(i + 2, literal, "ordinal", 0.0)]
        cost = 0.0 if "," not in word or literal < 20000 else 0.6
        found = [NumberAt(i + 1, literal, "int" if whole else "decimal", cost)]
        scale = self._scale(i + 1)
        if whole and scale:
            found = [NumberAt(i + 2, literal * scale, "int", 0.0)]
            tail = self._after_hundred(i + 2) if scale == 100 else self._after_thousand(i + 2)
            found.extend(NumberAt(end, literal * scale + rest, "int", 0.02) for end, rest in tail)
        elif whole and literal < 20 and self._word(i + 1) in self.said.tens and self.said.elides_hundreds:
            tail = self._after_hundred(i + 1)
            found.extend(NumberAt(end, literal * 100 + rest, "hundreds", 0.2) for end, rest in tail)
        return found

    def _cardinals(self, i: int) -> list[tuple[int, int]]:
        """All plain cardinals that begin at `i`: "two", "two hundred", "two hundred and fifty", "a thousand" …"""
        said, word = self.said, self._word(i)
        if word in said.hundreds:
            return self._from_hundred_word(i)
        head = self._small(i)
        if head is None and (couple := self._couple(i)):
            head = (couple, 2)
            return self._scaled(*head)
        if head is None:
            if self._is(i, "a") and self._scale(i + 1):
                head = (i + 1, 1)
            elif self._scale(i):
                head = (i, 1)
            else:
                return []
        end, value = head
        found = [(end, value)] if end > i and not (self._is(i, "a") and word not in said.ones) else []
        if word in said.tens and end > i + 1:
            found.append((i + 1, said.tens[word]))
        return found + self._scaled(end, value)

    def _couple(self, i: int) -> int:
        """Where "couple", "a couple of" ends right before a hundred or a thousand; 0 where none stands so."""
        j = i + 1 if self._is(i, "a") else i
        if not self._is(j, "couple"):
            return 0
        j = j + 2 if self._is(j + 1, "couple_of") else j + 1
        return j if self._scale(j) else 0

    def _scaled(self, end: int, value: int) -> list[tuple[int, int]]:
        """With the hundred or thousand behind it, and what follows that."""
        scale = self._scale(end)
        if not scale:
            return []
        tail = self._after_hundred(end + 1) if scale == 100 else self._after_thousand(end + 1)
        return [(end + 1, value * scale), *((e, value * scale + rest) for e, rest in tail)]

    def _from_hundred_word(self, i: int) -> list[tuple[int, int]]:
        """A hundred that is one word ("doscientos"), what may follow it, and thousands of all that."""
        value = self.said.hundreds[self._word(i)]
        found = [(i + 1, value), *((end, value + rest) for end, rest in self._after_hundred(i + 1))]
        return found + [one for end, head in found for one in self._scaled(end, head)]

    def _after_thousand(self, i: int) -> list[tuple[int, int]]:
        """What can follow a thousand."""
        if self._word(i) in self.said.hundreds:
            return self._from_hundred_word(i)
        if self._is(i, "hundred_and"):
            i += 1
        small = self._small(i)
        if small is None:
            return []
        end, value = small
        if self._scale(end) == 100 and value < 10:
            return [(end + 1, value * 100), *((e, value * 100 + r) for e, r in self._after_hundred(end + 1))]
        return [small, *((n.end, int(n.value)) for n in self._elided(i))]

    def _after_hundred(self, i: int) -> list[tuple[int, int]]:
        """1..99 after a hundred, with or without "and"; no start of a fraction ("two hundred and three quarter")."""
        j = i + 1 if self._is(i, "hundred_and") else i
        small = self._small(j)
        if small is None or self._is_part(small[0]) or self._scale(small[0]):
            return []
        if self._word(j) in self.said.tens and small[0] > j + 1:
            return [small, (j + 1, self.said.tens[self._word(j)])]
        return [small]

    def _is_part(self, i: int) -> bool:
        """ "Quarters", "sixteenths"; not the "eighth" of "flowing one seventy five, eighth floor"."""
        word = self._word(i)
        return word in self.said.parts and not (word in self.said.ordinals and self._is(i + 1, "after_ordinal"))

    def _elided(self, i: int) -> list[NumberAt]:
        """Hundreds left out: "one fifty" = 150, "two oh five" = 205, "twelve fifty" = 1,250."""
        said, word = self.said, self._word(i)
        if not said.elides_hundreds:
            return []
        if self._is(i, "bucks") or (self._is(i, "a") and self._is(i + 1, "bucks")):
            return self._bucks(i)
        head = said.ones.get(word) or said.teens.get(word) or said.tens.get(word)
        if head is None:
            return []
        start = i + 1
        if word in said.tens and self._word(start) in said.ones:
            head += said.ones[self._word(start)]
            start += 1
        following = self._word(start)
        if head == 1 and len(following) == 2 and following.isdigit() and following >= "10":
            cost = 0.12 if following >= "20" else 0.3
            return [
                NumberAt(start + 1, 100 + int(following), "hundreds", cost)
            ]  # "one 50"; "one 15 gallon nozzle" is one
        if head < 10 and self._is(start + 1, "elided_before") and following.isdigit() and 20 <= int(following) < 100:
            return [NumberAt(start + 1, head * 100 + int(following), "hundreds", 0.02)]
        if self._is(start, "oh") and not self._is(start, "zero") and self._word(start + 1) in said.ones:
            return [NumberAt(start + 2, head * 100 + said.ones[self._word(start + 1)], "hundreds", 0.02)]
        small = self._small(start)
        if small is None or following in said.ones:
            return []
        end, rest = small
        if self._scale(end) or self._is_part(end):  # "one fifteen sixteenths" is a count and a tip
            return []
        cost = 0.02 if head < 20 else 0.16
        found = [NumberAt(end, head * 100 + rest, "hundreds", cost)]
        if following in said.tens and end > start + 1:
            found.append(NumberAt(start + 1, head * 100 + said.tens[following], "hundreds", cost + 0.02))
        return found

    def _bucks(self, i: int) -> list[NumberAt]:
        """ "A buck fifty" = 150, "buck and a half" = 150, "a buck" = 100."""
        start = i + 1 if self._is(i, "bucks") else i + 2
        found = [NumberAt(start, 100, "hundreds", 0.1)]
        half = self.fraction(start + 1) if self._is(start, "hundred_and") and self._is(start + 1, "a") else None
        if half is not None and half[1] == 1 / 2:
            found.append(NumberAt(half[0], 150, "hundreds", 0.02))
        small = self._small(start)
        literal = _literal(self._word(start))
        if small is not None and small[1] >= 10:
            found.append(NumberAt(small[0], 100 + small[1], "hundreds", 0.0))
        elif literal is not None and 10 <= literal < 100 and literal % 1 == 0:
            found.append(NumberAt(start + 1, 100 + literal, "hundreds", 0.0))
        return found

    def _digit_by_digit(self, i: int) -> list[NumberAt]:
        """Digits said one by one: "one five zero", "one four one two"; two alone are far-fetched."""
        ones = self.said.ones
        digits = ""
        found = []
        for j in range(i, len(self.words)):
            word = self._word(j)
            if word in ones:
                digits += str(ones[word])
            elif self._is(j, "oh") and (digits or (len(word) > 1 and self._digit(j + 1))):
                digits += "0"
            else:
                break
            if 1 < len(digits) <= 5:
                found.append(NumberAt(j + 1, int(digits), "digits", 0.05 if len(digits) > 2 else 0.35))
        return found

    def _digit(self, i: int) -> bool:
        return self._word(i) in self.said.ones or self._is(i, "oh")

    def _ordinal(self, i: int) -> list[NumberAt]:
        said, word = self.said, self._word(i)
        if word in said.ordinals:
            return [NumberAt(i + 1, said.ordinals[word], "ordinal", 0.0)]
        after = said.ordinals.get(self._word(i + 1), 99)
        return [NumberAt(i + 2, said.tens[word] + after, "ordinal", 0.0)] if word in said.tens and after < 10 else []

    def fraction(self, i: int) -> tuple[int, float] | None:
        """As `fraction_at`."""
        said, word = self.said, self._word(i)
        if _digits(word) and ":" not in word and "." not in word:
            return self._fraction_in_digits(i, int(float(word.replace(",", ""))))
        if self._is(i, "a") and word not in said.ones and self._word(i + 1) in said.parts:
            return i + 2, 1 / said.parts[self._word(i + 1)]
        if self._is(i, "bare_parts"):
            return i + 1, 1 / said.parts[word]
        small = self._small(i)
        if small is None:
            return None
        end, above = small
        part = self._word(end)
        if self._is_part(end) and above < said.parts[part] and (above == 1 or not self._is(end, "single_parts")):
            return end + 1, above / said.parts[part]
        below = said.part_pairs.get((part, self._word(end + 1)), 0)
        return (end + 2, above / below) if above < below else None

    def _fraction_in_digits(self, i: int, above: int) -> tuple[int, float] | None:
        part, after = self._word(i + 1), self._word(i + 2)
        if part == "/" and after.isdigit():
            end = i + 4 if self._is(i + 3, "part_marks") else i + 3
            return (end, above / int(after)) if 0 < above < int(after) <= 64 else None
        if above < self.said.parts.get(part, 0):
            return i + 2, above / self.said.parts[part]
        if part in ("16", "8", "32") and self._is(i + 2, "part_marks") and above < int(part):
            return i + 3, above / int(part)
        return None

    def _fractions(self, i: int) -> list[NumberAt]:
        found = self.fraction(i)
        if found is None:
            return []
        end, value = found
        last = self.words[end - 1]
        ordinal_like = last in self.said.parts and last in self.said.ordinals and self._is(i, "a")
        return [NumberAt(end, value, "fraction", 0.5 if ordinal_like else 0.0)]

    def _mixed(self, i: int) -> list[NumberAt]:
        """A whole and a fraction: "1 3/4", "one and three quarter", "one three quarter", "two and a half"."""
        literal = _literal(self._word(i))
        if literal is not None and literal == int(literal) and "." not in self._word(i):
            wholes = [(i + 1, int(literal))]
        else:
            wholes = [(end, value) for end, value in self._cardinals(i) if value < 20]
        found = []
        for end, whole in wholes:
            joined = self._is(end, "and") or (self._is(end, "weak_and") and whole <= 6)
            start = end + 1 if joined else end
            fraction = self.fraction(start)
            if fraction is None or whole > 20:
                continue
            part_alone = self._is(start, "bare_parts") and not joined
            bare = part_alone or (self._is(start, "a") and not joined)
            cost = 0.3 if whole > 6 else 0.1 if part_alone else 0.3 if bare else 0.0
            found.append(NumberAt(fraction[0], whole + fraction[1], "mixed", cost))
        return found

    def _decimals(self, i: int) -> list[NumberAt]:
        """ "one point seven five", "point five", "two point five", "one point seventy five"."""
        word = self._word(i)
        literal = _literal(word)
        if self._is(i, "point"):
            starts = [(i, 0)]
        elif literal is not None and "." not in word:
            starts = [(i + 1, int(literal))]
        elif self._is(i, "zero"):
            starts = [(i + 1, 0)]
        else:
            starts = self._cardinals(i)
        for end, whole in starts:
            if self._is(end, "point"):
                digits, j = self._decimal_digits(end + 1)
                if digits:
                    return [NumberAt(j, float(f"{whole}.{digits}"), "decimal", 0.0)]
        return []

    def _decimal_digits(self, j: int) -> tuple[str, int]:
        small = self._small(j)
        if small is not None and small[1] >= 10:
            return str(small[1]), small[0]
        if self._word(j).isdigit():
            return self._word(j), j + 1
        digits = ""
        while j < len(self.words) and self._digit(j):
            digits += str(self.said.ones.get(self._word(j), 0))
            j += 1
        return digits, j
