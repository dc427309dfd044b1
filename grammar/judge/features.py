"""What is known of each proposal: how the rules read it, what the network thinks of it, what its numbers rest on."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from grammar.commands import Command, Context, Reading
from grammar.doubt import turns
from grammar.items import Item
from grammar.judge.candidates import Proposed, proposed
from grammar.judge.heads import head
from grammar.judge.network import Network, Tagged
from grammar.judge.rewriting import Considered, own_reading
from grammar.judge.words import said
from grammar.spelling import spellings
from grammar.splitting import Part
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import names


class Scored(NamedTuple):
    """A proposal and its scores."""

    commands: tuple[Command, ...]
    taken: bool
    """The rules take it."""
    quality: float
    """How well the rules read it: minus the worst piece's cost; what they only offered as a choice counts as poor."""
    dearer: float
    """How much dearer than their cheapest reading."""
    right: float
    """The verifier's log of the odds."""
    lead: float
    """How far that lies above the next different proposal's…"""
    nothing: float
    """…and above that of no command."""
    heads: float
    """The tagger's log of the odds that the least likely of its heads was said so."""
    beyond: float
    """The tagger's log of the odds that something else was reported or ordered too."""
    numbers: bool
    """Every number of the message is in it."""
    own: bool
    """Only the tagger has it."""
    words: str
    """The proposal in words…"""
    shape: str
    """…and without its numbers."""
    notes: tuple[str, ...] = ()
    """What the rules assumed in it, and what they left unread."""


_UNKNOWN = 1.5
_FLAT = 0.0005


def scored(
    context: Context, reading: Reading, found: Sequence[tuple[Part, str]], network: Network, by_rules: Considered
) -> list[Scored]:
    """Every proposal with its scores, the verifier's likeliest first."""
    text = reading.text
    listed = proposed(reading, found)
    tagged = network.tagged(text)
    own = own_reading(text, tagged, network, by_rules)
    if own is not None and own[1].commands not in [one.commands for one in listed]:
        listed.append(Proposed(own[1].commands, own[1], own[0], own=True))
    if not listed:
        return []
    words = [said(one.commands) for one in listed]
    odds = [network.right(text if one.own else one.heard, says) for one, says in zip(listed, words, strict=True)]
    none = network.right(text, said(()))
    cheapest = min((part.cost for part, _ in found), default=0.0)
    numbers = _Numbers(text, context)
    out = []
    for k, one in enumerate(listed):
        others = [odds[j] for j in range(len(listed)) if words[j] != words[k]]
        heads, beyond = _heads(one.commands, tagged, network)
        out.append(
            Scored(
                one.commands, one.commands == reading.commands,
                -one.part.worst if one.part and not one.own else -_UNKNOWN,
                one.part.cost - cheapest if one.part and not one.own else 0.5,
                odds[k], odds[k] - max(others, default=-9.0),
                odds[k] - none, heads, beyond,
                numbers.rest_on(one), one.own, words[k], _FIGURES.sub("#", words[k]), _notes(one),
            )
        )  # fmt: skip
    return sorted(out, key=lambda one: -one.right)


_FIGURES = re.compile(r"-?\d+(?:\.\d+)?")


def _notes(one: Proposed) -> tuple[str, ...]:
    if one.part is None:
        return ()
    said_so = (f"read as “{one.heard}”",) if one.own else ()
    notes = [note for piece in one.part.pieces for note in piece.notes]
    return (*said_so, *notes, *(f"not read: “{unread.words}”" for unread in one.part.unread))


def _odds(p: float) -> float:
    p = min(max(p, _FLAT), 1 - _FLAT)
    return math.log(p / (1 - p))


_LOGGING = ("reported", "ordered")


def _heads(commands: tuple[Command, ...], tagged: Tagged, network: Network) -> tuple[float, float]:
    """The least likely head of the commands; the likeliest logging head besides theirs."""
    own = {head(command) for command in commands}
    best = dict.fromkeys(own, 0.0)
    beyond = 0.0
    for (name, stance), p in zip(network.heads, tagged.heads, strict=True):
        if name in own:
            best[name] = max(best[name], p)
        elif stance in _LOGGING:
            beyond = max(beyond, p)
    return min((_odds(p) for p in best.values()), default=_odds(0.5)), _odds(beyond)


_NUMBERS = ("num", "time", "badtime")


class _Numbers:
    """Whether the numbers of a message are those of a proposal."""

    def __init__(self, text: str, context: Context) -> None:
        self._known = names(context)
        self._text = text
        self._items = self._of(text)

    def _of(self, text: str) -> list[Item]:
        items = segmentations(spellings(tokens(text), self._known, False)[0], self._known)[0][1]
        return [item for item in items if item.kind in _NUMBERS]

    def rest_on(self, one: Proposed) -> bool:
        """No number is left unread, none was only guessed at from a word like it, and nothing is left that turns it."""
        own = self._items if one.own or one.heard == self._text else self._of(one.heard)
        if any(item.slip > 0 for item in own):
            return False
        if one.own or one.part is None:
            return not own  # what a number means there is the tagger's guess
        left = [
            *(item for piece in one.part.pieces for item in piece.over),
            *(i for u in one.part.unread for i in u.items),
        ]
        turned = any(item.polarity_mark or turns(item) for item in left)
        return not turned and not any(item.kind in _NUMBERS for item in left)
