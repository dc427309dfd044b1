"""Supply hose: pumping to another engine, a relay of several, and hose laid from a hydrant.

Pump pressure = friction + 20 residual ± elevation (IFSTA relay drill); hose from a hydrant only loses pressure.
"""

from __future__ import annotations

import math

import msgspec
from msgspec import UNSET, UnsetType

from grammar.commands import SaidHose, SupplyPressure
from handlers.desk import handle
from handlers.errors import NeedsAnswer, Refusal
from handlers.outcome import Answer, Outcome, Said
from handlers.pumping import hydraulics, limits
from handlers.pumping.completion import known_hose
from handlers.pumping.layout import HoseSection, JoinedLines
from handlers.rig import Hose, Rig
from handlers.rigfile.metric import GAL_PER_L
from handlers.scene import Scene
from handlers.times import unit_name
from handlers.words import Words

FLOW_CHOICES = (500.0, 750.0, 1000.0)
FLOW_CHOICES_METRIC = tuple(lpm * GAL_PER_L for lpm in (2000, 3000, 4000))


class SupplyPressures(Answer, frozen=True):
    """Answer of `supply_pressure`. The last four only where they were asked for or could be worked out."""

    friction_psi: float
    elevation_psi: float
    pump_pressure_psi: float | None
    flow_gpm: float
    max_length_ft: float | UnsetType = UNSET
    engines: int | UnsetType = UNSET
    spacing_ft: float | UnsetType = UNSET
    intake_psi: float | UnsetType = UNSET


class Laid(msgspec.Struct, frozen=True):
    """A supply lay, complete: its runs of hose, its flow, height and what was assumed."""

    runs: tuple[tuple[SaidHose, Hose], ...]
    flow_gpm: float
    rise_psi: float
    assumed: tuple[str, ...] = ()

    @property
    def length_ft(self) -> float:
        return sum(part.length_ft or 0.0 for part, _ in self.runs)

    @property
    def friction_psi(self) -> float:
        return sum(_resistance(part, hose, part.length_ft or 0.0) for part, hose in self.runs) * self.flow_gpm**2

    @property
    def hose_keys(self) -> tuple[str, ...]:
        return tuple(hose.key for _, hose in self.runs)


def _resistance(part: SaidHose, hose: Hose, length_ft: float) -> float:
    section = HoseSection(hose.diameter_in, length_ft, hose.coefficient, hose.key)
    return JoinedLines(((section,),) * part.parallel).resistance if part.parallel > 1 else section.resistance


@handle.register
def _supply_pressure(command: SupplyPressure, scene: Scene, rig: Rig, said: Said) -> Outcome:
    _check(command, rig)
    if command.max_length:
        return _max_length(command, _laid(command, scene, rig, said, length_ft=1.0), rig)
    whole_ft = command.distance_ft
    if command.relay_engines is not None or (whole_ft is not None and not _given_length(command)):
        return _relay(command, _laid(command, scene, rig, said, length_ft=whole_ft), rig)
    laid = _laid(command, scene, rig, said, length_ft=whole_ft)
    return _from_hydrant(command, laid, rig) if command.from_hydrant else _to_engine(command, laid, rig)


def _check(command: SupplyPressure, rig: Rig) -> None:
    if command.flow_gpm is not None and command.flow_gpm <= 0:
        raise Refusal("A flow must be above zero: say it again.")
    for length in (command.distance_ft, *(part.length_ft for part in command.hose)):
        if length is not None and not 0 < length <= 100_000:
            raise Refusal(f"{Words.of(rig).feet(length)} of hose can't be: say the length again.")
    if command.relay_engines is not None and not 2 <= command.relay_engines <= 50:
        raise Refusal("A relay has at least two engines: say how many, the one at the fire counted.")


def _given_length(command: SupplyPressure) -> bool:
    return bool(command.hose) and all(part.length_ft is not None for part in command.hose)


def _laid(command: SupplyPressure, scene: Scene, rig: Rig, said: Said, length_ft: float | None) -> Laid:
    """The lay with the rig's supply hose where none was said, and the flow of the moment where lines are on."""
    words, assumed = Words.of(rig), []
    parts = command.hose or (SaidHose(),)
    runs = []
    for part in parts:
        hose = known_hose(part.hose_in, rig) if part.hose_in is not None else _supply_hose(rig)
        if hose is None:
            raise NeedsAnswer("What size of supply hose?", part=command, slot="hose_in", options=_sizes(command, rig))
        if part.hose_in is None:
            assumed.append(f"{words.hose(hose.diameter_in)} supply hose ({rig.origin(f'hose.{hose.key}')})")
        feet = part.length_ft if part.length_ft is not None else length_ft
        if feet is None:
            raise NeedsAnswer(f"How long is the {words.hose(hose.diameter_in)} lay?", part=command, slot="length_ft",
                              options=_lengths(command, part, rig))  # fmt: skip
        runs.append((msgspec.structs.replace(part, hose_in=hose.diameter_in, length_ft=feet), hose))
    flow, flowing = command.flow_gpm, scene.pump(said.unit).flow_gpm
    if flow is None and flowing > 0:
        flow = flowing
        assumed.append(f"the {words.gpm(flowing)} that flow now")
    if flow is None:
        choices = FLOW_CHOICES_METRIC if words.metric else FLOW_CHOICES
        options = tuple((words.gpm(gpm), msgspec.structs.replace(command, flow_gpm=gpm)) for gpm in choices)
        raise NeedsAnswer("At what flow?", part=command, slot="flow_gpm", options=options)
    values = rig.hydraulics
    rise = hydraulics.elevation_psi(
        command.floor, command.rise_ft, values.elevation_psi_per_floor, values.elevation_psi_per_ft
    )
    return Laid(tuple(runs), flow, rise, tuple(assumed))


def _supply_hose(rig: Rig) -> Hose | None:
    line = next((line for line in rig.line.values() if line.kind == "supply"), None)
    return rig.hose[line.pieces[0].hose] if line is not None else None


def _sizes(command: SupplyPressure, rig: Rig) -> tuple[tuple[str, SupplyPressure], ...]:
    words = Words.of(rig)
    large = [hose for hose in rig.hose.values() if hose.diameter_in >= 2.5 and hose.coupling_in != hose.diameter_in]
    return tuple(
        (words.hose(hose.diameter_in), msgspec.structs.replace(command, hose=(SaidHose(hose.diameter_in),)))
        for hose in large
    )


def _lengths(command: SupplyPressure, part: SaidHose, rig: Rig) -> tuple[tuple[str, SupplyPressure], ...]:
    words = Words.of(rig)
    return tuple(
        (words.feet(feet), msgspec.structs.replace(command, hose=(msgspec.structs.replace(part, length_ft=feet),)))
        for feet in (300.0, 500.0, 1000.0)
    )


# --- the three questions


def _to_engine(command: SupplyPressure, laid: Laid, rig: Rig) -> Outcome:
    words, residual = Words.of(rig), rig.hydraulics.residual_psi
    friction = laid.friction_psi
    pump_psi = hydraulics.supply_pressure_psi(friction, laid.rise_psi, residual)
    _check_hose(laid, pump_psi, rig)
    to = f" to {unit_name(command.to_unit)}" if command.to_unit else ""
    lead, total = f"{words.psi(pump_psi)}, {words.gpm(laid.flow_gpm)}{to}", ""
    if command.friction:
        lead = f"{words.psi(friction)} friction, {words.gpm(laid.flow_gpm)}{to}"
        total = f"{words.psi(pump_psi)} at the pump: "
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=(total + _sum(friction, laid.rise_psi, residual, pump_psi, words), *_net(command, pump_psi, words)),
        spoken="" if command.friction else f"{words.psi_said(pump_psi)}.",
        answer=SupplyPressures(friction, laid.rise_psi, pump_psi, laid.flow_gpm),
        assumed=laid.assumed,
        cautions=tuple(_cautions(laid, pump_psi, command.hydrant_psi or 0.0, rig)),
    )


def _from_hydrant(command: SupplyPressure, laid: Laid, rig: Rig) -> Outcome:
    """The hydrant's own pressure pushes: what is lost, and what is left at the intake."""
    words, friction = Words.of(rig), laid.friction_psi
    lost = friction + laid.rise_psi
    low = rig.hydrant.low_intake_psi
    told = [f"{words.sum_of([p for p in ((friction, 'friction'), (laid.rise_psi, 'elevation')) if p[0]], lost)} at "
            f"{words.gpm(laid.flow_gpm)}"]  # fmt: skip
    cautions = _cautions(laid, None, 0.0, rig)
    intake: float | UnsetType = UNSET
    lead = f"{words.psi(lost)} lost from hydrant to pump"
    if command.hydrant_psi is not None:
        intake = command.hydrant_psi - lost
        lead = f"{words.psi(intake)} left at the intake, {words.psi(lost)} lost"
        if intake <= 0:
            lead = f"{words.gpm(laid.flow_gpm)} won't come through: {words.psi(lost)} lost"
        told.append(f"{words.psi(command.hydrant_psi)} at the hydrant while flowing − {words.psi(lost)}")
        if intake < low:
            cautions.append(
                f"That is under {words.psi(low)} on the intake: less flow, larger or second hose, or a relay."
            )
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(told),
        answer=SupplyPressures(friction, laid.rise_psi, None, laid.flow_gpm, intake_psi=intake),
        assumed=laid.assumed,
        cautions=tuple(cautions),
    )


def _max_length(command: SupplyPressure, laid: Laid, rig: Rig) -> Outcome:
    """How far one pump (or a hydrant's pressure) pushes the flow, 20 psi left at the far end."""
    words, residual = Words.of(rig), rig.hydraulics.residual_psi
    start = command.pump_pressure_psi or (command.hydrant_psi if command.from_hydrant else None)
    assumed = laid.assumed
    if start is None:
        start = limits.highest_psi(laid.flow_gpm, laid.hose_keys, rig)
        assumed = (*assumed, f"pump pressure {words.psi(start)}, the limit of pump and hose")
    reach = _reach_ft(laid, start, rig)
    if reach <= 0:
        raise Refusal(
            f"{words.psi(start)} isn't enough for any length: {words.psi(residual + laid.rise_psi)} are taken first."
        )
    friction = max(0.0, start - residual - laid.rise_psi)
    return Outcome(
        intent=command.intent,
        lead=f"{words.feet_down(reach)} of {words.hose(laid.runs[0][1].diameter_in)}",
        how=(f"{words.gpm(laid.flow_gpm)}: {_sum(friction, laid.rise_psi, residual, start, words)}",),
        answer=SupplyPressures(
            friction, laid.rise_psi, None if command.from_hydrant else start, laid.flow_gpm, max_length_ft=reach
        ),
        assumed=assumed,
        cautions=tuple(_cautions(laid, None if command.from_hydrant else start, 0.0, rig)),
    )


def _reach_ft(laid: Laid, start_psi: float, rig: Rig) -> float:
    part, hose = laid.runs[0]
    per_ft = _resistance(part, hose, 1.0) * laid.flow_gpm**2
    return max(0.0, start_psi - rig.hydraulics.residual_psi - laid.rise_psi) / per_ft


def _relay(command: SupplyPressure, laid: Laid, rig: Rig) -> Outcome:
    """Engines at equal distances, the last one at the fire; each pushes to 20 psi at the next. Height is shared out."""
    words, residual = Words.of(rig), rig.hydraulics.residual_psi
    highest = command.pump_pressure_psi or limits.highest_psi(laid.flow_gpm, laid.hose_keys, rig)
    rest = highest - residual
    if rest <= 0:
        raise Refusal(
            f"{words.psi(highest)} leaves nothing over {words.psi(residual)} residual: say a higher pressure."
        )
    needed = max(1, math.ceil((laid.friction_psi + laid.rise_psi) / rest - 1e-9))
    stretches = command.relay_engines - 1 if command.relay_engines is not None else needed
    spacing = laid.length_ft / stretches
    friction, rise = laid.friction_psi / stretches, laid.rise_psi / stretches
    pump_psi = hydraulics.supply_pressure_psi(friction, rise, residual)
    one = msgspec.structs.replace(laid, runs=tuple(
        (msgspec.structs.replace(part, length_ft=(part.length_ft or 0.0) / stretches), hose) for part, hose in laid.runs
    ))  # fmt: skip
    if stretches < needed:
        raise Refusal(
            f"{stretches + 1} engines aren't enough: {words.psi(pump_psi)} would be needed at each. With {needed + 1}, "
            f"{words.feet_down(laid.length_ft / needed)} apart, it works at {words.gpm(laid.flow_gpm)}."
        )
    _check_hose(one, pump_psi, rig)
    reach = _reach_ft(msgspec.structs.replace(laid, rise_psi=0.0), highest, rig)
    return Outcome(
        intent=command.intent,
        lead=f"{words.psi(pump_psi)} at each, {stretches + 1} engines, {words.feet(spacing)} apart",
        how=(
            f"{_sum(friction, rise, residual, pump_psi, words)}; {words.gpm(laid.flow_gpm)}",
            f"The last is at the fire. At {words.psi(highest)} each reaches {words.feet_down(reach)} on the level.",
        ),
        answer=SupplyPressures(
            friction, rise, pump_psi, laid.flow_gpm,
            max_length_ft=reach, engines=stretches + 1, spacing_ft=spacing,
        ),
        assumed=laid.assumed,
        cautions=tuple(_cautions(one, pump_psi, residual, rig)),
    )  # fmt: skip


# --- words and limits


def _sum(friction: float, rise: float, residual: float, total: float, words: Words) -> str:
    parts = [(friction, "friction"), (residual, "residual"), (rise, "elevation")]
    return words.sum_of([part for part in parts if part[0]], total)


def _net(command: SupplyPressure, pump_psi: float, words: Words) -> tuple[str, ...]:
    if command.hydrant_psi is None:
        return ()
    return (f"Net {words.psi(pump_psi - command.hydrant_psi)} over {words.psi(command.hydrant_psi)} intake.",)


def _check_hose(laid: Laid, pump_psi: float, rig: Rig) -> None:
    words = Words.of(rig)
    for _, hose in laid.runs:
        test = rig.hose_kind[hose.kind].test_psi
        if pump_psi > test + 1e-6:
            reach = _reach_ft(laid, rig.hose_kind[hose.kind].operating_psi, rig)
            raise Refusal(
                f"That asks for {words.psi(pump_psi)} in {words.hose(hose.diameter_in)} {hose.kind} hose, above its "
                f"service-test pressure of {words.psi(test)}. One pump reaches {words.feet_down(reach)} at "
                f"{words.gpm(laid.flow_gpm)}: use a relay, a second line, or less flow."
            )


def _cautions(laid: Laid, pump_psi: float | None, intake_psi: float, rig: Rig) -> list[str]:
    words, cautions = Words.of(rig), []
    for part, hose in laid.runs:
        each = laid.flow_gpm / part.parallel
        speed = hydraulics.velocity_ft_s(each, hose.diameter_in)
        if speed > rig.limits.velocity_ft_s:
            cautions.append(f"{words.gpm(each)} is more than {words.hose(hose.diameter_in)} hose is good for "
                            f"({words.speed(speed)}).")  # fmt: skip
        operating = rig.hose_kind[hose.kind].operating_psi
        if pump_psi is not None and pump_psi > operating + 1e-6:
            cautions.append(f"{words.psi(pump_psi)} is above the operating pressure of {words.hose(hose.diameter_in)} "
                            f"{hose.kind} hose ({words.psi(operating)}).")  # fmt: skip
    if pump_psi is not None:
        cautions += limits.check_pump(laid.flow_gpm, pump_psi, intake_psi, False, rig)
    return cautions
