"""What the rules propose a message may mean: every different reading they found, taken or not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from grammar.commands import Command, Reading
from grammar.splitting import Part

_MOST = 6
"""Most readings that are judged."""


class Proposed(NamedTuple):
    """A reading that the rules found: its commands and, where it is one of the whole message, how it was read."""

    commands: tuple[Command, ...]
    part: Part | None = None
    heard: str = ""
    """The words that were read so; of a recording one of its guesses."""
    own: bool = False
    """It is the tagger's."""


def proposed(reading: Reading, found: Sequence[tuple[Part, str]]) -> list[Proposed]:
    """The different readings, likeliest first."""
    listed = [Proposed(reading.commands, heard=reading.text)]
    listed += [
        Proposed(part.commands, part, words) for part, words in found if all(piece.commands for piece in part.pieces)
    ]
    if reading.question is not None:
        listed += [Proposed(choice.commands, heard=reading.text) for choice in reading.question.choices]
    listed += [Proposed(rival.commands, heard=reading.text) for rival in reading.rivals]
    return _distinct(listed)[:_MOST]


def _distinct(listed: Iterable[Proposed]) -> list[Proposed]:
    """Each once, with how it was read where that is known."""
    out: dict[tuple[Command, ...], Proposed] = {}
    for one in listed:
        if one.commands and (one.commands not in out or out[one.commands].part is None):
            out[one.commands] = one
    return [*out.values()]
