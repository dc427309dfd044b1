"""What is asked when a lay lacks a part that can't be assumed: each choice is the line or lay with that part."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine
from handlers.errors import NeedsAnswer
from handlers.rig import Hose, Rig
from handlers.words import Words

Whole: TypeAlias = SaidLine | SaidLay
"""The said thing that a run of hose belongs to: what a question about it completes."""
COMMON_LENGTHS_FT = (100.0, 150.0, 200.0)


def which_hose(part: SaidHose, whole: Whole, rig: Rig) -> NeedsAnswer:
    """Asks the size, from what the rig carries (with a nozzle, for a line)."""
    words = Words.of(rig)
    carried = [
        hose for hose in rig.hose.values() if hose.carried_ft > 0 and (hose.nozzle or isinstance(whole, SaidLay))
    ]
    return NeedsAnswer(
        "What size of hose?",
        part=whole,
        slot="hose_in",
        options=tuple((words.hose(hose.diameter_in), _with(whole, part, hose_in=hose.diameter_in)) for hose in carried),
    )


def how_long(part: SaidHose, hose: Hose, whole: Whole, rig: Rig) -> NeedsAnswer:
    """Asks the length, from how long the rig's lines of that hose are."""
    words = Words.of(rig)
    carried = {piece.length_ft for line in rig.line.values() for piece in line.pieces if piece.hose == hose.key}
    lengths = sorted(carried) or COMMON_LENGTHS_FT
    return NeedsAnswer(
        f"How long is the {words.hose(hose.diameter_in)} {'line' if isinstance(whole, SaidLine) else 'feed'}?",
        part=whole,
        slot="length_ft",
        options=tuple((words.feet(length), _with(whole, part, length_ft=length)) for length in lengths),
    )


def which_floor(said: SaidLine) -> NeedsAnswer:
    """Asks the floor that a standpipe is to be pumped to."""
    options = tuple((f"floor {floor}", msgspec.structs.replace(said, floor=floor)) for floor in (2, 3, 4, 5))
    return NeedsAnswer("Standpipe to which floor?", part=said, slot="floor", options=options)


def _with(whole: Whole, part: SaidHose, **known: float) -> Whole:
    """The line or lay with one of its runs of hose completed."""
    done = msgspec.structs.replace(part, **known)
    if isinstance(whole, SaidLay):
        return msgspec.structs.replace(whole, feed=tuple(done if item is part else item for item in whole.feed))
    hoses = tuple(done if item is part else item for item in whole.hose) or (done,)
    return msgspec.structs.replace(whole, hose=hoses)
