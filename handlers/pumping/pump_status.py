"""What the pump is doing, and what it would do with one line more or less: asked, nothing changes."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Choice, LineOff, LineOn, PumpStatus, Question, WhatIf
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping.lines import gating, pump_cautions, pump_psi
from handlers.pumping.working_lines import as_they_lie, flow_of, flowing, meant, opening, ref_to
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import duration
from handlers.water.state import pump_of, pump_state, tank_line
from handlers.words import Words


class WhatIfAnswer(Answer, frozen=True):
    """Answer of `what_if`: the pump as it would be."""

    pump_pressure_psi: float | None
    flow_gpm: float
    tank_s: float | None
    available_gpm: float | None
    """What the supply was measured to give at 20 psi; None when it wasn't."""


@handle.register
def pumping(command: PumpStatus, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """ "What am I pumping?": every discharge, the governing one, total flow against pump and supply."""
    pump, words = pump_of(scene, rig, said) if scene.open else scene.pump(said.unit), Words.of(rig)
    state = pump_state(pump, said.at, rig)
    if not pump.lines:
        lead = "Nothing is logged as flowing."
        return Outcome(
            intent=command.intent, lead=lead, answer=state, how=(tank_line(pump, said, rig),) if scene.open else ()
        )
    told = [f"{line.label}: {words.psi(line.pressure_psi)}, {flow_of(line, words)}" for line in pump.lines]
    return Outcome(
        intent=command.intent,
        lead=f"{words.psi(pump_psi(pump))}, {flowing(pump, words)}{' total' if pump.flow_gpm > 0 else ''}.",
        how=(*(f"{line}." for line in told), *gating(pump, rig), *_supply(pump, rig), tank_line(pump, said, rig)),
        answer=state,
        cautions=pump_cautions(pump, rig),
    )


def _supply(pump: Pump, rig: Rig) -> tuple[str, ...]:
    """The flow against what the hydrant was measured to give."""
    if pump.on_tank or pump.available_gpm is None:
        return ()
    words, rest = Words.of(rig), pump.available_gpm - pump.flow_gpm
    about = f"The hydrant was measured at about {words.gpm_down(pump.available_gpm)} ({words.psi(20)} left)"
    return (f"{about}: {words.gpm_down(rest)} more." if rest > 0 else f"{about}: that is OVER it.",)


@handle.register
def what_if(command: WhatIf, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """One line more, or one less: pressure, flow, tank, and what the supply says to it."""
    pump, words = scene.pump(said.unit), Words.of(rig)
    if pump.as_of is None:
        pump = replace(pump, usable_gal=rig.tank.usable_gal, tank_gal=rig.tank.usable_gal, as_of=said.at)
    after, do, cautions, assumed, fill = _would_be(command, pump, rig, said)
    gal = max(0.0, pump.gallons_at(said.at) - fill) if after.on_tank else pump.gallons_at(said.at)
    tank_s = gal / after.drawn_gpm * 60.0 if after.on_tank and after.flow_gpm > 0 else None
    parts = [words.psi(pump_psi(after)), words.gpm(after.flow_gpm)]
    if tank_s is not None:
        parts.append(f"{duration(tank_s)} of tank" if gal > 0 else "the tank calculated empty")
    now = f"Now {words.psi(pump_psi(pump))}, {flowing(pump, words)}." if pump.lines else "Nothing flows now."
    return Outcome(
        intent=command.intent,
        lead=f"It would be {', '.join(parts)}." if after.lines else "Nothing would flow.",
        how=(now, *gating(after, rig), *_supply(after, rig), "Nothing changed: say it is charged or shut when it is."),
        answer=WhatIfAnswer(pump_psi(after) if after.lines else None, after.flow_gpm, tank_s, pump.available_gpm),
        assumed=assumed,
        cautions=(*cautions, *pump_cautions(after, rig)),
        follow_up=do if said.live and scene.open else None,
    )


def _would_be(
    command: WhatIf, pump: Pump, rig: Rig, said: Said
) -> tuple[Pump, Question | None, tuple[str, ...], tuple[str, ...], float]:
    """The pump as it would be, the button that does it, cautions, what was assumed, and gallons to fill the hose."""
    if command.shut is not None:
        found = meant(command.shut, pump, said.last_commands)
        if not found:
            raise Refusal("That line isn't logged as on.")
        if len(found) > 1 and not command.shut.all:
            options = tuple((line.label, WhatIf(shut=ref_to(line))) for line in found)
            raise NeedsAnswer("Which line?", part=command, options=options)
        gone = {line.number for line in found}
        after = replace(pump, lines=tuple(line for line in pump.lines if line.number not in gone))
        return after, Question("Shut it?", (Choice("It is shut", (LineOff(command.shut),)),)), (), (), 0.0
    if not command.add:
        raise Refusal("What if what? Say the line to add or to shut.")
    after, fill = pump, 0.0
    cautions: tuple[str, ...] = ()
    words = Words.of(rig)
    assumed: tuple[str, ...] = ()
    lays, lying = as_they_lie(command.add, pump, rig)
    on = {line.name: line for line in pump.lines if line.name}
    for lay in lays:
        again = next((on[one.name] for one in lay.lines if one.name in on), None)
        if again is not None:
            psi, gpm = words.psi(again.pressure_psi), flow_of(again, words)
            raise Refusal(f"{again.label} is on already, {psi} and {gpm}: name a line that isn't.")
        new = opening(lay, after.opened + 1, rig)
        after = replace(after, lines=(*after.lines, *new.lines), opened=after.opened + len(new.lines))
        cautions, assumed = (*cautions, *new.worked.cautions), (*assumed, *new.worked.assumed)
        fill += new.worked.fill_gal
    do = Question("Charge it?", (Choice("Charged", tuple(LineOn(lay=lay) for lay in lays)),))
    return after, do, cautions, (*lying, *assumed), fill
