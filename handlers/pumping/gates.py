"""Which lines are gated down, where and to what: at the pump's discharge, or a wye's lower leg at the wye."""

from __future__ import annotations

import msgspec

from handlers.pumping.completion import CompleteLay
from handlers.pumping.layout import Split
from handlers.pumping.network import Run
from handlers.pumping.pressure import Worked, WorkedLine
from handlers.words import Words

SAME_PSI = 2.0
"""Lines within this of the governing one need no gating: no gauge on a panel shows less (common practice)."""


def lay_of(line: WorkedLine, worked: Worked) -> CompleteLay:
    """The lay that a line is a part of."""
    return next(lay for lay in worked.lays if any(line.line is other for other in lay.lines))


def discharge_psi(line: WorkedLine, worked: Worked) -> float:
    """The pressure at the discharge that a line hangs on: of a wye's legs the highest."""
    lay = lay_of(line, worked)
    return max(other.pressure_psi for other in worked.lines if lay_of(other, worked) is lay)


def at_split_psi(line: WorkedLine, worked: Worked) -> float | None:
    """What a wye's leg asks for at the wye, psi; None for a line that has no split before it."""
    lay = lay_of(line, worked)
    if lay.path is None or lay.fixed_psi is not None or not isinstance(lay.path.end, Split):
        return None
    return line.pressure_psi - sum(passage.loss_psi for passage in line.run.passages[: len(lay.path.pieces)])


def lower_leg(line: WorkedLine, worked: Worked) -> Run | None:
    """The way from the split to the nozzle of a leg that is gated there; None for any other line."""
    lay = lay_of(line, worked)
    if lay.path is None or at_split_psi(line, worked) is None:
        return None
    if discharge_psi(line, worked) - line.pressure_psi < SAME_PSI:
        return None
    return msgspec.structs.replace(line.run, passages=line.run.passages[len(lay.path.pieces) :])


def gate_of(line: WorkedLine, worked: Worked, words: Words) -> str:
    """ "Governs", "gate to 123 psi", for a lower leg that it is gated at its split."""
    own = discharge_psi(line, worked)
    if lower_leg(line, worked) is not None:
        return "gate it there"
    if worked.pump_psi - own >= SAME_PSI:
        return f"gate to {words.psi(own)}"
    return "governs" if worked.pump_psi == line.pressure_psi else "no gating needed"
