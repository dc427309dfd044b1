"""The panel's first question: what pressure for these lines? The number first, then how, what was assumed, cautions."""

from __future__ import annotations

import math
from datetime import datetime
from typing import NamedTuple

from msgspec.structs import replace

from grammar.commands import Choice, LineChange, LineOn, LineRef, PumpPressure, Question, SaidLine, SaidNozzle
from handlers.desk import handle
from handlers.outcome import Outcome, Picture, Said
from handlers.pumping import limits, network
from handlers.pumping.completion import CompleteLine
from handlers.pumping.gates import SAME_PSI, gate_of, lay_of, lower_leg
from handlers.pumping.layout import Appliance, Eductor
from handlers.pumping.network import Run
from handlers.pumping.pressure import PumpPressures, Worked, WorkedLine, line_answers, work_out
from handlers.pumping.working_lines import as_they_lie
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import duration, spoken_duration
from handlers.words import Words

FILL_SHARE = 0.15
"""From this share of the tank on, what fills the hose of an asked lay is told."""


@handle.register
def _(command: PumpPressure, scene: Scene, rig: Rig, said: Said) -> Outcome:
    pump = scene.pump(said.unit)
    if said.live and (opened := _gate_undone(command, pump)) is not None:
        return handle(opened, scene, rig, said)
    lays, lying = as_they_lie(command.lays, pump, rig)
    command = replace(command, lays=lays)
    worked = work_out(command.lays, rig)
    intake = command.intake_psi if command.intake_psi is not None else (pump.intake_psi or 0.0)
    on_tank = pump.on_tank and not (command.intake_psi and command.intake_psi > 0)
    intake = 0.0 if on_tank else intake
    flows = bool(worked.lines)
    tank_s = 60 * rig.tank.usable_gal / worked.flow_gpm if on_tank and flows else None
    words = Words.of(rig)
    now = _tank_now(worked, pump, said.at, words) if tank_s is not None and scene.open else None
    pump_cautions = limits.check_pump(worked.flow_gpm, worked.pump_psi, intake, on_tank, rig) if flows else []
    lead = _lead(worked, tank_s, words, full=now is None)
    spoken = _spoken(worked, now.spoken if now else _tank_said(tank_s), words)
    return Outcome(
        intent=command.intent,
        lead=_friction(worked, words) or lead if command.friction else lead,
        how=(
            *([f"At the pump {lead}."] if command.friction else []),
            *([now.text] if now else []),
            *(_filling(worked, pump, rig, said) if on_tank else ()),
            *how(worked, rig, intake),
        ),
        spoken=_friction(worked, words) or spoken if command.friction else spoken,
        answer=PumpPressures(worked.pump_psi, worked.flow_gpm if flows else None, tank_s, line_answers(worked.lines)),
        assumed=(*lying, *worked.assumed),
        cautions=(*worked.cautions, *pump_cautions),
        follow_up=_charge(command) if said.live and scene.open else None,
        picture=Picture("profile", command=command) if command.picture and flows else None,
    )


def _gate_undone(command: PumpPressure, pump: Pump) -> LineChange | None:
    """ "Crosslay one, 150 gpm" of a line that is gated to less: it is opened to that."""
    one = command.lays[0].lines[0] if len(command.lays) == 1 and len(command.lays[0].lines) == 1 else None
    if one is None or one.name is None or command.picture:
        return None
    flow = one.nozzle.flow_gpm
    bare = one == SaidLine(name=one.name, nozzle=SaidNozzle(flow_gpm=flow))
    line = next((line for line in pump.lines if line.name == one.name and line.gated), None)
    if not bare or flow is None or line is None or flow <= line.flow_gpm:
        return None
    return LineChange(ref=LineRef(name=one.name), gate=True, gate_to_gpm=flow)


def _filling(worked: Worked, pump: Pump, rig: Rig, said: Said) -> tuple[str, ...]:
    """What filling the hose takes out of the tank, where that matters; hose that is full already takes nothing."""
    full = {line.name for line in (*pump.lines, *pump.shut) if line.name and not line.drained}
    if not worked.lines or any(line.line.said.name in full for line in worked.lines):
        return ()
    left = pump.gallons_at(said.at) if pump.as_of is not None else rig.tank.usable_gal
    if left <= 0 or worked.fill_gal < FILL_SHARE * left:
        return ()
    words = Words.of(rig)
    told = f"Filling its hose takes {words.gal(worked.fill_gal)} of the {words.gal(left)} in the tank"
    flow = min(pump.flow_gpm + worked.flow_gpm, rig.tank.to_pump_gpm)
    after = left - worked.fill_gal
    return (f"{told}: {duration(60 * after / flow)} left then." if after > 0 else f"{told}: more than it holds.",)


class _TankNow(NamedTuple):
    """The tank as it stands, to be read and to be heard."""

    text: str
    spoken: str


def _tank_now(worked: Worked, pump: Pump, at: datetime, words: Words) -> _TankNow | None:
    """What these lines would do to the tank as it stands; None while it is full and nothing flows."""
    left = pump.gallons_at(at)
    if pump.as_of is None or (not pump.lines and left >= pump.usable_gal):
        return None
    if left <= 0:
        return _TankNow("The tank is calculated empty: check its gauge.", "Tank calculated empty.")
    on = {line.name for line in pump.lines if line.name}
    if any(worked_line.line.said.name in on for worked_line in worked.lines):
        return _TankNow(f"The tank as it is: {words.gal(left)}.", _tank_said(pump.left_s(at)))
    flow = min(pump.flow_gpm + worked.flow_gpm, pump.to_pump_gpm or math.inf)
    lasts_s = 60 * max(0.0, left - worked.fill_gal) / flow
    beside = f" beside {words.gpm(pump.flow_gpm)} now" if pump.lines else ""
    text = f"The tank as it is, {words.gal(left)}: {duration(lasts_s)} with this{beside}."
    return _TankNow(text, f"The tank as it is {spoken_duration(lasts_s)}.")


def _lead(worked: Worked, tank_s: float | None, words: Words, *, full: bool) -> str:
    parts = [words.psi(worked.pump_psi)]
    if worked.lines:
        parts.append(words.gpm(worked.flow_gpm))
    if tank_s is not None:
        parts.append(f"{duration(tank_s)} of {'tank' if full else 'a full tank'}")
    return ", ".join(parts)


def _friction(worked: Worked, words: Words) -> str:
    """ "70 psi friction": of several lines each one's; "" for a sprinkler connection."""
    lines = sorted(worked.lines, key=lambda line: -line.pressure_psi)
    if len(lines) == 1:
        return f"{words.psi(lines[0].run.friction_psi)} friction, {words.gpm(lines[0].flow_gpm)}"
    return ", ".join(
        f"{words.psi(line.run.friction_psi)} friction in the {label_of(line.line, worked, words)}" for line in lines
    )


def _spoken(worked: Worked, tank: str, words: Words) -> str:
    parts = [f"{words.psi_said(worked.pump_psi)}."]
    if worked.lines:
        parts.append(f"{words.gpm_said(worked.flow_gpm)}.")
    return " ".join((*parts, tank)).strip()


def _tank_said(tank_s: float | None) -> str:
    return f"Tank {spoken_duration(tank_s)}." if tank_s is not None else ""


def how(worked: Worked, rig: Rig, intake_psi: float = 0.0) -> list[str]:
    """The lines that show the work: a sum for each different line, the governing one first."""
    words, lines = Words.of(rig), []
    ordered = sorted(worked.lines, key=lambda line: -line.pressure_psi)
    for worked_line in ordered:
        lines.append(_sum(worked_line, worked, words, alone=len(ordered) == 1))
    for lay in worked.lays:
        if lay.rule:
            beside = lay.path is None and lay.fixed_psi is not None and len(worked.lays) > 1
            told = f"{words.psi(lay.fixed_psi or 0.0)} at the connection's discharge, b" if beside else "B"
            lines.append(f"{told}y {lay.rule}.")
        if any(line.device in ("standpipe", "high_rise_pack") for line in lay.lines):
            lines.append("A pressure-reducing outlet changes this: its own plate decides.")
    if intake_psi:
        lines.append(f"Net {words.psi(worked.pump_psi - intake_psi)} over {words.psi(intake_psi)} intake.")
    lines += _not_gated(worked, words)
    lines += _newer_hose(worked, rig)
    return lines


def _sum(line: WorkedLine, worked: Worked, words: Words, *, alone: bool) -> str:
    leg = lower_leg(line, worked) if not alone else None
    run = leg or line.run
    total = total_of(run, words)
    each = f"{line.count} lines, {words.gpm(line.flow_gpm)} each" if line.count > 1 else words.gpm(line.flow_gpm)
    if alone:
        return f"{total}; {each}" if line.count > 1 else total
    name = label_of(line.line, worked, words)
    there = f" at the {lay_of(line, worked).said.split}" if leg is not None else ""
    return f"{name}: {words.psi(run.pressure_psi)}{there} = {total}; {each}; {gate_of(line, worked, words)}"


def label_of(line: CompleteLine, worked: Worked, words: Words) -> str:
    """A line's label; where another line has the same, its length and height tell them apart."""
    if sum(other.line.label == line.label for other in worked.lines) < 2:
        return line.label
    parts = [line.label, words.feet(line.length_ft)]
    if line.said.floor is not None:
        parts.append("basement" if line.said.floor == -1 else f"floor {line.said.floor}")
    elif line.said.rise_ft is not None:
        parts.append(f"{words.feet(abs(line.said.rise_ft))} {'up' if line.said.rise_ft > 0 else 'down'}")
    return ", ".join(parts)


def total_of(run: Run, words: Words) -> str:
    """ "100 nozzle + 70 friction + 5 elevation": where the pressure of one line goes."""
    names = [p.piece.name for p in run.passages if isinstance(p.piece, Appliance | Eductor) and p.loss_psi]
    parts = [
        (run.nozzle_psi, "nozzle"),
        (run.friction_psi, "friction"),
        (run.appliance_psi, names[0] if len(names) == 1 else "appliances"),
        (run.elevation_psi, "elevation"),
    ]
    return words.sum_of([part for part in parts if part[0]], run.pressure_psi)


def _not_gated(worked: Worked, words: Words) -> list[str]:
    """What the lower lines would flow at the governing pressure, all valves open (convention 7)."""
    if len(worked.lines) < 2 or all(worked.pump_psi - line.pressure_psi < SAME_PSI for line in worked.lines):
        return []
    told: list[str] = []
    for lay in worked.lays:
        if lay.path is None or lay.fixed_psi is not None or any(line.device == "eductor" for line in lay.lines):
            continue
        free = network.ungated(lay.path, worked.pump_psi)
        wanted = [line for line in worked.lines if line.line in lay.lines]
        if any(worked.pump_psi - line.pressure_psi >= SAME_PSI for line in wanted):
            told += [f"{words.gpm(run.flow_gpm)} from {label_of(line, worked, words)}"
                     for line, run in zip(lay.lines, free.runs, strict=True)]  # fmt: skip
    return [f"If not gated: {'; '.join(told)}."] if told else []


def _newer_hose(worked: Worked, rig: Rig) -> list[str]:
    """Convention 9: the book's coefficient is noted until a flow test of the department's own is in the rig file."""
    words, told = Words.of(rig), []
    for key in dict.fromkeys(key for lay in worked.lays for key in lay.hoses):
        hose = rig.hose[key]
        if hose.newer_coefficient is None or hose.flow_tested or hose.newer_coefficient >= hose.coefficient:
            continue
        saved = 1 - hose.newer_coefficient / hose.coefficient
        psi = max(line.pressure_psi - saved * _friction_in(line, key) for line in worked.lines)
        if abs(psi - worked.pump_psi) < SAME_PSI and any(
            _before_eductor(line) is not line.run.passages for line in worked.lines
        ):
            continue  # an eductor's inlet pressure stays, whatever the hose behind it loses
        told.append(
            f"{words.hose(hose.diameter_in)} hose by the book's C {words.coefficient(hose.coefficient)}; newer hose "
            f"can be nearer {words.coefficient(hose.newer_coefficient)} ({words.psi(psi)}): your own flow test decides."
        )
    return told


def _before_eductor(line: WorkedLine) -> tuple[network.Passage, ...]:
    """The pieces whose losses the pump pressure follows: with an eductor on the way only those before it."""
    passages = line.run.passages
    at = next((n for n, passage in enumerate(passages) if isinstance(passage.piece, Eductor)), None)
    return passages if at is None else passages[:at]


def _friction_in(line: WorkedLine, hose: str) -> float:
    return sum(
        loss
        for passage in _before_eductor(line)
        for number, (section, _, loss) in enumerate(network.leg_flows(passage))
        if section.hose == hose and number == 0
    )


def _charge(command: PumpPressure) -> Question:
    """The button that puts the lines on; until then they count as asked about, not as flowing (convention 1)."""
    lines = tuple(LineOn(lay=lay) for lay in command.lays)
    return Question("Counts as flowing once you say “charged”.", (Choice("Charged", lines),))
