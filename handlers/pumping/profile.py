"""What a picture of pressures shows, as plain numbers: the pressure profile of a lay, and the rig's pump chart."""

from __future__ import annotations

import msgspec

from grammar.commands import SaidLay, SaidLine
from handlers.errors import NeedsAnswer, Refusal
from handlers.pumping.layout import Appliance, Eductor, HoseSection, JoinedLines, Piece, Rise, Split
from handlers.pumping.network import Passage, leg_flows
from handlers.pumping.pressure import Worked, WorkedLine, work_out
from handlers.rig import Line, Rig
from handlers.words import Words

GATED_PSI = 0.5
"""Less than this over a line's own pressure needs no gate."""


class Mark(msgspec.Struct, frozen=True):
    """A point of a pressure profile: how far the water has come, and its pressure there. `name`: what changed it."""

    feet: float
    psi: float
    name: str = ""


def profile(line: WorkedLine, worked: Worked, rig: Rig) -> tuple[Mark, ...]:
    """The pressure from the pump to the nozzle of one line, a mark behind each piece; a lower line has its gate.

    A line by itself is gated at the pump, a leg behind the wye that it shares.
    """
    words = Words.of(rig)
    gate_at, surplus = _gate(line, worked)
    feet, psi = 0.0, line.run.pressure_psi + surplus
    marks = [Mark(feet, psi, "pump")]
    for number, passage in enumerate(line.run.passages):
        if number == gate_at and surplus > GATED_PSI:
            psi -= surplus
            marks.append(Mark(feet, psi, "gate"))
        psi -= passage.loss_psi
        feet += _length_ft(passage.piece)
        if passage.loss_psi or not isinstance(passage.piece, Appliance | Eductor):
            marks.append(Mark(feet, psi, _name(passage, words)))
    return tuple(marks)


def _gate(line: WorkedLine, worked: Worked) -> tuple[int, float]:
    """Before which piece of its way a line is gated, and what the gate takes."""
    lay = next(lay for lay in worked.lays if line.line in lay.lines)
    shared = len(lay.path.pieces) if lay.path is not None and isinstance(lay.path.end, Split) else 0
    in_lay = [other.pressure_psi for other in worked.lines if other.line in lay.lines]
    return shared, (max(in_lay) if shared else worked.pump_psi) - line.pressure_psi


def _length_ft(piece: Piece) -> float:
    if isinstance(piece, JoinedLines):
        return max(sum(section.length_ft for section in leg) for leg in piece.legs)
    return piece.length_ft if isinstance(piece, HoseSection) else 0.0


def _name(passage: Passage, words: Words) -> str:
    piece = passage.piece
    if isinstance(piece, Appliance | Eductor):
        return piece.name
    if isinstance(piece, Rise):
        return "height"
    section, flow, _ = leg_flows(passage)[0]
    each = f"{len(piece.legs)} × " if isinstance(piece, JoinedLines) else ""
    return f"{each}{words.hose(section.hose_in)}, {words.gpm(flow)}{' each' if each else ''}"


class ChartRow(msgspec.Struct, frozen=True):
    """A line of the pump chart: what it is, its flow, and its pressure by floor (None where it can't be pumped)."""

    name: str
    what: str
    flow_gpm: float
    psi: dict[int, float | None]


FLOORS = (-1, 1, 2, 3, 4, 5, 6)
STANDPIPE_FLOORS = (2, 4, 6, 8, 10, 12, 15)


def chart(rig: Rig, floors: tuple[int, ...] = FLOORS) -> tuple[ChartRow, ...]:
    """Each line of the rig with a nozzle, by floors; a pre-piped gun has one pressure, shown at floor 1."""
    lines = [line for line in rig.line.values() if line.nozzle and line.kind != "high_rise"]
    return _rows(rig, lines, floors)


def standpipe_chart(rig: Rig, floors: tuple[int, ...] = STANDPIPE_FLOORS) -> tuple[ChartRow, ...]:
    """The rig's high-rise packs off a standpipe, by floors."""
    return _rows(rig, [line for line in rig.line.values() if line.kind == "high_rise"], floors)


def _rows(rig: Rig, lines: list[Line], floors: tuple[int, ...]) -> tuple[ChartRow, ...]:
    rows = [_row(rig, line, floors) for line in lines]
    return tuple(row for row in rows if row is not None)


def _row(rig: Rig, line: Line, floors: tuple[int, ...]) -> ChartRow | None:
    words = Words.of(rig)
    cells = {floor: _cell(rig, line, floor) for floor in ((1,) if line.kind == "gun" else floors)}
    known = next((cell for cell in cells.values() if cell is not None), None)
    if known is None:
        return None
    sizes = [(piece.length_ft, rig.hose[piece.hose].diameter_in) for piece in line.pieces]
    hose = " + ".join(f"{words.feet(feet)} {words.hose(size)}" for feet, size in sizes)
    nozzle = rig.nozzle[line.nozzle or ""]
    what = ", ".join(part for part in (hose, nozzle.name or nozzle.key) if part)
    psi = {floor: cell.pressure_psi if cell else None for floor, cell in cells.items()}
    return ChartRow(line.name, what, known.flow_gpm, psi)


def _cell(rig: Rig, line: Line, floor: int) -> WorkedLine | None:
    said = SaidLine(name=line.key, device="standpipe" if line.kind == "high_rise" else None, floor=floor)
    try:
        return work_out((SaidLay(lines=(said,)),), rig).lines[0]
    except (Refusal, NeedsAnswer):
        return None
