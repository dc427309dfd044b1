"""The panel's questions turned round: flow at a pressure, the longest lay, the tip for a flow, what a nozzle gives."""

from __future__ import annotations

import msgspec

from grammar.commands import FlowAtPressure, LongestLay, Nozzle, SaidHose, SaidLay, SaidLine, TipForFlow
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping import hydraulics, limits, network
from handlers.pumping.completion import CompleteLay, complete, lays_of
from handlers.pumping.network import Ungated
from handlers.pumping.nozzles import fit, tips_of
from handlers.pumping.panel import total_of
from handlers.pumping.pressure import reaction_lbf
from handlers.pumping.working_lines import as_they_lie
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.words import Words, down, whole

HIGHEST_PUMP_PSI = 600


class LineFlow(Answer, frozen=True):
    """What one different line flows."""

    name: str | None
    count: int
    flow_gpm: float
    nozzle_psi: float
    friction_psi: float


class FlowsAtPressure(Answer, frozen=True):
    """Answer of `flow_at_pressure`: the total flow; nozzle pressure and friction of the first line."""

    flow_gpm: float
    nozzle_psi: float
    friction_psi: float
    lines: tuple[LineFlow, ...]


class Longest(Answer, frozen=True):
    """Answer of `longest_lay`."""

    max_length_ft: float
    pump_pressure_psi: float
    flow_gpm: float


class Tip(Answer, frozen=True):
    """Answer of `tip_for_flow`: the tip, and what it flows at that pressure."""

    tip_in: float
    flow_gpm: float
    nozzle_psi: float


class NozzleFlow(Answer, frozen=True):
    """Answer of `nozzle`."""

    flow_gpm: float
    nozzle_psi: float
    reaction_lbf: float


# --- flow at a pressure


@handle.register
def _flow_at_pressure(command: FlowAtPressure, scene: Scene, rig: Rig, said: Said) -> Outcome:
    _check_pump_psi(command.pump_pressure_psi, rig)
    words, pump_psi = Words.of(rig), command.pump_pressure_psi
    said_lays, lying = as_they_lie(command.lays, scene.pump(said.unit), rig)
    lays = [complete(lay, rig) for lay in lays_of(said_lays)]
    free = [_open(lay, pump_psi, words) for lay in lays]
    cautions = [text for lay, flow in zip(lays, free, strict=True)
                for text in limits.check_hose(lay, flow.runs, rig, pump_psi)]  # fmt: skip
    cautions += [text for lay, flow in zip(lays, free, strict=True)
                 for line, run in zip(lay.lines, flow.runs, strict=True)
                 if (text := limits.check_nozzle(line, run, rig))]  # fmt: skip
    lines = tuple(
        LineFlow(line.name, run.count, run.flow_gpm, run.nozzle_psi, run.friction_psi)
        for lay, flow in zip(lays, free, strict=True)
        for line, run in zip(lay.lines, flow.runs, strict=True)
    )
    total = sum(flow.flow_gpm for flow in free)
    step = rig.hydraulics.appliance_threshold_gpm
    if any(flow.in_step for flow in free):
        cautions.append(
            f"That pressure lies inside the {words.gpm(step)} step of the appliance loss: shown just under the step."
        )
    return Outcome(
        intent=command.intent,
        lead=_flow_lead(lines, total, words),
        how=tuple(
            f"{line.label}: {words.gpm(run.flow_gpm)}; {words.psi(pump_psi)} = {total_of(run, words)}"
            for lay, flow in zip(lays, free, strict=True)
            for line, run in zip(lay.lines, flow.runs, strict=True)
        ),
        answer=FlowsAtPressure(total, lines[0].nozzle_psi, lines[0].friction_psi, lines),
        assumed=(*lying, *dict.fromkeys(told for lay in lays for told in lay.assumed)),
        cautions=(*dict.fromkeys(cautions), *limits.check_pump(total, pump_psi, 0.0, False, rig)),
    )


def _flow_lead(lines: tuple[LineFlow, ...], total: float, words: Words) -> str:
    if len(lines) == 1 and lines[0].count == 1:
        return f"{words.gpm(total)}, {words.psi(lines[0].nozzle_psi)} at the nozzle"
    each = {whole(line.flow_gpm) for line in lines}
    return f"{words.gpm(total)} in all" + (f", {words.gpm(lines[0].flow_gpm)} each" if len(each) == 1 else "")


def _open(lay: CompleteLay, pump_psi: float, words: Words) -> Ungated:
    """A lay with its valves open at a pump pressure; raises Refusal where that says nothing."""
    if lay.path is None:
        raise Refusal("A sprinkler system's flow isn't known from the pump pressure: it depends on the open heads.")
    if any(line.device == "eductor" for line in lay.lines):
        raise Refusal("A foam eductor sets its own flow: pump it at its rated inlet pressure.")
    flow = network.ungated(lay.path, pump_psi)
    dry = next((run for run in flow.runs if run.flow_gpm <= 0), None)
    if dry is not None:
        lost = dry.elevation_psi + dry.appliance_psi
        raise Refusal(
            f"{words.psi(pump_psi)} doesn't bring water there: height and appliances alone take {words.psi(lost)}."
        )
    return flow


def _check_pump_psi(pump_psi: float, rig: Rig) -> None:
    if not 0 < pump_psi <= HIGHEST_PUMP_PSI:
        highest = Words.of(rig).psi(HIGHEST_PUMP_PSI)
        raise Refusal(f"A pump pressure must be above zero and not above {highest}: say it again.")


# --- longest lay


@handle.register
def _longest_lay(command: LongestLay, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    short = complete(_one_foot(command.lay, rig), rig)
    if short.path is None or len(short.lines) != 1:
        raise Refusal("Ask the longest lay for one line at a time.")
    line, run = short.lines[0], network.required(short.path)[0]
    if not line.hoses:
        raise Refusal("There is no hose on that: a pre-piped gun stays where it is.")
    hose = rig.hose[line.hoses[-1]]
    last = line.said.hose[-1]
    flow = run.flow_gpm / last.parallel
    per_ft = hydraulics.friction_psi(hose.coefficient, flow, 1.0)
    pump_psi = command.pump_pressure_psi or limits.highest_psi(run.flow_gpm, line.hoses, rig)
    _check_pump_psi(pump_psi, rig)
    longest = (pump_psi - run.pressure_psi) / per_ft + 1.0
    if longest <= 0:
        raise Refusal(
            f"{words.psi(pump_psi)} isn't enough for any length: without that hose it already takes "
            f"{words.psi(run.pressure_psi - per_ft)}."
        )
    told = () if command.pump_pressure_psi else (f"pump pressure {words.psi(pump_psi)}, the limit of pump and hose",)
    at_full = complete(_stretched(short, longest), rig)
    assert at_full.path is not None
    return Outcome(
        intent=command.intent,
        lead=f"{words.feet_down(longest)} of {words.hose(hose.diameter_in)}",
        spoken=f"{words.feet_down(longest)}.",
        how=(
            f"{down(longest / hose.piece_ft)} lengths of {words.feet(hose.piece_ft)}, {words.gpm(run.flow_gpm)} "
            f"at {words.psi(pump_psi)}",
        ),
        answer=Longest(longest, pump_psi, run.flow_gpm),
        assumed=(*short.assumed, *told),
        cautions=tuple(limits.check_hose(at_full, network.required(at_full.path), rig)),
    )


def _one_foot(lay: SaidLay, rig: Rig) -> SaidLay:
    """The lay with one foot of the hose whose length is wanted: the run without a length, or else the last."""
    if len(lay.lines) != 1:
        return lay
    line = lay.lines[0]
    carried = rig.line_named(line.name) if line.name else None
    parts = line.hose
    if not parts and carried is not None and carried.pieces:
        parts = tuple(SaidHose(rig.hose[piece.hose].diameter_in, piece.length_ft) for piece in carried.pieces)
    if not parts:
        return lay
    last = msgspec.structs.replace(parts[-1], length_ft=1.0)
    return msgspec.structs.replace(lay, lines=(msgspec.structs.replace(line, hose=(*parts[:-1], last)),))


def _stretched(lay: CompleteLay, length_ft: float) -> SaidLay:
    line = lay.lines[0].said
    last = msgspec.structs.replace(line.hose[-1], length_ft=length_ft)
    longer = msgspec.structs.replace(line, hose=(*line.hose[:-1], last))
    return msgspec.structs.replace(lay.said, lines=(longer,))


# --- tips and nozzles


@handle.register
def _tip_for_flow(command: TipForFlow, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The smallest tip that gives the flow (or falls short by no more than the rig file allows)."""
    if command.flow_gpm <= 0:
        raise Refusal("A flow must be above zero: say it again.")
    words, values = Words.of(rig), rig.hydraulics
    hand = hydraulics.smooth_bore_gpm(1.25, values.smooth_hand_psi, values.smooth_constant)
    master = command.master_stream or (
        command.nozzle_psi is None and command.flow_gpm > hand * (1 + values.tip_shortfall)
    )
    psi = command.nozzle_psi or (values.smooth_master_psi if master else values.smooth_hand_psi)
    flows = {tip: hydraulics.smooth_bore_gpm(tip, psi, values.smooth_constant) for tip in tips_of(rig)}
    enough = [tip for tip in sorted(flows) if flows[tip] >= command.flow_gpm * (1 - values.tip_shortfall)]
    if not enough:
        largest = max(flows)
        raise Refusal(
            f"No tip in the rig file gives {words.gpm(command.flow_gpm)} at {words.psi(psi)}: the largest, "
            f"{words.tip(largest)}, flows {words.gpm(flows[largest])}. Use more than one stream."
        )
    tip = enough[0]
    exact = hydraulics.smooth_bore_tip_in(command.flow_gpm, psi, values.smooth_constant)
    assumed = "" if command.nozzle_psi else f"{'master stream' if master else 'hand line'} at {words.psi(psi)}"
    return Outcome(
        intent=command.intent,
        lead=f"{words.tip(tip)} tip, {words.gpm(flows[tip])}",
        how=(f"Exactly {words.gpm(command.flow_gpm)} at {words.psi(psi)} would be {_fine(exact, words)}.",),
        answer=Tip(tip, flows[tip], psi),
        assumed=(assumed,) if assumed else (),
    )


def _fine(tip_in: float, words: Words) -> str:
    return f"{tip_in * 25.4:.1f} mm" if words.metric else f"{tip_in:.2f} in"


@handle.register
def _nozzle(command: Nozzle, scene: Scene, rig: Rig, said: Said) -> Outcome:
    words = Words.of(rig)
    line = SaidLine(nozzle=command.nozzle, device=command.device)
    fitted = fit(line, rig, None, None, command.nozzle.flow_gpm)
    outlet = fitted.outlet
    push = reaction_lbf(outlet, outlet.flow_gpm, outlet.nozzle_psi, rig)
    at_tip = command.nozzle.tip_in is not None and command.nozzle.flow_gpm is not None  # its pressure is what is asked
    if outlet.kind == "smooth":
        tip = words.tip(outlet.tip_in or 0.0)
        work = f"{tip} tip at {words.psi(outlet.nozzle_psi)}: {words.gpm(outlet.flow_gpm)}, {words.lbf(push)} reaction"
    else:
        work = f"fog, {words.gpm(outlet.flow_gpm)} at {words.psi(outlet.nozzle_psi)}: {words.lbf(push)} reaction"
    return Outcome(
        intent=command.intent,
        lead=f"{words.psi(outlet.nozzle_psi) if at_tip else words.gpm(outlet.flow_gpm)}, {words.lbf(push)} reaction",
        how=(work,),
        answer=NozzleFlow(outlet.flow_gpm, outlet.nozzle_psi, push),
        assumed=(fitted.told,) if fitted.told else (),
    )
