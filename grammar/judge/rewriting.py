"""Readings of the tagger's own: what it recognised is said again in plain words, and the rules read those.

It gives a head and slots; a plain wording of that head with those slots (data/wordings.json, from the bank) takes
the speaker's own words for each slot. So commands are built by the rules, and every number by the number reader.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path

from grammar.commands import Reading
from grammar.judge.network import DATA, Network, Tagged
from grammar.judge.pieces import plain
from grammar.splitting import Part

Considered = Callable[[str], tuple[Reading, list[tuple[Part, str]]]]
_LIKELY = 0.5
_CONFIDENT = 0.85
ACTING = ("reported", "asked", "ordered")
SLOT = re.compile(r"<(\w+)>")


@cache
def wordings(path: Path = DATA / "wordings.json") -> dict[str, str]:
    """A plain wording for a head and its slots, as `key` names them."""
    found: dict[str, str] = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    return found


def key(heads: Sequence[str], slots: Sequence[str]) -> str:
    """The name of a wording: its heads, and the slots in the order in which they stand there."""
    return f"{' + '.join(sorted(heads))} | {' '.join(sorted(slots))}"


def slots_of(text: str, tagged: Tagged) -> list[tuple[str, str]]:
    """The slots that the tagger sees, each with its words."""
    said = plain(text)
    out = []
    for tag, run in groupby(tagged.words, lambda word: word[2]):
        found = list(run)
        if tag not in ("C", "O"):
            out.append((tag, said[found[0][0] : found[-1][1]].strip(" ,.")))
    return out


def heads_of(tagged: Tagged, network: Network) -> list[str]:
    """The heads that are likely said so."""
    return sorted(
        {
            name
            for (name, stance), p in zip(network.heads, tagged.heads, strict=True)
            if p > _LIKELY and stance in ACTING
        }
    )


def rewritten(text: str, tagged: Tagged, network: Network) -> str | None:
    """The message in plain words; None where the tagger sees none."""
    heads = heads_of(tagged, network)
    if any(p > _LIKELY and stance not in ACTING for (_, stance), p in zip(network.heads, tagged.heads, strict=True)):
        return None
    heads = [
        head
        for head in heads
        if not (head.startswith("benchmark") and f"status : about{head.partition(': benchmark')[2]}" in heads)
    ]
    slots = slots_of(text, tagged)
    wording = wordings().get(key(heads, [tag for tag, _ in slots])) if heads else None
    if wording is None:
        return None
    left = list(slots)

    def fill(slot: re.Match[str]) -> str:
        k = next(k for k, (tag, _) in enumerate(left) if tag == slot[1])
        return left.pop(k)[1]

    return SLOT.sub(fill, wording)


def own_reading(text: str, tagged: Tagged, network: Network, by_rules: Considered) -> tuple[str, Part] | None:
    """The words and how the rules read them, where they do so for certain."""
    words = rewritten(text, tagged, network)
    if words is None or words == plain(text):
        return None
    reading, found = by_rules(words)
    if not reading.commands or reading.confidence < _CONFIDENT:
        return None
    part = next((part for part, _ in found if part.commands == reading.commands), None)
    return None if part is None else (words, part)
