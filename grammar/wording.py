"""Wordings as data: how a thing is said, written as words with alternatives, and found anywhere in a message.

`(a | b)` is one of them, `[a]` may be left out, `<name>` is one of a list's words, `<unit>` a company or crew, `<year>`
a year and `<digits>` a number in figures, `_` any word, `~` up to three of them, `_*` up to seven, pauses too.
Contractions stand whole ("can not", "is not"), as `grammar.text.tokens` gives them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache

from grammar.text import tokens
from grammar.vocabulary import vocabulary

Lists = Mapping[str, Sequence[str]]
_ANY = r"(?!(?:not|no|never|nobody) )[^ .,;:!?]+"
"""A word between others that doesn't deny them."""
_PIECE = re.compile(r"<\w+>|_\*|[\[\]()|]|[^\s\[\]()|<>]+")


def spaced(text: str) -> str:
    """The words of a message with one space around each, marks as words: " we are lost , engine 9 "."""
    return " " + " ".join(t.text for t in tokens(text)) + " "


def pattern(wordings: Sequence[str], lists: Lists) -> re.Pattern[str]:
    """One expression for all the wordings, to be searched in `spaced` words."""
    return re.compile("(?<= )(?:" + "|".join(expression(one, lists) for one in wordings) + ")(?= )")


def expression(wording: str, lists: Lists) -> str:
    """A wording as a regular expression over words with one space between them."""
    return _sequence(_PIECE.findall(wording), 0, lists)[0]


def _sequence(pieces: Sequence[str], i: int, lists: Lists) -> tuple[str, int]:
    """The expression of pieces i.. up to a closing mark, and where that stands."""
    ways: list[list[tuple[str, bool]]] = [[]]
    while i < len(pieces) and pieces[i] not in (")", "]"):
        piece = pieces[i]
        if piece == "|":
            ways.append([])
        elif piece in ("(", "["):
            inner, i = _sequence(pieces, i + 1, lists)
            ways[-1].append((f"(?:{inner})", piece == "["))
        elif piece == "~":
            ways[-1].append((rf"(?:{_ANY}(?: {_ANY}){{0,2}})", True))
        elif piece == "_*":
            ways[-1].append((r"(?:[^ .;!?]+(?: [^ .;!?]+){0,6})", True))
        else:
            ways[-1].append((_word(piece, lists), False))
        i += 1
    return "|".join(_joined(way) for way in ways), i


def _word(piece: str, lists: Lists) -> str:
    if piece == "_":
        return r"[^ .,;:!?]+"
    if piece == "<unit>":
        return _unit()
    if piece in _FIGURES:
        return _FIGURES[piece]
    if piece.startswith("<"):
        return "(?:" + "|".join(expression(one, lists) for one in lists[piece[1:-1]]) + ")"
    return re.escape(piece)


_FIGURES = {"<year>": r"(?:19|20)\d\d", "<digits>": r"\d+"}


def _joined(way: Sequence[tuple[str, bool]]) -> str:
    """Pieces with a space between them; one that may be left out takes its space with it."""
    out, begun = "", False
    for one, optional in way:
        if optional:
            out += f"(?: {one})?" if begun else f"(?:{one} )?"
        else:
            out += f" {one}" if begun else one
            begun = True
    return out


_NUMBERS = (
    "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen|"
    "eighteen|nineteen|(?:twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)(?: [a-z]+)?"
)
_CREWS = "attack|search|entry|vent|interior|roof|rescue|hose|backup|fire attack|truck|engine"


@cache
def _unit() -> str:
    """ "engine 9", "truck four", "the search team": a kind of company with its number, or a crew by its task."""
    kinds = {w for c, ways in vocabulary().concepts.items() if c.startswith("app:") for w in ways if len(w) > 2}
    named = "|".join(map(re.escape, sorted(kinds, key=len, reverse=True)))
    return rf"(?:(?:{named}) (?:company )?(?:\d+|{_NUMBERS})(?: s)?|(?:the )?(?:{_CREWS}) (?:team|crew|company))"
