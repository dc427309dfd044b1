"""The rig's pump chart on one page: each line by floors, to be taped to the panel."""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure

from handlers.pumping.profile import FLOORS, STANDPIPE_FLOORS, ChartRow, chart, standpipe_chart
from handlers.rig import Rig
from handlers.rigfile.metric import COEFFICIENT_US_PER_SI
from handlers.words import Words, plain

LETTER, A4 = (11.0, 8.5), (11.69, 8.27)
LEFT, RIGHT, NAME_WIDTH, FLOW_WIDTH = 0.04, 0.96, 0.27, 0.085
TOP, NOTES_TOP = 0.87, 0.13
HEAD_SHARE = 0.55
"""A head row's height as a share of a row's."""
INK, QUIET, BAND, HEAD = "#000000", "#444444", "#eef2f6", "#d5dde6"


def chart_figure(rig: Rig) -> Figure:
    """A landscape page (US letter, or A4 for a metric rig) with the pressures large enough to read at arm's length."""
    words = Words.of(rig)
    figure = Figure(figsize=A4 if words.metric else LETTER)
    axis = figure.add_axes((0, 0, 1, 1))
    axis.set_axis_off()
    axis.set_xlim(0, 1)
    axis.set_ylim(0, 1)
    axis.text(LEFT, 0.925, f"{rig.name} pump chart", fontsize=26, fontweight="bold", color=INK)
    axis.text(LEFT, 0.893, f"{rig.department}; pressures in {rig.pressure_unit}", fontsize=12, color=QUIET)
    rows, packs = chart(rig), standpipe_chart(rig)
    heads = (1 + bool(packs)) * HEAD_SHARE + (0.6 if packs else 0)
    height = min(0.095, (TOP - NOTES_TOP) / (len(rows) + len(packs) + heads))
    bottom = _table(axis, rows, FLOORS, words, top=TOP, height=height)
    if packs:
        axis.text(LEFT, bottom - 0.48 * height, "Off a standpipe", fontsize=13, fontweight="bold", color=INK)
        _table(axis, packs, STANDPIPE_FLOORS, words, top=bottom - 0.6 * height, height=height)
    axis.text(LEFT, 0.025, "\n".join(_notes(rig, words)), fontsize=8.5, color=QUIET, va="bottom", linespacing=1.35)
    return figure


def _table(
    axis: Any, rows: tuple[ChartRow, ...], floors: tuple[int, ...], words: Words, *, top: float, height: float
) -> float:
    """A table by floors from `top` downwards; returns where it ends."""
    column = (RIGHT - LEFT - NAME_WIDTH - FLOW_WIDTH) / len(floors)
    flow_x = LEFT + NAME_WIDTH + FLOW_WIDTH / 2
    floor_x = {floor: LEFT + NAME_WIDTH + FLOW_WIDTH + column * (n + 0.5) for n, floor in enumerate(floors)}
    head = top - height * HEAD_SHARE
    _band(axis, head, top - head, HEAD)
    axis.text(flow_x, (top + head) / 2, "flow", fontsize=11, ha="center", va="center", color=INK)
    for floor, x in floor_x.items():
        name = "basement" if floor == -1 else f"floor {floor}"
        axis.text(x, (top + head) / 2, name, fontsize=11, ha="center", va="center", color=INK)
    for count, row in enumerate(rows, start=1):
        bottom = head - height * count
        if count % 2 == 0:
            _band(axis, bottom, height, BAND)
        _row(axis, row, words, bottom + height / 2, height, flow_x, floor_x)
    return head - height * len(rows)


def _row(
    axis: Any, row: ChartRow, words: Words, middle: float, height: float, flow_x: float, floor_x: dict[int, float]
) -> None:
    axis.text(LEFT + 0.006, middle + height * 0.14, row.name, fontsize=14, fontweight="bold", va="center", color=INK)
    axis.text(LEFT + 0.006, middle - height * 0.26, row.what, fontsize=8, va="center", color=QUIET)
    number, unit = words.gpm(row.flow_gpm).split(" ", 1)
    axis.text(flow_x, middle + height * 0.08, number, fontsize=13, ha="center", va="center", color=INK)
    axis.text(flow_x, middle - height * 0.28, unit, fontsize=7, ha="center", va="center", color=QUIET)
    for floor, psi in row.psi.items():
        text = "–" if psi is None else words.psi_bare(psi)
        axis.text(floor_x[floor], middle, text, fontsize=19, fontweight="bold", ha="center", va="center", color=INK)


def _band(axis: Any, bottom: float, height: float, colour: str) -> None:
    axis.axhspan(bottom, bottom + height, xmin=LEFT, xmax=RIGHT, color=colour, linewidth=0)


def _notes(rig: Rig, words: Words) -> list[str]:
    used = {piece.hose for line in rig.line.values() for piece in line.pieces if line.kind != "supply"}
    factors = ", ".join(
        f"{words.hose(rig.hose[key].diameter_in)} {plain(_coefficient(rig, key, words))}" for key in sorted(used)
    )
    values, per = rig.hydraulics, "kPa, 100 L/min, 100 m" if words.metric else "psi, 100 gpm, 100 ft"
    master, pipe = words.psi(values.master_stream_psi), words.psi(rig.standpipe.system_psi)
    wye, threshold = words.psi(values.appliance_psi), words.gpm(values.appliance_threshold_gpm)
    return [
        f"Nozzle + friction ± {words.psi(values.elevation_psi_per_floor)} a floor. Coefficients ({per}): {factors}.",
        f"Master stream {master}, standpipe {pipe}; wye, siamese or manifold {wye} from {threshold}.",
        f"Tank {words.gal(rig.tank.usable_gal)}, tank to pump {words.gpm(rig.tank.to_pump_gpm)}, "
        f"pump {words.gpm(rig.pump.rated_gpm)}. –: above the hose's test pressure.",
        "Calculated from the rig file. Department procedures, the pump's own gauges and flow meters decide."
        + (" Demonstration rig: not a real engine." if rig.demonstration else ""),
    ]


def _coefficient(rig: Rig, hose: str, words: Words) -> float:
    return rig.hose[hose].coefficient / (COEFFICIENT_US_PER_SI if words.metric else 1.0)
