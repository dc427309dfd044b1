"""The pressure profile: how the pressure falls from the pump to each nozzle of a lay."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from matplotlib.figure import Figure

from handlers.pumping.panel import label_of, total_of
from handlers.pumping.pressure import Worked, WorkedLine
from handlers.pumping.profile import Mark, profile
from handlers.rig import Rig
from handlers.rigfile.metric import FT_PER_M
from handlers.words import Words

INK, QUIET = "#1a1a1a", "#8a8a8a"
CAUTION = "Calculated: the pump's gauges and the department's procedures decide."
LINES = ("#1f5fa8", "#b4540a", "#2e7d4f", "#7a3f9d", "#8c6d1f")


def profile_figure(worked: Worked, rig: Rig) -> Figure:
    """One curve for each different line, the governing one in front; small enough to read on a phone."""
    words = Words.of(rig)
    figure = Figure(figsize=(8, 5), layout="constrained")
    axis = figure.subplots()
    ordered = sorted(worked.lines, key=lambda line: line.pressure_psi)
    for number, line in enumerate(ordered):
        _curve(
            axis, line, worked, LINES[(len(ordered) - 1 - number) % len(LINES)], rig, front=number == len(ordered) - 1
        )
    axis.set_xlabel(f"{words.length_name} from the pump")
    axis.set_ylabel(rig.pressure_unit)
    axis.margins(x=0.06)
    axis.set_ylim(0, words.psi_value(worked.pump_psi) * 1.2)
    axis.grid(visible=True, alpha=0.25)
    axis.spines[["top", "right"]].set_visible(False)
    figure.suptitle(f"{words.psi(worked.pump_psi)}, {words.gpm(worked.flow_gpm)}", x=0.02, ha="left", fontsize=18,
                    fontweight="bold", color=INK)  # fmt: skip
    axis.set_title(total_of(ordered[-1].run, words), loc="left", fontsize=11, color=INK)
    if len(ordered) > 1:
        axis.legend(frameon=False, loc="upper right", fontsize=9, reverse=True)
    figure.supxlabel(CAUTION, x=0.02, ha="left", fontsize=7.5, color=QUIET)
    return figure


def _curve(axis: Any, line: WorkedLine, worked: Worked, colour: str, rig: Rig, *, front: bool) -> None:
    words, marks = Words.of(rig), profile(line, worked, rig)
    across = [mark.feet / FT_PER_M if words.metric else mark.feet for mark in marks]
    up = [words.psi_value(mark.psi) for mark in marks]
    count = f" × {line.count}" if line.count > 1 else ""
    nozzle = f"{words.psi_bare(line.run.nozzle_psi)} at the nozzle"
    label = f"{label_of(line.line, worked, words)}{count}: {words.psi(line.pressure_psi)}, {nozzle}"
    axis.plot(across, up, color=colour, linewidth=2.8 if front else 1.6, marker="o", markersize=4, label=label)
    if front:
        _name_pieces(axis, marks, across, up, words)
        axis.annotate(nozzle, (across[-1], up[-1]), xytext=(0, -16), textcoords="offset points",
                      ha="right" if across[-1] else "left", fontsize=10, fontweight="bold", color=colour)  # fmt: skip


def _name_pieces(axis: Any, marks: tuple[Mark, ...], across: list[float], up: list[float], words: Words) -> None:
    """Each piece is named in the middle of its stretch; what takes pressure on the spot stands beside its drop."""
    axis.annotate(words.psi(marks[0].psi), (across[0], up[0]), xytext=(4, 8), textcoords="offset points",
                  fontsize=11, fontweight="bold", color=INK)  # fmt: skip
    for (before, x0, y0), (mark, x1, y1) in pairwise(zip(marks, across, up, strict=True)):
        lost = before.psi - mark.psi
        text = f"{mark.name}\n{'−' if lost >= 0 else '+'}{words.psi_bare(abs(lost))}"
        spot = x0 == x1
        axis.annotate(text, ((x0 + x1) / 2, (y0 + y1) / 2), xytext=(8 if spot else 0, 0 if spot else 9),
                      textcoords="offset points", fontsize=8.5, color=INK, ha="left" if spot else "center",
                      va="center" if spot else "bottom")  # fmt: skip
