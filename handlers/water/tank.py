"""Questions about the tank: how long it lasts at a flow, with a lay, or as things flow now."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Question, TankTime
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.folding.water import usable_of_gauge
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping.hydraulics import hose_volume_gal
from handlers.pumping.pressure import work_out
from handlers.pumping.working_lines import as_they_lie
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import duration, listed, spoken_duration
from handlers.water.state import pump_of, tank_line
from handlers.words import Words

NOTHING_ON = "nothing logged as flowing."


class TankAnswer(Answer, frozen=True):
    """Answer of `tank_time`; `tank_s` None when nothing flows."""

    tank_s: float | None
    flow_gpm: float
    tank_gal: float


@handle.register
def tank_time(command: TankTime, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """How long the tank lasts: at a stated flow or lay, or as things flow now."""
    pump = pump_of(scene, rig, said)
    if command.tank_gal is not None and command.tank_gal <= 0:
        raise Refusal("The gallons must be above zero: say what the tank holds.")
    if command.flow_gpm is not None and command.flow_gpm <= 0:
        raise Refusal("The flow must be above zero: say the gallons a minute.")
    if command.tank_fraction is not None:
        return _of_a_part(command, scene, rig, said)
    if command.lays:
        lays, lying = as_they_lie(command.lays, pump, rig)
        worked = work_out(lays, rig)
        return _at_flow(worked.flow_gpm, command.tank_gal, pump, rig, said, (*lying, *worked.assumed))
    if command.flow_gpm is not None:
        return _at_flow(command.flow_gpm, command.tank_gal, pump, rig, said)
    if pump.flow_gpm > 0:
        return _as_it_flows(command, pump, rig, said)
    if scene.open:
        gal = pump.gallons_at(said.at)
        held = listed([line.label for line in pump.lines])
        told = f"Tank {Words.of(rig).gal(gal)}, " + (f"nothing flows: {held} charged." if held else NOTHING_ON)
        return Outcome(intent=command.intent, lead=told, answer=TankAnswer(None, 0.0, gal))
    question = Question(f"At what flow, in {Words.of(rig).flow_name}?", fills=command, slot="flow_gpm")
    return Outcome(intent=command.intent, question=question)


def _of_a_part(command: TankTime, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """ "Half a tank": of what the tank holds, which is told where the rig's file doesn't say it."""
    capacity = rig.tank.capacity_gal
    gal = usable_of_gauge(pump_of(scene, rig, said), (command.tank_fraction or 0.0) * capacity)
    outcome = tank_time(replace(command, tank_fraction=None, tank_gal=gal), scene, rig, said)
    if rig.states("tank.capacity_gal"):
        return outcome
    told = f"a tank of {Words.of(rig).gal(capacity)} ({rig.origin('tank.capacity_gal')})"
    return replace(outcome, assumed=(*outcome.assumed, told))


def _at_flow(
    flow_gpm: float, tank_gal: float | None, pump: Pump, rig: Rig, said: Said, assumed: tuple[str, ...] = ()
) -> Outcome:
    words = Words.of(rig)
    gal = tank_gal if tank_gal is not None else pump.gallons_at(said.at)
    seconds = gal / flow_gpm * 60.0
    if tank_gal is None:
        full = gal == pump.usable_gal
        assumed = (
            *assumed,
            f"tank {words.gal(gal)}"
            + (f" (full, {rig.origin('tank.capacity_gal', 'tank.usable_share')})" if full else " left now"),
        )
    over = flow_gpm > rig.tank.to_pump_gpm
    piping = f"{words.gpm(flow_gpm)} is above what the tank-to-pump piping gives ({words.gpm(rig.tank.to_pump_gpm)})."
    return Outcome(
        intent=TankTime.intent,
        lead=f"{duration(seconds)} of tank.",
        spoken=f"Tank {spoken_duration(seconds)}.",
        how=(f"{words.gal(gal)} ÷ {words.gpm(flow_gpm)}, rounded down.",),
        answer=TankAnswer(seconds, flow_gpm, gal),
        assumed=assumed,
        cautions=(piping,) if over else (),
    )


def _as_it_flows(command: TankTime, pump: Pump, rig: Rig, said: Said) -> Outcome:
    """The live tank, and what one line less or one more would make of it."""
    words = Words.of(rig)
    gal = command.tank_gal if command.tank_gal is not None else pump.gallons_at(said.at)
    seconds = gal / pump.drawn_gpm * 60.0
    empty = pump.on_tank and gal <= 0
    if pump.on_tank:
        lead = tank_line(pump, said, rig) if command.tank_gal is None else f"{duration(seconds)} of tank."
    else:
        lead = f"{tank_line(pump, said, rig)} From the tank it would last {duration(seconds)}."
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=() if empty else (f"{words.gpm(pump.flow_gpm)} flowing.", *_one_less(pump, gal), _one_more(pump, gal, rig)),
        spoken=lead if empty else f"Tank {spoken_duration(seconds)}.",
        answer=TankAnswer(seconds, pump.flow_gpm, gal),
    )


def _one_less(pump: Pump, gal: float) -> list[str]:
    told = []
    for line in pump.lines:
        rest = replace(pump, lines=tuple(other for other in pump.lines if other.number != line.number))
        if line.now_gpm > 0 and rest.flow_gpm > 0:
            told.append(f"With {line.label} shut: {duration(gal / rest.drawn_gpm * 60.0)}.")
    return list(dict.fromkeys(told))


def _one_more(pump: Pump, gal: float, rig: Rig) -> str:
    last = next(line for line in reversed(pump.lines) if line.now_gpm > 0)
    more = replace(pump, lines=(*pump.lines, last))
    fill = hose_volume_gal(last.hose_in, last.length_ft) if last.hose_in and last.length_ft else 0.0
    left = max(0.0, gal - fill) / more.drawn_gpm * 60.0
    fills = f", its hose filled ({Words.of(rig).gal(fill)})" if fill else ""
    return f"With one more like {last.label}{fills}: {duration(left)}."
