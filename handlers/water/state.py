"""How a pump stands, in words and as an answer: what is in its tank, how long it lasts, when a supply is needed."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from handlers.events import TankRead, WorkingLine
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from handlers.times import clock, duration, spoken_duration
from handlers.words import Words

SOURCES = {
    "tank": "On the tank",
    "hydrant": "On the hydrant",
    "draft": "At draft",
    "relay": "On relay",
    "nurse": "On the nurse tender",
}
ANSWERED = frozenset({"line_on", "line_off", "line_change", "water_source"})
"""Intents whose answer is the pump's state."""


class LineState(Answer, frozen=True):
    """A line that is charged; `name` as in `pump_pressure`: the rig's name of the line, or null.

    `flow_gpm` is what flows from it now: 0 while its nozzle is shut.
    """

    number: int
    name: str | None
    label: str
    flow_gpm: float
    pressure_psi: float


class PumpState(Answer, frozen=True):
    """Answer of everything that changes what a pump does: `line_on`, `line_off`, `line_change`, `water_source` …

    Out of an incident what isn't known of the pump is null.
    """

    pump_pressure_psi: float | None
    flow_gpm: float | None
    source: str
    tank_gal: float | None
    tank_s: float | None
    supply_needed_at: datetime | None
    used_gal: float | None
    lines: tuple[LineState, ...]


def pump_state(pump: Pump, at: datetime, rig: Rig) -> PumpState:
    """How a pump stands at a moment."""
    return PumpState(
        pump_pressure_psi=max((line.pressure_psi for line in pump.lines), default=None),
        flow_gpm=pump.flow_gpm,
        source=pump.source,
        tank_gal=pump.gallons_at(at),
        tank_s=pump.left_s(at),
        supply_needed_at=pump.empty_at(),
        used_gal=pump.used_at(at),
        lines=tuple(
            LineState(one.number, _name(one, rig), one.label, one.now_gpm, one.pressure_psi) for one in pump.lines
        ),
    )


def _name(line: WorkingLine, rig: Rig) -> str | None:
    carried = rig.line.get(line.name or "")
    return carried.name if carried is not None else line.name


def _as_said(outcome: Outcome, pump: Pump) -> PumpState:
    """What is known of a pump that is in no incident: what was said of it just now."""
    bodies = [getattr(event, "body", event) for event in outcome.events]
    read = next((body.tank_gal for body in bodies if isinstance(body, TankRead)), None)
    return PumpState(
        pump_pressure_psi=None,
        flow_gpm=None,
        source=pump.source,
        tank_gal=read,
        tank_s=None,
        supply_needed_at=None,
        used_gal=None,
        lines=(),
    )


def with_state(outcome: Outcome, before: Pump, after: Pump, rig: Rig, said: Said) -> Outcome:
    """An outcome that touches a pump, told with where its tank stands now; the whole state is its answer."""
    if outcome.refused is not None or outcome.question is not None:
        return outcome
    changed = _water(before) != _water(after) and (before.capacity_gal > 0 or bool(after.lines))
    if outcome.answer is None and (changed or outcome.intent in ANSWERED):
        known = after.capacity_gal > 0
        outcome = replace(outcome, answer=pump_state(after, said.at, rig) if known else _as_said(outcome, after))
    if not changed:
        return outcome
    told = tank_line(after, said, rig)
    left = after.left_s(said.at)
    cautions = outcome.cautions
    if left is not None and 0 < left < rig.intervals.tank_minute_s:
        cautions = (f"UNDER {duration(rig.intervals.tank_minute_s)} OF TANK: {duration(left)} left.", *cautions)
    return replace(
        outcome,
        how=(told, *outcome.how),
        spoken=outcome.spoken and f"{outcome.spoken} {_spoken(left)}".strip(),
        cautions=cautions,
    )


def _water(pump: Pump) -> tuple[object, ...]:
    return pump.lines, pump.source, pump.tank_gal, pump.tankful


def pump_of(scene: Scene, rig: Rig, said: Said) -> Pump:
    """The speaker's pump; one that nothing was said of has a full tank."""
    pump = scene.pumps.get(said.unit)
    if pump is not None and pump.capacity_gal > 0:
        return pump
    return Pump(said.unit, rig.tank.capacity_gal, rig.tank.usable_gal, tank_gal=rig.tank.usable_gal)


def tank_line(pump: Pump, said: Said, rig: Rig) -> str:
    """Where the tank stands: "Tank 475 gal, 3:10 left. Supply needed by 14:17."."""
    words = Words.of(rig)
    gal, left = pump.gallons_at(said.at), pump.left_s(said.at)
    if not pump.on_tank:
        return f"{SOURCES[pump.source]}: tank clock stopped at {words.gal(gal)}."
    if gal <= 0 and pump.flow_gpm > 0:
        return "Tank calculated empty: check the gauge."
    if left is None:
        return f"Tank {words.gal(gal)}, nothing flowing."
    empty = pump.empty_at()
    needed = f" Supply needed by {clock(empty, said.tz)}." if empty is not None else ""
    return f"Tank {words.gal(gal)}, {duration(left)} left.{needed}"


def _spoken(left_s: float | None) -> str:
    if left_s is None:
        return ""
    return f"Tank {spoken_duration(left_s)}." if left_s > 0 else "Tank calculated empty."
