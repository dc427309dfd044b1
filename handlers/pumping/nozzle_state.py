"""A charged line's nozzle is shut and opened again: charged, flowing and shut are three states (convention 1).

While its nozzle is shut a line stays charged: its pressure is held, its hose is full, nothing flows from it. What it is
gated to stays unless it is said to be open in full.
"""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import LineChange, LineOff, LineOn, LineRef
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.events import LineChanged, WorkingLine
from handlers.outcome import Outcome, Said
from handlers.pumping.lines import HELD, counted, gating, lead_of, pump_cautions, spoken_of, the_lines, with_lines
from handlers.pumping.working_lines import flow_of, meant, ref_to, settled_discharge
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import listed
from handlers.words import Words


def nozzle_state(command: LineChange, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Nozzles shut or open; which line, where none is named: the one that can be meant."""
    pump = scene.pump(said.unit)
    if (shut := _shut_before(command, pump)) is not None:
        if pump.lines and command.ref.name is None and not any(isinstance(c, LineOff) for c in said.last_commands):
            on = (listed([line.label for line in pump.lines]), replace(command, ref=LineRef(all=True)))
            again = (f"Charge {shut.label} again", LineOn(ref=ref_to(shut)))
            raise NeedsAnswer(_ASK[False], part=command, options=(on, again))
        return handle(LineOn(ref=ref_to(shut)), scene, rig, said)
    able = [line for line in pump.lines if _can(command, line)]
    if not able and command.ref in (LineRef(), LineRef(all=True)) and pump.lines:
        return _as_it_is(pump.lines, command, rig)
    lines = the_lines(command, pump, said, _ASK[command.flowing is False], able)
    told = [line for line in lines if _can(command, line)]
    if not told:
        return _as_it_is(lines, command, rig)
    return _turned(command, told, pump, rig)


_ASK = {True: "Which line's nozzle is shut?", False: "Which line is open again?"}


def _can(command: LineChange, line: WorkingLine) -> bool:
    """Whether a line isn't so already."""
    if command.flowing is False:
        return not line.held
    return line.held or (command.full_open and line.gated)


def _shut_before(command: LineChange, pump: Pump) -> WorkingLine | None:
    """ "Open it back up" of a line that was shut at the pump: it is charged again, its hose full as it was left."""
    if command.flowing is False or any(_can(command, line) for line in meant(command.ref, pump)):
        return None
    on = {line.name for line in pump.lines if line.name}
    shut = [line for line in pump.shut if line.name is None or line.name not in on]
    if command.ref.name is not None:
        shut = [line for line in shut if line.name == command.ref.name]
    elif command.ref != LineRef() or (pump.lines and len(shut) != 1):
        return None
    return shut[-1] if shut else None


def _as_it_is(lines: tuple[WorkingLine, ...], command: LineChange, rig: Rig) -> Outcome:
    """Nothing changes: it is so already."""
    words = Words.of(rig)
    told = [f"{line.label}: {words.psi(line.pressure_psi)}, {flow_of(line, words)}" for line in lines]
    gated = any(line.gated for line in lines) and not command.full_open and command.flowing
    how = ("Gated: say “full open” when it is.",) if gated else ()
    return Outcome(intent=command.intent, lead=f"So already. {'; '.join(told)}.", how=how)


def _turned(command: LineChange, lines: list[WorkingLine], pump: Pump, rig: Rig) -> Outcome:
    hold = command.flowing is False
    turned = {line.number: replace(line, held=hold, gated=line.gated and not command.full_open) for line in lines}
    after = pump
    for discharge in dict.fromkeys(line.discharge for line in lines):
        sharing = tuple(turned.get(one.number, one) for one in pump.lines if one.discharge == discharge)
        if len(sharing) == 1 and (hold or not command.full_open):
            after = with_lines(after, sharing)
        else:
            after = with_lines(after, _worked(sharing, rig))
    before = {line.number: line for line in pump.lines}
    changed = [line for line in after.lines if line != before[line.number]]
    what = "nozzle shut, still charged" if hold else "open in full" if command.full_open else "flowing again"
    names = listed(counted([line.label for line in lines]))
    text = f"{names} {what}"
    gated = [line for line in after.lines if line.number in turned and line.gated and not line.held]
    words = Words.of(rig)
    still = tuple(
        f"{line.label} is still gated to {words.gpm(line.flow_gpm)}: say “full open” when it isn't." for line in gated
    )
    return Outcome(
        intent=command.intent,
        lead=lead_of(text, after, rig),
        how=(*gating(after, rig), *still, *((HELD,) if hold else ())),
        spoken=spoken_of(text, after, rig),
        cautions=pump_cautions(after, rig),
        events=tuple(LineChanged(line, why=_why(line, before[line.number], what)) for line in changed),
    )


def _why(line: WorkingLine, was: WorkingLine, what: str) -> str:
    return what if line.held != was.held or line.gated != was.gated else "other leg"


def _worked(lines: tuple[WorkingLine, ...], rig: Rig) -> tuple[WorkingLine, ...]:
    if any(line.lay is None for line in lines):
        raise Refusal("How that line lies isn't known: say it whole, hose, length and nozzle.")
    return settled_discharge(lines, rig)[0]
