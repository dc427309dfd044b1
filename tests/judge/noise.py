"""Spoils a labelled sentence as rooms and recognisers do, and keeps its labels: every word carries its tag."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path
from typing import NamedTuple


class Word(NamedTuple):
    """A word as written, and its tag: a slot's name, "C" of the command, "O" said besides; "" unknown."""

    text: str
    tag: str


def tagged(text: str, spans: tuple[tuple[int, int, str], ...], rest: str) -> list[Word]:
    """The words of a sentence with the slots that they stand in, the others tagged `rest`."""
    out, at = [], 0
    for part in text.split():
        start = text.index(part, at)
        at = start + len(part)
        tag = next((field for a, b, field in spans if start < b and at > a), rest)
        out.append(Word(part, tag))
    return out


_LISTED = tomllib.loads(Path(__file__).with_name("noise.toml").read_text(encoding="utf-8"))
FILLERS, CALLS, TAILS, STRANGE = (_LISTED[name] for name in ("fillers", "calls", "tails", "strange"))
THINGS, STATES, ASIDES, WANTED = (_LISTED[name] for name in ("things", "states", "asides", "wanted"))
HEARD, SHORT, NICKNAMES = (_LISTED[name] for name in ("heard", "short", "nicknames"))
KEYS = {a: b for row in ("qwertyuiop", "asdfghjkl", "zxcvbnm") for a, b in zip(row, row[1:] + row[-2], strict=True)}


def spoil(words: list[Word], rng: random.Random, amount: float = 1.0) -> list[Word]:
    """The sentence with some noise; nothing that makes it mean something else."""
    words = [*words]
    if rng.random() < 0.25 * amount:
        words = _said(rng.choice(CALLS) + rng.choice((",", ",", "", ":")), "O") + words
    if rng.random() < 0.18 * amount:
        words += _said(rng.choice(TAILS), "O")
    for _ in range(2):
        if rng.random() < 0.22 * amount:
            _put(words, rng.choice(FILLERS), rng)
    if rng.random() < 0.22 * amount:
        words = _beside(words, scenery(rng), rng)
    if rng.random() < 0.10 * amount:
        _before_noun(words, rng.choice(STRANGE), rng)
    if rng.random() < 0.22 * amount:
        _misspell(words, rng)
    if rng.random() < 0.10 * amount:
        _swap_in(words, HEARD, rng)
    if rng.random() < 0.15 * amount:
        _swap_in(words, SHORT, rng)
    if rng.random() < 0.20 * amount:
        words = [Word(bare, w.tag) for w in words if (bare := w.text.rstrip(",.?!;:"))]
    if rng.random() < 0.03 * amount:
        _stick(words, rng)
    return words


def scenery(rng: random.Random) -> str:
    """A clause that tells nothing."""
    pick = rng.random()
    if pick < 0.5:
        return rng.choice(ASIDES)
    return f"{rng.choice(THINGS)} {rng.choice(STATES)}" if pick < 0.85 else f"got {rng.choice(THINGS)}"


def _beside(words: list[Word], clause: str, rng: random.Random) -> list[Word]:
    """A clause before or behind, with a pause or none."""
    pause = rng.choice((",", ",", "", ".", " and", " -"))
    extra = _said(clause, "O" if any(w.tag for w in words) else "")
    if rng.random() < 0.5:
        extra[-1] = Word(extra[-1].text + pause.rstrip(" and-"), extra[-1].tag)
        return extra + words
    return [*words[:-1], Word(words[-1].text + pause.rstrip(" and-"), words[-1].tag), *extra]


def wanted(words: list[Word], rng: random.Random) -> list[Word]:
    """A lay asked for, with the question said in another way before or behind it."""
    asked = _said(rng.choice(WANTED), "C")
    if rng.random() < 0.35:
        return asked + _said(rng.choice(("for", "on", "with", "at")), "C") + words
    return [*words[:-1], Word(words[-1].text + rng.choice((",", ",", "", ".")), words[-1].tag), *asked]


def renamed(words: list[Word], rng: random.Random) -> list[Word]:
    """A line of the rig by another of its names."""
    for k, word in enumerate(words):
        called = next(
            (names for key, names in NICKNAMES.items() if word.tag == "name" and word.text.lower().startswith(key)),
            None,
        )
        if called is not None:
            end = (
                k + 2
                if word.text.lower() in ("bumper", "rear", "deck") and k + 1 < len(words) and words[k + 1].tag == "name"
                else k + 1
            )
            return words[:k] + _said(rng.choice(called), "name") + words[end:]
    return words


def _said(text: str, tag: str) -> list[Word]:
    return [Word(part, tag) for part in text.split()]


def _inside(words: list[Word], k: int) -> bool:
    """Between the words of one slot nothing is put."""
    return 0 < k < len(words) and words[k].tag == words[k - 1].tag and words[k].tag not in ("C", "O", "")


def _put(words: list[Word], text: str, rng: random.Random) -> None:
    k = rng.choice((0, rng.randrange(len(words) + 1)))
    if not _inside(words, k):
        words[k:k] = _said(text, "O" if any(w.tag for w in words) else "")


def _before_noun(words: list[Word], text: str, rng: random.Random) -> None:
    places = [
        k for k, w in enumerate(words) if k and w.tag in ("C", "") and words[k - 1].text in ("the", "a", "our", "that")
    ]
    if places:
        k = rng.choice(places)
        words[k:k] = _said(text, "O" if any(w.tag for w in words) else "")


def _misspell(words: list[Word], rng: random.Random) -> None:
    places = [k for k, w in enumerate(words) if len(w.text) >= 4 and w.text.isalpha()]
    if not places:
        return
    k = rng.choice(places)
    words[k] = Word(misspelt(words[k].text, rng), words[k].tag)


def misspelt(word: str, rng: random.Random) -> str:
    """One slip: letters swapped, dropped, doubled, or the key beside."""
    at = rng.randrange(1, len(word) - 1)
    slip = rng.randrange(4)
    if slip == 0:
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    if slip == 1:
        return word[:at] + word[at + 1 :]
    if slip == 2:
        return word[:at] + word[at] + word[at:]
    return word[:at] + KEYS.get(word[at].lower(), "e") + word[at + 1 :]


def _swap_in(words: list[Word], table: dict[str, str], rng: random.Random) -> None:
    places = [k for k, w in enumerate(words) if w.text.lower() in table]
    if places:
        k = rng.choice(places)
        words[k] = Word(table[words[k].text.lower()], words[k].tag)


def _stick(words: list[Word], rng: random.Random) -> None:
    places = [k for k in range(1, len(words)) if words[k].tag == words[k - 1].tag == "C"]
    if places:
        k = rng.choice(places)
        words[k - 1 : k + 1] = [Word(words[k - 1].text + words[k].text, "C")]
