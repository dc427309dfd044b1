"""Makes a sentence worse the way thumbs and recognisers do, so that what it means stays plain to a listener.

Digits are never touched: another digit is another number, and no reader can know better.
"""

from __future__ import annotations

import random
import re

# What a recogniser writes for what was said (homophones and near ones), both ways where both happen. Common practice.
SOUNDS_LIKE: tuple[tuple[str, str], ...] = (
    ("two", "to"),
    ("two", "too"),
    ("to", "two"),
    ("four", "for"),
    ("for", "four"),
    ("one", "won"),
    ("eight", "ate"),
    ("feet", "feat"),
    ("feet", "feed"),
    ("foot", "fought"),
    ("inch and", "inch in"),
    ("inch and", "inch an"),
    ("inch and", "inches and"),
    ("and a half", "in a half"),
    ("and a half", "and a have"),
    ("quarter", "quarters"),
    ("quarter", "quartered"),
    ("hose", "hoes"),
    ("gallons", "galleons"),
    ("gallon", "galleon"),
    ("lines", "lions"),
    ("floor", "flora"),
    ("fourth", "forth"),
    ("crosslay", "cross lay"),
    ("crosslay", "cross late"),
    ("crosslay", "crossly"),
    ("par", "bar"),
    ("nozzle", "nasal"),
    ("tip", "tips"),
    ("scene", "seen"),
    ("route", "root"),
    ("hydrant", "hydrants"),
    ("static", "statics"),
    ("residual", "residue"),
    ("intake", "in take"),
    ("pitot", "peto"),
    ("complete", "compete"),
    ("knocked", "knock"),
    ("controlled", "control"),
    ("deuce", "duce"),
    ("tank", "thank"),
    ("charge", "charged"),
    ("engine", "engines"),
    ("epi", "eppy"),
    ("rit", "writ"),
    ("overhaul", "over haul"),
    ("mayday", "may day"),
    ("everybody", "every body"),
    ("command", "commend"),
)

_NEIGHBOURS = {
    "q": "wa", "w": "qes", "e": "wrd", "r": "etf", "t": "ryg", "y": "tuh", "u": "yij", "i": "uok", "o": "ipl",
    "p": "ol", "a": "qsz", "s": "awdx", "d": "sefc", "f": "drgv", "g": "fthb", "h": "gyjn", "j": "hukm",
    "k": "jil", "l": "kop", "z": "asx", "x": "zsdc", "c": "xdfv", "v": "cfgb", "b": "vghn", "n": "bhjm", "m": "njk",
}  # fmt: skip


def typo(rng: random.Random, said: str) -> str:
    """One slip of a thumb in a word of four letters or more: letters swapped, one lost, doubled or beside its key."""
    words = list(re.finditer(r"[A-Za-z]{4,}", said))
    if not words:
        return said
    word = rng.choice(words)
    at = word.start() + rng.randrange(len(word.group()) - 1)
    letter = said[at]
    slips = (
        said[at + 1] + letter,
        said[at + 1],
        letter + letter + said[at + 1],
        rng.choice(_NEIGHBOURS[letter.lower()]) + said[at + 1],
    )
    return said[:at] + rng.choice(slips) + said[at + 2 :]


def misheard(rng: random.Random, said: str) -> str:
    """One word as a recogniser may have written it; the sentence itself where none of its words is in the table."""
    found = [(a, b) for a, b in SOUNDS_LIKE if re.search(rf"\b{a}\b", said, re.IGNORECASE)]
    if not found:
        return said
    was, heard = rng.choice(found)
    places = list(re.finditer(rf"\b{was}\b", said, re.IGNORECASE))
    place = rng.choice(places)
    return said[: place.start()] + heard + said[place.end() :]
