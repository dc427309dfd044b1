"""Folding pumps and tanks: the tank falls at the flow of its lines while it is the source, and by what fills the hose.

Each event first settles the pump at its time (gallons left, gallons used), then changes what flows. The tank is never
negative and never above what can be used of it; the water used is the integral of the flow plus the hose filled, as
far as the source had it to give.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from msgspec.structs import replace

from handlers.events import (
    Event,
    HydrantRead,
    IntakeRead,
    LineChanged,
    LineOpened,
    LineShut,
    NeededFlowSet,
    PumpReady,
    PumpTrouble,
    SourceChanged,
    SupplyAnnounced,
    TankRead,
)
from handlers.folding.companies import seen_on_scene
from handlers.scene import Pump, Reach, Scene

EPOCH = datetime.fromtimestamp(0, UTC)
REACHES_KEPT = 16


def settled(pump: Pump, at: datetime) -> Pump:
    """The pump at a later moment, its flow unchanged so far: tank and used water brought up to `at`."""
    if pump.as_of is not None and at <= pump.as_of:
        return pump
    return replace(pump, tank_gal=pump.gallons_at(at), used_gal=pump.used_at(at), as_of=at)


def in_course(pump: Pump, before_gal: float, event: Event, *, afresh: bool = False) -> Pump:
    """The pump with the reach that an event begins; `afresh` when a new tankful begins with it."""
    flow = pump.drawn_gpm if pump.on_tank else 0.0
    reach = Reach(
        seq=event.seq,
        at=pump.as_of or EPOCH,
        before_gal=pump.tank_gal if afresh else before_gal,
        gal=pump.tank_gal,
        flow_gpm=flow,
        logged_at=event.logged_at,
    )
    if afresh:
        return replace(pump, tankful=event.seq, course=(reach,))
    return replace(pump, course=(*pump.course[1 - REACHES_KEPT :], reach))


def filled(pump: Pump, fill_gal: float) -> Pump:
    """The pump after hose took its fill, from the tank or whatever the source is."""
    if not pump.on_tank:
        return replace(pump, used_gal=pump.used_gal + fill_gal)
    took = min(fill_gal, pump.tank_gal)
    return replace(pump, tank_gal=pump.tank_gal - took, used_gal=pump.used_gal + took)


def usable_of_gauge(pump: Pump, gauge_gal: float) -> float:
    """Gallons that can be pumped when the tank's gauge shows `gauge_gal`: what can't be drawn stays at the bottom."""
    return min(pump.usable_gal, max(0.0, gauge_gal - (pump.capacity_gal - pump.usable_gal)))


def _with(scene: Scene, pump: Pump) -> Scene:
    return replace(scene, pumps={**scene.pumps, pump.unit: pump})


def _ready(scene: Scene, body: PumpReady, event: Event) -> Scene:
    pump = settled(scene.pump(body.unit), event.at)
    new = pump.capacity_gal == 0
    pump = replace(pump, capacity_gal=body.tank_gal, usable_gal=body.usable_gal, to_pump_gpm=body.to_pump_gpm)
    if new:
        pump = in_course(replace(pump, tank_gal=body.usable_gal), 0.0, event, afresh=True)
    return _with(scene, pump)


def _opened(scene: Scene, body: LineOpened, event: Event) -> Scene:
    before = settled(scene.pump(event.unit), event.at)
    pump = filled(before, body.line.fill_gal)
    pump = replace(pump, lines=(*pump.lines, body.line), opened=max(pump.opened, body.line.number))
    pump = in_course(pump, before.tank_gal, event)
    return seen_on_scene(_with(scene, pump), event.unit, event.at)


def _shut(scene: Scene, body: LineShut, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    gone = tuple(replace(line, held=False) for line in pump.lines if line.number == body.number)
    kept = tuple(line for line in pump.lines if line.number != body.number)
    shut = tuple(
        replace(line, drained=line.drained or (body.drained and line.number == body.number))
        for line in (*pump.shut, *gone)
    )
    pump = replace(pump, lines=kept, shut=shut)
    return _with(scene, in_course(pump, pump.tank_gal, event))


def _changed(scene: Scene, body: LineChanged, event: Event) -> Scene:
    before = settled(scene.pump(event.unit), event.at)
    lines = tuple(body.line if line.number == body.line.number else line for line in before.lines)
    pump = replace(filled(before, body.added_fill_gal), lines=lines)
    return _with(scene, in_course(pump, before.tank_gal, event))


def _source(scene: Scene, body: SourceChanged, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    back_on_tank = body.source == "tank" and not pump.on_tank
    pump = replace(
        pump,
        source=body.source,
        source_lost=body.lost,
        source_since=event.at,
        intake_psi=None if body.source == "tank" else pump.intake_psi,
        supply_unit=pump.supply_unit if body.source == "tank" else None,
        supply_expected_at=pump.supply_expected_at if body.source == "tank" else None,
        trouble=None,
    )
    pump = in_course(pump, pump.tank_gal, event, afresh=back_on_tank)
    return seen_on_scene(_with(scene, pump), event.unit, event.at)


def _tank(scene: Scene, body: TankRead, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    pump = replace(pump, tank_gal=usable_of_gauge(pump, body.tank_gal))
    return _with(scene, in_course(pump, 0.0, event, afresh=True))


def _intake(scene: Scene, body: IntakeRead, event: Event) -> Scene:
    return _with(scene, replace(scene.pump(event.unit), intake_psi=body.intake_psi))


def _hydrant(scene: Scene, body: HydrantRead, event: Event) -> Scene:
    pump = scene.pump(event.unit)
    return _with(
        scene,
        replace(
            pump,
            static_psi=body.static_psi if body.static_psi is not None else pump.static_psi,
            residual_psi=body.residual_psi if body.residual_psi is not None else pump.residual_psi,
            available_gpm=body.flow_at_20psi_gpm if body.flow_at_20psi_gpm is not None else pump.available_gpm,
        ),
    )


def _supply(scene: Scene, body: SupplyAnnounced, event: Event) -> Scene:
    pump = replace(scene.pump(event.unit), supply_unit=body.unit, supply_expected_at=body.expected_at)
    return _with(scene, pump)


def _needed(scene: Scene, body: NeededFlowSet, event: Event) -> Scene:
    return replace(scene, needed_gpm=body.needed_gpm, needed_method=body.method)


def _trouble(scene: Scene, body: PumpTrouble, event: Event) -> Scene:
    return _with(scene, replace(scene.pump(event.unit), trouble=body.kind))


APPLY: dict[type, Callable[..., Scene]] = {
    PumpReady: _ready,
    LineOpened: _opened,
    LineShut: _shut,
    LineChanged: _changed,
    SourceChanged: _source,
    TankRead: _tank,
    IntakeRead: _intake,
    HydrantRead: _hydrant,
    SupplyAnnounced: _supply,
    NeededFlowSet: _needed,
    PumpTrouble: _trouble,
}
