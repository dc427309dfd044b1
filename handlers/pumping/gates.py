"""Which lines are gated down, where and to what: at the pump's discharge, or a wye's lower leg at the wye."""

from __future__ import annotations

from handlers.pumping.completion import CompleteLay
from handlers.pumping.layout import Split
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


def gate_of(line: WorkedLine, worked: Worked, words: Words) -> str:
    """ "governs", "gate to 123 psi", or for a lower leg "gate it at the wye to 110 psi there"; "" where none is needed."""
    own = discharge_psi(line, worked)
    if own - line.pressure_psi >= SAME_PSI:
        there = at_split_psi(line, worked)
        split = lay_of(line, worked).said.split or "wye"
        return f"gate it at the {split}, {words.psi(line.pressure_psi if there is None else there)} there"
    if worked.pump_psi - own >= SAME_PSI:
        return f"gate to {words.psi(own)}"
    return "governs" if worked.pump_psi == line.pressure_psi else "no gating needed"
