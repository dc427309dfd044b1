"""A working line changes: hose added, a burst length, gated down, more nozzle pressure, another nozzle, moved."""

from __future__ import annotations

import math

from msgspec.structs import replace

from grammar.commands import Choice, LineChange, LineOff, LineRef, Question, SaidHose, SaidLine
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import LineChanged, Noted, WorkingLine
from handlers.outcome import Outcome, Said
from handlers.pumping.lines import changed, gating, lead_of, pump_cautions, pump_psi, spoken_of, the_lines, with_lines
from handlers.pumping.nozzle_state import nozzle_state
from handlers.pumping.pressure import WorkedLine, fill_gal
from handlers.pumping.working_lines import flow_of, ref_to, reworked
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.words import Words

NOZZLE_STEP_PSI = 10.0
""" "More pressure" at the nozzle: one step (common practice)."""


@handle.register
def line_change(command: LineChange, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Work a changed line out anew; what the change is decides how."""
    pump = scene.pump(said.unit)
    if command.flowing is not None or command.full_open:
        return nozzle_state(command, scene, rig, said)
    if command.ref.all and len(pump.lines) > 1:
        command = replace(command, ref=LineRef())
    line = the_lines(command, pump, said, "Which line?")[0]
    if line.lay is None:
        raise Refusal(f"How {line.label} lies isn't known: say it whole, hose, length and nozzle.")
    if command.burst:
        return _burst(line, rig)
    if command.gate or command.gate_to_gpm is not None or command.gate_to_psi is not None:
        return _gated(command, line, pump, rig)
    if command.nozzle_psi_change is not None:
        return _nozzle_pressure(command.nozzle_psi_change, line, pump, rig)
    one = line.lay.lines[0]
    if command.add_ft is not None or command.add_lengths:
        return _longer(command, line, one, pump, rig)
    moved = replace(
        one,
        nozzle=command.nozzle or one.nozzle,
        floor=command.floor if command.floor is not None else one.floor,
        rise_ft=command.rise_ft if command.rise_ft is not None else one.rise_ft,
        place=command.place or one.place,
    )
    what = "with the new nozzle" if command.nozzle is not None else f"now {command.place or 'moved'}"
    if command.nozzle is None and command.floor is not None:
        what = f"now on floor {command.floor}" if command.floor > 0 else "now below the pump's level"
    return changed(line, replace(line.lay, lines=(moved,)), what, pump, rig, command.intent)


def _longer(command: LineChange, line: WorkingLine, one: SaidLine, pump: Pump, rig: Rig) -> Outcome:
    if not one.hose:
        raise Refusal(f"{line.label} has no hose to add to.")
    last = one.hose[-1]
    add_ft = command.add_ft if command.add_ft is not None else command.add_lengths * piece_ft(last, rig)
    length = (last.length_ft or 0.0) + add_ft
    if length <= 0:
        raise Refusal(f"{line.label} is only {Words.of(rig).feet(last.length_ft or 0.0)} long.")
    longer = replace(one, hose=(*one.hose[:-1], replace(last, length_ft=length)))
    fill = fill_gal((SaidHose(hose_in=last.hose_in, length_ft=max(0.0, add_ft), parallel=last.parallel),))
    lay = replace(line.lay, lines=(longer,)) if line.lay else None
    assert lay is not None
    return changed(line, lay, f"at {Words.of(rig).feet(length)}", pump, rig, LineChange.intent, fill)


def piece_ft(last: SaidHose, rig: Rig) -> float:
    """How long one length of a line's last hose is."""
    hose = rig.hose_of(last.hose_in) if last.hose_in else None
    return hose.piece_ft if hose is not None else 50.0


def _burst(line: WorkingLine, rig: Rig) -> Outcome:
    """A burst length: what to do, and the pressure with one or two lengths in its place; it flows until it is shut."""
    words = Words.of(rig)
    lay = line.lay
    how = []
    if lay is not None and lay.lines[0].hose:
        one = lay.lines[0]
        last = one.hose[-1]
        piece = piece_ft(last, rig)
        longer = replace(one, hose=(*one.hose[:-1], replace(last, length_ft=(last.length_ft or 0.0) + piece)))
        psi = reworked((replace(line, lay=replace(lay, lines=(longer,))),), rig)[0][0].pressure_psi
        how = [
            f"With one {words.feet(piece)} length in its place: {words.psi(line.pressure_psi)}; "
            f"with two: {words.psi(psi)} (say “add {words.feet(piece)}”)."
        ]
    return Outcome(
        intent=LineChange.intent,
        lead=f"Burst length on {line.label}: shut it, replace the length, charge it again.",
        how=(*how, f"{line.label} counts as flowing until you say it is shut."),
        events=(Noted(kind="note", text=f"Burst length on {line.label}"),),
        follow_up=Question("Is it shut?", (Choice("Shut", (LineOff(ref=ref_to(line)),)), Choice("Not yet"))),
    )


def _gated(command: LineChange, line: WorkingLine, pump: Pump, rig: Rig) -> Outcome:
    """Gated down at the discharge: the nozzle's opening stays, so its flow and the losses fall with the square."""
    words = Words.of(rig)
    assert line.lay is not None
    full = _alone(line, rig)
    if command.gate_to_gpm is None and command.gate_to_psi is None:
        if line.pressure_psi >= pump_psi(pump) - 0.5:
            raise Refusal(f"{line.label} governs the pump: say to what flow or pressure to gate it.")
        text = f"Gate {line.label} to {words.psi(line.pressure_psi)}"
        return Outcome(intent=command.intent, lead=lead_of(text, pump, rig), how=gating(pump, rig))
    fixed = full.run.appliance_psi + full.run.elevation_psi
    by_square = full.run.pressure_psi - fixed
    if command.gate_to_gpm is not None:
        share = command.gate_to_gpm / full.flow_gpm
    else:
        share = math.sqrt(max(0.0, (command.gate_to_psi or 0.0) - fixed) / by_square)
    if not 0 < share <= 1 + 1e-9:
        raise Refusal(
            f"{line.label} flows {words.gpm(full.flow_gpm)} at {words.psi(full.pressure_psi)}: "
            "gating only takes it down from there."
        )
    new = replace(
        line, flow_gpm=share * full.flow_gpm, pressure_psi=fixed + by_square * share**2, gated=share < 1 - 1e-9
    )
    after = with_lines(pump, (new,))
    gate = "gated to" if new.gated else "at"
    what = f"{line.label} {gate} {words.psi(new.pressure_psi)}, {flow_of(new, words)}"
    return Outcome(
        intent=command.intent,
        lead=lead_of(what, after, rig),
        spoken=spoken_of(what, after, rig),
        how=(f"Nozzle pressure {words.psi(full.run.nozzle_psi * share**2)} then.", *gating(after, rig)),
        cautions=pump_cautions(after, rig),
        events=(LineChanged(new, why="gated"),),
    )


def _alone(line: WorkingLine, rig: Rig) -> WorkedLine:
    """A line as it lies, not gated, by itself."""
    _, worked = reworked((line,), rig)
    return worked.lines[0]


def _nozzle_pressure(which: str, line: WorkingLine, pump: Pump, rig: Rig) -> Outcome:
    """More or less pressure at the nozzle: one step, at the same opening."""
    assert line.lay is not None
    words = Words.of(rig)
    now = _alone(line, rig)
    flowing_psi = now.run.nozzle_psi * (line.flow_gpm / now.flow_gpm) ** 2
    wanted = flowing_psi + (NOZZLE_STEP_PSI if which == "more" else -NOZZLE_STEP_PSI)
    if wanted <= 0:
        raise Refusal(f"{line.label} has {words.psi(flowing_psi)} at the nozzle: there is no less to give.")
    share = math.sqrt(wanted / now.run.nozzle_psi)
    fixed = now.run.appliance_psi + now.run.elevation_psi
    psi = fixed + (now.run.pressure_psi - fixed) * share**2
    new = replace(line, flow_gpm=now.flow_gpm * share, pressure_psi=psi, gated=share < 1)
    after = with_lines(pump, (new,))
    what = f"{line.label} at {words.psi(psi)}, {flow_of(new, words)}"
    return Outcome(
        intent=LineChange.intent,
        lead=lead_of(what, after, rig),
        spoken=spoken_of(what, after, rig),
        how=(f"{words.psi(wanted)} at the nozzle in place of {words.psi(flowing_psi)}.", *gating(after, rig)),
        assumed=(f"one step of {words.psi(NOZZLE_STEP_PSI)} at the nozzle (common practice)",),
        cautions=pump_cautions(after, rig),
        events=(LineChanged(new, why=f"{which} nozzle pressure"),),
    )
