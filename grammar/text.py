"""Turns a message into plain tokens: one case, one kind of quote, fractions and units apart from their numbers."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

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

_CONTRACTED = {
    "n't": "not", "'re": "are", "'ve": "have", "'ll": "will", "'d": "would", "'m": "am", "'s": "is",
}  # fmt: skip
_WHOLE = {
    "can't": ("can", "not"),
    "cant": ("can", "not"),
    "cannot": ("can", "not"),
    "won't": ("will", "not"),
    "wont": ("will", "not"),
    "ain't": ("is", "not"),
    "aint": ("is", "not"),
    "dont": ("do", "not"),
    "isnt": ("is", "not"),
    "havent": ("have", "not"),
    "hasnt": ("has", "not"),
    "didnt": ("did", "not"),
    "arent": ("are", "not"),
    "wasnt": ("was", "not"),
    "werent": ("were", "not"),
    "doesnt": ("does", "not"),
    "shouldnt": ("should", "not"),
    "couldnt": ("could", "not"),
    "wouldnt": ("would", "not"),
    "hadnt": ("had", "not"),
    "whats": ("what", "is"),
    "hows": ("how", "is"),
    "wheres": ("where", "is"),
    "thats": ("that", "is"),
    "theres": ("there", "is"),
    "weve": ("we", "have"),
    "im": ("i", "am"),
    "theyre": ("they", "are"),
    "youre": ("you", "are"),
    "let's": ("let", "us"),
    "lets": ("let", "us"),
    "gonna": ("going", "to"),
    "wanna": ("want", "to"),
    "gotta": ("got", "to"),
    "gimme": ("give", "me"),
    "lemme": ("let", "me"),
    "shes": ("she", "is"),
    "hes": ("he", "is"),
    "its": ("it", "is"),
    "whos": ("who", "is"),
    "y'all": ("you",),
    "yall": ("you",),
    "o'clock": ("oclock",),
    "dunno": ("do", "not", "know"),
    "psi's": ("psi",),
    "rit's": ("rit", "is"),
}
_STOPPED = frozenset(("gpm", "psi", "ft", "in"))
_GOES_ON = re.compile(r"\s+(?:of|x|up|down|long|above|below|tip|line|hose|smooth|bore|by|each|and|the|storz|deck)\b")
"""What follows a short form that a stop belongs to."""
_SENTENCES = re.compile(r"(?:[a-z]{3,}|\d)\.\s")
"""The message is written in sentences."""
_ZEROS = re.compile(r"(?<![a-z])\d+o+(?![a-z])")
"""The letter for the digit: "2oo"."""
_ABBREVIATIONS = frozenset(
    [
        "ft",
        "in",
        "gal",
        "min",
        "mins",
        "sec",
        "secs",
        "lbs",
        "lb",
        "no",
        "st",
        "nd",
        "rd",
        "th",
        "approx",
        "hr",
        "hrs",
        "vs",
        "mm",
        "gpm",
        "psi",
        "ave",
        "blvd",
        "dr",
    ]
)
_SLASHED = [
    (re.compile(p), r)
    for p, r in (
        (r"\bgal(?:lons?)?\s?/\s?min(?:ute)?\b", "gpm"),
        (r"\bl(?:iters?|itres?)?\s?/\s?min(?:ute)?\b", "lpm"),
        (r"\bw\s?/\s?o\b", "without"),
        (r"\bw\s?/", "with "),
        (r"\bu/c\b", "under control"),
        (r"\band\s?/\s?or\b", "or"),
        (r"\b10-4\b", "tenfour"),
        (r"\b([gp])\.\s?([ps])\.\s?([mi])\.?(?=\W|$)", r"\1\2\3"),
        (r"\bc\.?\s?p\.?\s?r\b\.?", "cpr"),
        (r"\bp\s?\.?a\.?\s?r\b\.?(?=\W|$)", "par"),
        (r"(\d)\s?(?:k)\b(?!pa)", r"\g<1>000"),
    )
]


def clean(message: str) -> str:
    """Lower case, plain quotes, dashes and fractions; every other symbol and emoji becomes a space."""
    text = "".join(f" {_VULGAR[c]} " if c in _VULGAR else c for c in message.translate(_MARKS))
    text = unicodedata.normalize("NFKD", text).lower()
    text = _ZEROS.sub(lambda m: m.group().replace("o", "0"), text)
    text = "".join(_plain_digit(c) for c in text if not unicodedata.combining(c))
    for pattern, plain in _SLASHED:
        text = pattern.sub(plain, text)
    return re.sub(r"([^\W\d_])\1{3,}", r"\1\1\1", text)


def _plain_digit(c: str) -> str:
    """A digit of another script, or in a circle, as the plain one: a number is never dropped."""
    if c.isascii() or not c.isdigit():
        return c
    return str(unicodedata.digit(c)) if c.isdecimal() else f" {unicodedata.digit(c)} "


@lru_cache(maxsize=32)
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


_PLAIN = re.compile(r"(?:[a-z]+|\d+)(?: (?:[a-z]+|\d+))*")


def words_of(phrase: str) -> list[str]:
    """The words of a phrase, as `tokens` gives them; quick for plain ones."""
    if _PLAIN.fullmatch(phrase):
        words = phrase.split(" ")
        if not any(w in _WHOLE for w in words):
            return words
    return [t.text for t in tokens(phrase)]


def _words(word: str, start: int, end: int, glued: bool) -> list[Token]:
    whole = _WHOLE.get(word)
    if whole is None and "'" in word:
        for tail, plain in _CONTRACTED.items():
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
        short = prior in _ABBREVIATIONS or (len(prior) == 1 and prior.isalpha())
        if prior in _STOPPED and after == " " and not _GOES_ON.match(text, start + 1):
            # "200 ft. 1.75": a short form, or the end of what is told of a line
            return "." if prior in ("gpm", "psi") or _SENTENCES.search(text) else ","
        return None if glued and short and after not in ("", "\n") else "."
    if mark in "()#":
        return "," if mark in "()" else None
    return mark
