"""Folding pumps and tanks: the tank falls at the flow of its lines while it is the source, and by what fills the hose.

Each event first settles the pump at its time (gallons left, gallons used), then changes what flows. The tank is never
negative and never above what can be used of it; the water used is the integral of the flow plus the hose filled, as
far as the source had it to give.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

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
from handlers.scene import Pump, Scene


def settled(pump: Pump, at: datetime) -> Pump:
    """The pump at a later moment, its flow unchanged so far: tank and used water brought up to `at`.

    What stood before the first change of a moment is kept (`before_gal`, `before_left_s`), so that a level passed by
    a jump (hose filling, a line opening) is known.
    """
    if pump.as_of is not None and at <= pump.as_of:
        return pump
    left = pump.gallons_at(at)
    return replace(
        pump,
        tank_gal=left,
        used_gal=pump.used_at(at),
        as_of=at,
        before_gal=left,
        before_left_s=pump.left_s(at),
    )


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
    if pump.capacity_gal == 0:
        pump = replace(pump, tank_gal=body.usable_gal, before_gal=body.usable_gal, tankful=event.seq)
    return _with(scene, replace(pump, capacity_gal=body.tank_gal, usable_gal=body.usable_gal))


def _opened(scene: Scene, body: LineOpened, event: Event) -> Scene:
    pump = filled(settled(scene.pump(event.unit), event.at), body.line.fill_gal)
    pump = replace(pump, lines=(*pump.lines, body.line), opened=max(pump.opened, body.line.number))
    return seen_on_scene(_with(scene, pump), event.unit, event.at)


def _shut(scene: Scene, body: LineShut, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    gone = tuple(line for line in pump.lines if line.number == body.number)
    kept = tuple(line for line in pump.lines if line.number != body.number)
    return _with(scene, replace(pump, lines=kept, shut=(*pump.shut, *gone)))


def _changed(scene: Scene, body: LineChanged, event: Event) -> Scene:
    pump = filled(settled(scene.pump(event.unit), event.at), body.added_fill_gal)
    lines = tuple(body.line if line.number == body.line.number else line for line in pump.lines)
    return _with(scene, replace(pump, lines=lines))


def _source(scene: Scene, body: SourceChanged, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    back_on_tank = body.source == "tank" and not pump.on_tank
    pump = replace(
        pump,
        source=body.source,
        source_lost=body.lost,
        source_since=event.at,
        tankful=event.seq if back_on_tank else pump.tankful,
        before_left_s=None if back_on_tank else pump.before_left_s,
        intake_psi=None if body.source == "tank" else pump.intake_psi,
        supply_unit=pump.supply_unit if body.source == "tank" else None,
        supply_expected_at=pump.supply_expected_at if body.source == "tank" else None,
        trouble=None,
    )
    return seen_on_scene(_with(scene, pump), event.unit, event.at)


def _tank(scene: Scene, body: TankRead, event: Event) -> Scene:
    pump = settled(scene.pump(event.unit), event.at)
    left = usable_of_gauge(pump, body.tank_gal)
    return _with(scene, replace(pump, tank_gal=left, before_gal=left, before_left_s=None, tankful=event.seq))


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
