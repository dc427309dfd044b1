"""Cuts text into the network's word pieces: lower case, accents off, longest known piece first (WordPiece)."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

_LONGEST_WORD = 40
_FRACTIONS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8", "×": " x "}
_QUOTES = str.maketrans({"’": "'", "‘": "'", "′": "'", "“": '"', "”": '"', "″": '"', "–": "-", "—": "-"})
_WORD = re.compile(r"[a-z]+|\d+|[^\sa-z\d]")


class Word(NamedTuple):
    """A word, a number in figures or a mark, with its place in the plain text."""

    text: str
    start: int
    end: int


def plain(text: str) -> str:
    """The text as the network sees it: fractions written out, lower case, no accents."""
    for glyph, written in _FRACTIONS.items():
        text = text.replace(glyph, written)
    text = unicodedata.normalize("NFD", text.translate(_QUOTES).lower())
    return "".join(char for char in text if unicodedata.category(char) != "Mn")


def words(text: str) -> list[Word]:
    """The words of a plain text; letters, figures and marks stand apart."""
    return [Word(found[0], found.start(), found.end()) for found in _WORD.finditer(text)]


class Pieces:
    """A table of word pieces; a piece that goes on a word begins with ##."""

    def __init__(self, table: Sequence[str]) -> None:
        self.table = tuple(table)
        self._row = {piece: row for row, piece in enumerate(self.table)}
        self.unknown, self.begin, self.end = (self._row[name] for name in ("[UNK]", "[CLS]", "[SEP]"))

    @classmethod
    def load(cls, path: Path) -> Pieces:
        """A table from a file, a piece a line."""
        return cls(path.read_text(encoding="utf-8").splitlines())

    def rows(self, word: str) -> list[int]:
        """A word's pieces; one unknown where it can't be cut."""
        out: list[int] = []
        start = 0
        while start < len(word):
            for end in range(min(len(word), start + _LONGEST_WORD), start, -1):
                piece = word[start:end] if start == 0 else f"##{word[start:end]}"
                row = self._row.get(piece)
                if row is not None:
                    out.append(row)
                    start = end
                    break
            else:
                return [self.unknown]
        return out
