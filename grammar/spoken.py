"""How numbers, times and names are said: one plain wording of a value (`say`), or every usual one (`wordings`).

The opposite way, words to numbers, is `grammar.numbers`; both take the words of the language's numbers.toml.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from grammar.lexicon import ENGLISH, by_language, speaking
from grammar.numbers import Form, number_words


class _Said(NamedTuple):
    """A language's number words by value."""

    small: dict[int, str]
    """Of 0..9, each ten, and whatever else below a hundred is one word."""
    hundreds: dict[int, tuple[str, ...]]
    """Hundreds that are one word: alone, and before what follows."""
    tens_and: str
    hundred: str
    thousand: str


@by_language
def _said() -> _Said:
    words = number_words()
    small: dict[int, str] = {}
    for table in (words.ones, words.teens, words.tens):
        for word, value in table.items():
            small.setdefault(value, word)
    hundreds: dict[int, tuple[str, ...]] = {}
    for word, value in words.hundreds.items():
        hundreds[value] = (*hundreds.get(value, ()), word)
    scales = {value: word for word, value in reversed(list(words.scales.items()))}
    tens_and = "".join(f" {word}" for word in sorted(words.listed["tens_and"])[:1])
    return _Said(
        small | {0: min(words.listed["zero"], default="0")}, hundreds, tens_and, scales.get(100, ""), scales[1000]
    )


def below_hundred(value: int) -> str:
    """The one wording of 0..99."""
    said = _said()
    tens, ones = divmod(value, 10)
    return said.small.get(value) or f"{said.small[tens * 10]}{said.tens_and} {said.small[ones]}"


def _below_thousand(value: int) -> str:
    said = _said()
    hundreds, rest = divmod(value, 100)
    if not hundreds:
        return below_hundred(rest)
    one_word = said.hundreds.get(hundreds * 100)
    head = one_word[-1 if rest else 0] if one_word else f"{said.small[hundreds]} {said.hundred}"
    return f"{head} {below_hundred(rest)}" if rest else head


def _in_full(value: int) -> str:
    """99,999 at most."""
    said = _said()
    thousands, rest = divmod(value, 1000)
    if not thousands:
        return _below_thousand(rest)
    count = f"{below_hundred(thousands)} " if thousands > 1 or said.hundred else ""
    return f"{count}{said.thousand}" + (f" {_below_thousand(rest)}" if rest else "")


def _whole(value: int, form: Form) -> str:
    """ "Hundreds": the short form of the pump panel ("two fifty", "two oh five", "twelve fifty")."""
    hundreds, rest = divmod(value, 100)
    short = number_words().elides_hundreds and hundreds % 10
    if short and rest == 0 and value < 10_000:
        return f"{below_hundred(hundreds)} {_said().hundred}"
    if short and form == "hundreds" and value < 2000:
        return f"{below_hundred(hundreds)} {'oh ' if rest < 10 else ''}{below_hundred(rest)}"
    return _in_full(value)


def say(value: float, form: Form = "int") -> str:
    """A number in words: a whole one up to 99,999, else in eighths, sixteenths or decimals.

    `form` "hundreds" gives the short way ("one fifty"), "digits" one digit at a time, "decimal" with "point".
    """
    if value < 0:
        return f"minus {say(-value, form)}"
    whole = int(value)
    if value == whole:
        return _digits(str(whole)) if form == "digits" else _whole(whole, form)
    if form == "decimal" or (value * 16) % 1:
        digits = f"{value:.4f}".split(".")[1].rstrip("0")
        return f"{_whole(whole, 'int')} point {_digits(digits)}"
    part = _part(value - whole)
    return part if whole == 0 else f"{below_hundred(whole)} and {'a half' if part == 'half' else part}"


def _digits(figures: str) -> str:
    return " ".join(_said().small[int(digit)] for digit in figures)


def _part(part: float) -> str:
    """Of an inch: halves, quarters, eighths or sixteenths."""
    below = next(below for below in (2, 4, 8, 16) if part * below % 1 == 0)
    above = int(part * below)
    if below == 2:
        return "half"
    return f"{below_hundred(above)} {_PARTS[below]}{'s' if above > 1 and below > 4 else ''}"


_PARTS = {4: "quarter", 8: "eighth", 16: "sixteenth"}


@by_language
def wordings(value: int) -> tuple[str, ...]:
    """All usual wordings of 0..9999, the commonest first: 205 -> "two oh five", "two hundred five" …"""
    if value < 100:
        return (below_hundred(value),)
    if not number_words().elides_hundreds:
        return (_in_full(value),)
    return tuple(dict.fromkeys(_hundreds(value) if value < 1000 else _thousands(value)))


def _hundreds(value: int) -> list[str]:
    hundreds, rest = divmod(value, 100)
    head = below_hundred(hundreds)
    if rest == 0:
        return [f"{head} hundred", *(["a hundred"] if hundreds == 1 else [])]
    tail = below_hundred(rest)
    short = f"{head} oh {tail}" if rest < 10 else f"{head} {tail}"
    digits = f"{head} {'oh' if rest < 10 else below_hundred(rest // 10)} {below_hundred(rest % 10)}"
    said = [short, f"{head} hundred {tail}", f"{head} hundred and {tail}"]
    if hundreds == 1:
        said += [f"a hundred {tail}", f"a hundred and {tail}"]
    return [*said, digits]


def _thousands(value: int) -> list[str]:
    thousands, rest = divmod(value, 1000)
    head = below_hundred(thousands)
    if rest == 0:
        return [f"{head} thousand", *(["a thousand"] if thousands == 1 else [])]
    said = []
    hundreds, below = divmod(value, 100)
    if hundreds % 10:
        said += [f"{below_hundred(hundreds)} hundred" + (f" {below_hundred(below)}" if below else "")]
    if below and hundreds % 10:
        said += [f"{below_hundred(hundreds)} {below_hundred(below) if below >= 10 else 'oh ' + below_hundred(below)}"]
    tails = (
        [text for text in _hundreds(rest) if "hundred" in text and not text.startswith("a ")]
        if rest >= 100
        else [below_hundred(rest)]
    )
    return said + [f"{head} thousand {tail}" for tail in tails]


def clock_wordings(hour: int, minute: int) -> tuple[str, ...]:
    """A clock time: "fourteen twelve", "fourteen hundred", "oh nine thirty", "nine oh five"."""
    heads = [below_hundred(hour)]
    if hour < 10:
        heads.append(f"oh {below_hundred(hour)}" if hour else "zero zero")
    tail = "hundred" if minute == 0 else f"oh {below_hundred(minute)}" if minute < 10 else below_hundred(minute)
    return tuple(f"{head} {tail}" for head in heads)


def spoken(text: str) -> str:
    """A name as it is said, in lower-case words: "Crosslay 1" -> "crosslay one", "Engine 12" -> "engine twelve"."""
    text = re.sub(r"(\d+)", lambda found: f" {_say(int(found[1]))} ", text.lower().replace("'", ""))
    return " ".join(re.sub(r"[^a-zà-ÿ ]", " ", text).split())


def _say(value: int) -> str:
    return wordings(value)[0] if value < 10_000 else _digits(str(value))


with speaking(ENGLISH):
    ONES = tuple(below_hundred(n) for n in range(10))
    TEENS = tuple(below_hundred(n) for n in range(10, 20))
    TENS = tuple(below_hundred(n) for n in range(0, 100, 10))
"""The words of zero to nine, of ten to nineteen, and of each ten, for the recognisers."""
