"""Spoils a labelled sentence as rooms and recognisers do, and keeps its labels: every word carries its tag."""

from __future__ import annotations

import random
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


FILLERS = ("uh", "um", "okay", "ok", "so", "well", "yeah", "hey", "alright", "real quick", "please", "right now", "you know", "just",
           "basically", "I mean", "looks like", "got", "now", "here", "copy", "be advised", "for the log", "fyi", "err", "erm")  # fmt: skip
CALLS = ("command", "chief", "cap", "hey cap", "driver", "engineer", "hey driver", "boss", "lieutenant", "hey chief", "operator", "pump operator",
         "IC", "sir", "guys", "hey", "listen up", "bot", "loo", "ok driver", "hey engineer", "command from interior", "ops")  # fmt: skip
TAILS = ("over", "please", "thanks", "thank you", "ok", "copy?", "how copy", "when you can", "asap", "real quick", "pls", "thx", "for me",
         "right now", "if you can", "brother", "buddy", "man", "here", "at this time", "be advised", "on this side", "k")  # fmt: skip
STRANGE = ("blue", "smoky", "muddy", "nasty", "ugly", "long", "big", "old", "brand new", "busted", "corner", "garage", "porch", "barn", "duplex",
           "alley", "driveway", "hallway", "kitchen", "stairwell", "warehouse", "trailer", "shed", "church", "school", "wet", "frozen",
           "steep", "narrow", "heavy", "rusty", "back", "other", "good", "nice", "bad")  # fmt: skip
THINGS = ("a pickup", "the barn", "a double wide", "chicken house", "a car", "a dumpster", "the kitchen", "a garage", "the machine shed", "a hay field",
          "propane tank", "the LP tank", "a grain bin", "a transformer", "an old farmhouse", "a duplex", "the strip mall", "a school bus", "house trailer",
          "the church basement", "a row house", "a taxpayer", "the bedroom", "a mattress", "a woodpile", "a tractor", "the porch", "a camper", "the loft",
          "a high rise", "a warehouse", "a rooming house", "the deli", "a van", "an RV", "a boat", "brush", "the silo", "a townhouse", "a restaurant")  # fmt: skip
STATES = ("burning", "off the highway", "behind the co-op", "on the shoulder", "way back off the drive", "at the end of the lane", "on Maple", "going good",
          "is smoking", "with a wood stove", "up on the hill", "across from the school", "is full of junk", "by the creek", "out back", "in the alley",
          "down the dirt road", "not involved", "is vacant", "next to the station", "at mile marker 41", "near 4th street", "all the way in the back")  # fmt: skip
ASIDES = ("I'm on the panel tonight", "it's my first fire", "brand new at this", "bear with me", "kid's asking", "boys carried it up", "he's asking me",
          "the boys pulled it", "they pulled it off the back", "we got a good crew", "it's cold out here", "can't hear a thing", "it's loud here",
          "the lieutenant wants to know", "captain's asking", "chief's asking", "somebody wants to know", "like we drilled", "same as always", "new guy here",
          "no rush", "quick one", "for my own education", "just so I know", "before I throttle up", "nothing fancy", "they're hollering at me", "wind's picking up",
          "the road's a mess", "it's dark over here", "got it in gear", "truck's warm", "all good otherwise", "we're level", "protect that exposure",
          "it's a long stretch", "off the officer's side", "off the back of the rig", "around the corner", "the house is tight", "they're ready", "it's a mess",
          "on the nozzle", "like a poor man's master stream", "straight in the front door", "goes in the side door", "if that helps", "that's what they want",
          "says the old man", "as far as I can tell", "from what I see", "we're working on the rest", "watch the ice", "good job so far", "dogs everywhere",
          "neighbors are out", "cops are here", "homeowner's with me", "hot as hell", "kinda windy", "dale", "mike", "this is rivera", "tommy here")  # fmt: skip
WANTED = ("what's my pressure", "what do I pump", "what do I give it", "what should I be pumping", "pump pressure?", "PDP?", "what's the number", "whats it want",
          "what do I throttle up to", "what am I running", "gimme a number", "what do I set", "need a discharge pressure", "what's that come to",
          "engine pressure?", "what's it need", "how much do I give them", "what pressure", "discharge?", "where should I be", "set me up", "what do we run",
          "what's that take", "what's the pump need to be", "calculate that for me", "and the pressure is?", "psi?")  # fmt: skip
NICKNAMES = {
    "bumper": ("trash line", "the trash line", "front bumper line", "jump line", "bumper jump line", "bumber line", "front jumpline"),
    "rear": ("rear line", "the back line", "tailboard line", "rear 2 1/2", "the rear two and a half", "big line off the back", "rear preconnect"),
    "crosslay": ("cross lay", "x-lay", "xlay", "crossley", "speedlay", "mattydale", "cross lays", "crosslays"),
    "deck": ("deck pipe", "deck gun", "the gun", "deckgun", "dek gun", "master stream", "wagon pipe"),
}  # fmt: skip
HEARD = {
    "to": "too", "for": "four", "their": "there", "there": "their", "by": "buy", "here": "hear", "whole": "hole", "right": "write",
    "plug": "pluck", "hose": "hoes", "lay": "lei", "tip": "dip", "wye": "why", "pump": "pumped", "line": "lion", "crew": "crude", "roof": "rough",
    "tank": "thank", "relay": "really", "search": "church", "primary": "prime ary", "hydrant": "high drant", "attic": "addict", "main": "mane",
    "truck": "track", "ladder": "latter", "rescue": "rescued", "exit": "exits", "floor": "flour", "pressure": "pleasure", "out": "owt",
    "foot": "food", "feet": "feed", "inch": "in", "supply": "supplied", "knocked": "knock", "tender": "tinder", "nozzle": "nuzzle",
}  # fmt: skip
KEYS = {a: b for row in ("qwertyuiop", "asdfghjkl", "zxcvbnm") for a, b in zip(row, row[1:] + row[-2], strict=True)}
SHORT = {"and": "&", "with": "w", "you": "u", "are": "r", "please": "pls", "feet": "ft", "engine": "eng", "hydrant": "hyd", "we're": "were",
         "it's": "its", "that's": "thats", "what's": "whats", "we've": "weve", "pressure": "press", "through": "thru", "because": "cuz"}  # fmt: skip


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
