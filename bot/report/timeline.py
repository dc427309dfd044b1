"""The incident at a glance: flow over time, benchmarks as marks, crews inside as bars (matplotlib, PNG)."""

from __future__ import annotations

import io
from datetime import tzinfo
from typing import Any

from handlers.incident.record import Record, benchmark_times, flow_steps
from handlers.rig import Rig
from handlers.times import unit_name
from handlers.words import Words

INK, WATER, PEOPLE = "#222222", "#3b6ea5", "#b5651d"

_LATE = 0.85
"""From this share of the incident on a mark's name stands before it: behind it, it would leave the picture."""


def png(made: Record, rig: Rig, tz: tzinfo | None) -> bytes:
    """The timeline as a PNG, readable on a phone."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10, 6), dpi=110, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    flow_axis, people_axis = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1 + 0.35 * len(made.air)))
    words = Words.of(rig)
    _flow(flow_axis, made, words)
    _marks(flow_axis, made)
    _people(people_axis, made, words)
    _times(people_axis, tz)
    flow_axis.set_title(f"{made.department}   {made.incident}", loc="left", color=INK)
    out = io.BytesIO()
    canvas.print_png(out)  # type: ignore[no-untyped-call]
    return out.getvalue()


def _flow(axis: Any, made: Record, words: Words) -> None:
    times, gpm = flow_steps(made)
    flows = [words.gpm_value(flow) for flow in gpm]
    axis.step(times, flows, where="post", color=WATER, linewidth=2)
    axis.fill_between(times, flows, step="post", color=WATER, alpha=0.2)
    axis.set_ylabel(f"flow, {words.gpm_unit}")
    axis.set_ylim(0, max([*flows, 100.0]) * 2.0)
    axis.grid(visible=True, axis="y", alpha=0.3)


def _marks(axis: Any, made: Record) -> None:
    """Benchmarks as upright lines with their names at staggered heights, so that close ones can be read."""
    top, marks = axis.get_ylim()[1], benchmark_times(made.scene)
    times = [at for _, at in marks]
    late = min(times) + (made.until - min(times)) * _LATE if times else made.until
    for count, (name, at) in enumerate(marks):
        axis.axvline(at, color=INK, linewidth=0.7, alpha=0.6)
        height = top * (0.98 - 0.085 * (count % 6))
        side, gap = ("right", -3) if at > late else ("left", 3)
        axis.annotate(
            name, (at, height), xytext=(gap, 0), textcoords="offset points", fontsize=8, va="top", ha=side, color=INK
        )
    if made.scene.mayday is not None:
        end = made.scene.mayday.cleared_at or made.until
        axis.axvspan(made.scene.mayday.at, end, color="#c0392b", alpha=0.25, label="Mayday")


def _people(axis: Any, made: Record, words: Words) -> None:
    names = list(dict.fromkeys(use.crew for use in made.air))
    for use in made.air:
        row = names.index(use.crew)
        end = use.left_at or made.until
        axis.plot([use.entered_at, end], [row, row], color=PEOPLE, linewidth=8, solid_capstyle="butt")
        for at, psi in use.gauges:
            axis.annotate(words.gauge_bare(psi), (at, row + 0.08), fontsize=7, ha="center", va="bottom", color=INK)
    axis.set_yticks(range(len(names)), [unit_name(name) for name in names])
    axis.set_ylim(-0.7, max(len(names) - 0.3, 0.3))
    axis.set_ylabel(f"inside (gauges, {words.gauge_unit})" if names else "no entry logged", fontsize=8)


def _times(axis: Any, tz: tzinfo | None) -> None:
    from matplotlib.dates import AutoDateLocator, DateFormatter

    axis.xaxis.set_major_locator(AutoDateLocator(tz=tz, maxticks=10))  # type: ignore[no-untyped-call]
    axis.xaxis.set_major_formatter(DateFormatter("%H:%M", tz=tz))  # type: ignore[no-untyped-call]
