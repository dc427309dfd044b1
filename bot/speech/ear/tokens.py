"""The ear's token table: byte-pair tokens by rank, cut to what trade and plain English need.

The table is one token a line in rank order (the printable byte alphabet of byte-level BPE), so that the merges need no
list of their own: of all neighbouring pairs, the one whose joined token has the lowest rank is merged first. All 256
single bytes are kept, so any word can be spelled. Three control tokens follow the table: end, start and "no time
stamps".
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path


def byte_alphabet() -> list[str]:
    """The printable character that stands for each byte 0..255 (printable Latin-1 stays, the rest moves up)."""
    printable = [*range(ord("!"), ord("~") + 1), *range(ord("¡"), ord("¬") + 1), *range(ord("®"), ord("ÿ") + 1)]
    alphabet, moved = [""] * 256, 0
    for byte in range(256):
        if byte in printable:
            alphabet[byte] = chr(byte)
        else:
            alphabet[byte] = chr(256 + moved)
            moved += 1
    return alphabet


class Tokens:
    """Encodes and decodes text with a (cut) token table. Immutable; safe to share between threads."""

    def __init__(self, table: Iterable[str]) -> None:
        self.table = tuple(table)
        self._rank = {token: rank for rank, token in enumerate(self.table)}
        self._letters = byte_alphabet()
        self._bytes = {letter: byte for byte, letter in enumerate(self._letters)}
        self.end, self.start, self.no_timestamps = (len(self.table) + i for i in range(3))
        self._encode_word = lru_cache(maxsize=16_384)(self._merge)

    def __len__(self) -> int:
        """Rows of the table, control tokens included."""
        return len(self.table) + 3

    @classmethod
    def load(cls, path: Path) -> Tokens:
        """Read a table written by `save`."""
        return cls(path.read_text(encoding="utf-8").split("\n"))

    def save(self, path: Path) -> None:
        """Write the table, one token a line."""
        path.write_text("\n".join(self.table), encoding="utf-8")

    def encode(self, words: str) -> tuple[int, ...]:
        """Ids of space-separated words, each with the space before it (so the first too)."""
        return tuple(token for word in words.split() for token in self.encode_word(word))

    def encode_word(self, word: str) -> tuple[int, ...]:
        """Ids of one word with the space before it."""
        return self._encode_word(" " + word)

    def decode(self, ids: Iterable[int]) -> str:
        """Text of token ids; control tokens are left out."""
        letters = "".join(self.table[i] for i in ids if i < len(self.table))
        return bytes(self._bytes[letter] for letter in letters).decode("utf-8", errors="replace")

    def _merge(self, text: str) -> tuple[int, ...]:
        pieces = [self._letters[byte] for byte in text.encode("utf-8")]
        while len(pieces) > 1:
            ranks = [self._rank.get(a + b, len(self.table)) for a, b in pairwise(pieces)]
            best = min(range(len(ranks)), key=ranks.__getitem__)
            if ranks[best] == len(self.table):
                break
            pieces[best : best + 2] = [pieces[best] + pieces[best + 1]]
        return tuple(self._rank[piece] for piece in pieces)
