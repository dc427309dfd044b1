"""Pump pressure: NP + FL + appliances ± elevation for every line that leaves the pump; the highest governs.

`work_out` does it for any lays and is what opening a line, changing one and "what am I pumping" build on.
Source: IFSTA Pumping Apparatus Driver/Operator Handbook, pump discharge pressure.
"""

from __future__ import annotations

import msgspec

from grammar.commands import SaidHose, SaidLay
from handlers.outcome import Answer
from handlers.pumping import hydraulics, limits, network
from handlers.pumping.completion import CompleteLay, CompleteLine, complete, lays_of
from handlers.pumping.layout import HoseSection, JoinedLines, Outlet
from handlers.pumping.network import Run
from handlers.rig import Rig


class Stretch(Answer, frozen=True):
    """A piece of hose on the path. Lines side by side show the flow in each, and `parallel` how many there are."""

    hose_in: float
    length_ft: float
    flow_gpm: float
    friction_psi: float
    parallel: int = 1


class LineAnswer(Answer, frozen=True):
    """One different line, as DEVELOPERS.md names its values."""

    name: str | None
    count: int
    hose_in: float | None
    length_ft: float
    flow_gpm: float
    nozzle_psi: float
    tip_in: float | None
    friction_psi: float
    appliance_psi: float
    elevation_psi: float
    pressure_psi: float
    reaction_lbf: float
    sections: tuple[Stretch, ...]


class PumpPressures(Answer, frozen=True):
    """Answer of `pump_pressure`. Flow and tank time are null for a sprinkler connection: its flow isn't known."""

    pump_pressure_psi: float
    flow_gpm: float | None
    tank_s: float | None
    lines: tuple[LineAnswer, ...]


class WorkedLine(msgspec.Struct, frozen=True):
    """A line with what it needs from the pump."""

    line: CompleteLine
    run: Run
    pressure_psi: float
    """The pressure at its discharge: the run's own, or the one a rule says."""
    reaction_lbf: float
    fill_gal: float
    """Water that fills the hose of all `run.count` such lines (the feed not counted)."""

    @property
    def flow_gpm(self) -> float:
        """Of each such line."""
        return self.run.flow_gpm

    @property
    def count(self) -> int:
        return self.run.count


class Worked(msgspec.Struct, frozen=True):
    """Lays, worked out together."""

    lays: tuple[CompleteLay, ...]
    lines: tuple[WorkedLine, ...]
    pump_psi: float
    """The highest line governs; never below zero."""
    flow_gpm: float
    fill_gal: float
    """Water that fills all their hose."""
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]
    """Of the hose, the nozzles and the foam; the pump's own are `limits.check_pump`."""

    @property
    def governing(self) -> WorkedLine | None:
        return max(self.lines, key=lambda worked: worked.pressure_psi, default=None)


def work_out(said: tuple[SaidLay, ...], rig: Rig) -> Worked:
    """Pressure, flow and cautions of said lays; raises NeedsAnswer or Refusal."""
    lays = tuple(complete(lay, rig) for lay in lays_of(said))
    lines: list[WorkedLine] = []
    cautions: list[str] = []
    fixed = [lay.fixed_psi for lay in lays if lay.fixed_psi is not None]
    for lay in lays:
        if lay.path is None:
            continue
        runs = network.required(lay.path)
        highest = max(run.pressure_psi for run in runs)
        cautions += limits.check_hose(lay, runs, rig, lay.fixed_psi or (highest if len(runs) > 1 else None))
        cautions += limits.check_eductor(runs, rig)
        for line, run in zip(lay.lines, runs, strict=True):
            reaction = reaction_lbf(run.outlet, run.flow_gpm, run.nozzle_psi, rig)
            lines.append(
                WorkedLine(line, run, lay.fixed_psi or run.pressure_psi, reaction, run.count * fill_gal(line.said.hose))
            )
            told = (limits.check_reaction(line, reaction, rig), limits.check_nozzle(line, run, rig))
            cautions += [caution for caution in told if caution]
    if lines and max([line.pressure_psi for line in lines] + fixed) < 0:
        cautions.append("The drop alone gives more than the nozzle asks for: idle the pump and gate the line.")
    return Worked(
        lays=lays,
        lines=tuple(lines),
        pump_psi=max([line.pressure_psi for line in lines] + fixed + [0.0]),
        flow_gpm=sum(line.count * line.flow_gpm for line in lines),
        fill_gal=sum(line.fill_gal for line in lines) + sum(fill_gal(lay.said.feed) for lay in lays),
        assumed=tuple(dict.fromkeys(told for lay in lays for told in lay.assumed)),
        cautions=tuple(dict.fromkeys(cautions)),
    )


def reaction_lbf(outlet: Outlet, flow_gpm: float, nozzle_psi: float, rig: Rig) -> float:
    """How hard a nozzle pushes back at this flow and pressure."""
    if outlet.kind == "smooth" and outlet.tip_in is not None:
        return hydraulics.smooth_bore_reaction_lbf(outlet.tip_in, nozzle_psi, rig.hydraulics.reaction_smooth)
    return hydraulics.fog_reaction_lbf(flow_gpm, nozzle_psi, rig.hydraulics.reaction_fog)


def fill_gal(hoses: tuple[SaidHose, ...]) -> float:
    """Gallons that fill hose as it is charged."""
    return sum(
        part.parallel * hydraulics.hose_volume_gal(part.hose_in or 0.0, part.length_ft or 0.0) + fill_gal(part.beside)
        for part in hoses
    )


def stretches(run: Run) -> tuple[Stretch, ...]:
    """The hose on the way to a nozzle; of unequal lines side by side each is shown, all with the same loss."""
    shown: list[Stretch] = []
    for passage in run.passages:
        if isinstance(passage.piece, HoseSection | JoinedLines):
            for section, flow, loss in network.leg_flows(passage):
                if section.hose:
                    parallel = len(passage.piece.legs) if isinstance(passage.piece, JoinedLines) else 1
                    shown.append(Stretch(section.hose_in, section.length_ft, flow, loss, parallel))
    return tuple(shown)


def line_answer(worked: WorkedLine) -> LineAnswer:
    """One line as the answer shows it."""
    line, run = worked.line, worked.run
    return LineAnswer(
        name=line.name,
        count=run.count,
        hose_in=line.hose_in,
        length_ft=line.length_ft,
        flow_gpm=run.flow_gpm,
        nozzle_psi=run.nozzle_psi,
        tip_in=run.outlet.tip_in,
        friction_psi=run.friction_psi,
        appliance_psi=run.appliance_psi,
        elevation_psi=run.elevation_psi,
        pressure_psi=worked.pressure_psi,
        reaction_lbf=worked.reaction_lbf,
        sections=stretches(run),
    )


def line_answers(lines: tuple[WorkedLine, ...]) -> tuple[LineAnswer, ...]:
    """One for each different line: equal ones (said apart, without a name) are counted together."""
    merged: dict[LineAnswer, int] = {}
    for worked in lines:
        alone = msgspec.structs.replace(line_answer(worked), count=0)
        merged[alone] = merged.get(alone, 0) + worked.count
    return tuple(msgspec.structs.replace(line, count=count) for line, count in merged.items())
