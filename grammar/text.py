"""Turns a message into plain tokens: one case, one kind of quote, fractions and units apart from their numbers."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from typing import NamedTuple

from grammar.lexicon import by_language, language, lately

LONGEST = 4096
"""Characters of a message that are still read."""


class Token(NamedTuple):
    """A word, a number in digits, a clock time or a mark, with its place in the original message."""

    text: str
    start: int
    end: int
    glued: bool
    """No space stands between it and the token before."""


_VULGAR = {c: unicodedata.normalize("NFKC", c).replace("\u2044", "/") for c in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
_MARKS = str.maketrans(
    {
        "‘": "'",
        "’": "'",
        "′": "'",
        "`": "'",
        "´": "'",
        "“": '"',
        "”": '"',
        "″": '"',
        "„": '"',
        "−": "-",
        "–": "-",
        "—": ",",
        "‑": "-",
        "‐": "-",
        "×": "x",
        "⁄": "/",
        "…": ".",
        "•": ",",
        "·": ",",
        "|": ",",
        "→": " to ",
        "\u00a0": " ",
        "\t": " ",
        "²": " ",
        "³": " ",
        "°": " ",
    }
)

_TOKEN = re.compile(
    r"(?P<time>\d{1,2}:\d{2}(?::\d{2})?(?!\d))"
    r"|(?P<num>\d{1,2}(?:,\d{3})+(?:\.\d+)?(?!\d)|\d+\.\d+|\.\d+(?<!\.\.)|\d+)"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<mark>[.,;:!?%&+@\"'/()#\n-])"
)

_SENTENCES = re.compile(r"(?:[a-z]{3,}|\d)\.\s")
"""The message is written in sentences."""
_DRAWN_OUT = re.compile(r"([^\W\d_])\1{3,}")
_ZEROS = re.compile(r"(?<![a-z])\d+o+(?![a-z])")
"""The letter for the digit: "2oo"."""


class Written(NamedTuple):
    """How a language is written, as text.toml explains it."""

    contracted: Mapping[str, str]
    whole: Mapping[str, tuple[str, ...]]
    abbreviations: frozenset[str]
    stopped: frozenset[str]
    goes_on: re.Pattern[str]
    forms: tuple[tuple[re.Pattern[str], str], ...]


@by_language
def written() -> Written:
    """How the language that is read is written."""
    data = language().get("text", {})
    return Written(
        data.get("contracted", {}),
        {word: tuple(read.split()) for word, read in data.get("whole", {}).items()},
        frozenset(data.get("abbreviations", ())),
        frozenset(data.get("stopped", ())),
        re.compile(rf"\s+(?:{'|'.join(data.get('goes_on', ['(?!)']))})\b"),
        tuple((re.compile(form), plain) for form, plain in data.get("forms", ())),
    )


def clean(message: str) -> str:
    """Lower case, plain quotes, dashes and fractions; every other symbol and emoji becomes a space."""
    text = message.translate(_MARKS)
    if not text.isascii():
        text = "".join(f" {_VULGAR[c]} " if c in _VULGAR else c for c in text)
        text = unicodedata.normalize("NFKD", text)
    text = _ZEROS.sub(lambda m: m.group().replace("o", "0"), text.lower())
    if not text.isascii():
        text = "".join(_plain_digit(c) for c in text if not unicodedata.combining(c))
    for pattern, plain in written().forms:
        text = pattern.sub(plain, text)
    return _DRAWN_OUT.sub(r"\1\1\1", text)


def unaccented(text: str) -> str:
    """Letters without their accents, as `clean` gives them."""
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _plain_digit(c: str) -> str:
    """A digit of another script, or in a circle, as the plain one: a number is never dropped."""
    if c.isascii() or not c.isdigit():
        return c
    return str(unicodedata.digit(c)) if c.isdecimal() else f" {unicodedata.digit(c)} "


@lately(32)
def tokens(message: str) -> tuple[Token, ...]:
    """The tokens of a cleaned or raw message; `start` and `end` count characters of the cleaned text.

    A quote mark right after a number is its unit (feet, inches); a hyphen counts only as a minus before a number.
    """
    text = clean(message)
    found: list[Token] = []
    last = 0
    for match in _TOKEN.finditer(text):
        start, end = match.span()
        glued = start == last and start > 0
        last = end
        kind = match.lastgroup
        piece = match.group()
        if kind == "word":
            found.extend(_words(piece, start, end, glued))
        elif kind == "mark":
            mark = _mark(piece, start, glued, found, text)
            if mark:
                found.append(Token(mark, start, end, glued))
        else:
            found.append(Token(piece, start, end, glued))
    return tuple(found)


def spaced(message: str) -> str:
    """The words of a message with one space around each, marks as words: " we are lost , engine 9 "."""
    return " " + " ".join(token.text for token in tokens(message)) + " "


_PLAIN = re.compile(r"(?:[a-z]+|\d+)(?: (?:[a-z]+|\d+))*")


def words_of(phrase: str) -> list[str]:
    """The words of a phrase, as `tokens` gives them; quick for plain ones."""
    if _PLAIN.fullmatch(phrase):
        words = phrase.split(" ")
        if written().whole.keys().isdisjoint(words):
            return words
    return [t.text for t in tokens(phrase)]


def _words(word: str, start: int, end: int, glued: bool) -> list[Token]:
    known = written()
    whole = known.whole.get(word)
    if whole is None and "'" in word:
        for tail, plain in known.contracted.items():
            if word.endswith(tail) and len(word) > len(tail):
                return [Token(word[: -len(tail)], start, end, glued), Token(plain, start, end, True)]
        else:
            whole = (word.replace("'", ""),)
    if whole is None:
        return [Token(word, start, end, glued)]
    return [Token(w, start, end, glued and i == 0) for i, w in enumerate(whole)]


def _mark(mark: str, start: int, glued: bool, before: list[Token], text: str) -> str | None:
    """What a mark means where it stands: a unit, a minus, a pause, or nothing."""
    after = text[start + 1 : start + 2]
    prior = before[-1].text if before else ""
    if mark in "'\"":
        if (
            mark == "'"
            and after == "s"
            and not text[start + 2 : start + 3].isalpha()
            and "." not in prior
            and prior.isdigit()
        ):
            return None  # "engine 9's air"
        if glued and (prior[-1:].isdigit()):
            return "ft_mark" if mark == "'" else "in_mark"
        if mark == "'" and glued and prior == "ft_mark":  # two single quotes: inches
            before.pop()
            return "in_mark"
        return None
    if mark == "-":
        if (after.isdigit() or after == ".") and not glued:
            return "minus"
        return None
    if mark == ".":
        short = prior in written().abbreviations or (len(prior) == 1 and prior.isalpha())
        if prior in written().stopped and after == " " and not written().goes_on.match(text, start + 1):
            # "200 ft. 1.75": a short form, or the end of what is told of a line
            return "." if prior in ("gpm", "psi") or _SENTENCES.search(text) else ","
        return None if glued and short and after not in ("", "\n") else "."
    if mark in "()#":
        return "," if mark in "()" else None
    return mark
