"""The scene: the incident as it stands, folded from its events (handlers/history.py). Nothing else changes it.

All parts are frozen; times are aware UTC datetimes. A pump's tank is kept as "so many gallons at `as_of`, falling at
the flow of its lines": `Pump.gallons_at(t)` gives any later moment, so nothing counts down in memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

import msgspec
from msgspec.structs import replace

from grammar.commands import Role
from handlers.care import Care
from handlers.events import IncidentKind, Source, WorkingLine


class Reach(msgspec.Struct, frozen=True):
    """A stretch of time in which a tank's flow doesn't change, from the event that began it."""

    seq: int
    at: datetime
    before_gal: float
    """Gallons just before that event…"""
    gal: float
    """…and just after it (hose filled)."""
    flow_gpm: float
    """Flow from the tank; 0 while on another source."""
    logged_at: datetime
    """When that event was told, which can be later than it happened."""

    @property
    def left_s(self) -> float | None:
        """Seconds of tank at the reach's beginning; None when nothing flows from it."""
        return self.gal / self.flow_gpm * 60.0 if self.flow_gpm > 0 else None


class Pump(msgspec.Struct, frozen=True):
    """One company's pump and tank."""

    unit: str
    capacity_gal: float = 0.0
    usable_gal: float = 0.0
    to_pump_gpm: float | None = None
    """What the tank's piping can give at most; None: not known."""
    source: Source = "tank"
    source_lost: bool = False
    source_since: datetime | None = None
    tank_gal: float = 0.0
    """Usable gallons left at `as_of`; never negative."""
    as_of: datetime | None = None
    lines: tuple[WorkingLine, ...] = ()
    """Lines that are charged, flowing or with their nozzle shut."""
    shut: tuple[WorkingLine, ...] = ()
    """Lines that were on."""
    opened: int = 0
    """How many lines were ever opened (numbers go on)."""
    tankful: int = 0
    """Seq of the event since which the tank has only fallen: ready, gauge read, back on the tank."""
    course: tuple[Reach, ...] = ()
    """How the tank fell since then (the last reaches of it), by which passed marks are known."""
    used_gal: float = 0.0
    """All water pumped up to `as_of`: flow × time + hose filled, from every source."""
    intake_psi: float | None = None
    static_psi: float | None = None
    residual_psi: float | None = None
    available_gpm: float | None = None
    """What the hydrant can give at 20 psi, where it was measured."""
    supply_unit: str | None = None
    supply_expected_at: datetime | None = None
    trouble: str | None = None

    @property
    def flow_gpm(self) -> float:
        """Total flow of the lines that flow."""
        return sum((line.now_gpm for line in self.lines), 0.0)

    @property
    def drawn_gpm(self) -> float:
        """What leaves the source: from the tank no more than its piping gives."""
        if self.on_tank and self.to_pump_gpm is not None:
            return min(self.flow_gpm, self.to_pump_gpm)
        return self.flow_gpm

    @property
    def on_tank(self) -> bool:
        return self.source == "tank"

    def gallons_at(self, at: datetime) -> float:
        """Usable gallons left in the tank at `at` (≥ 0), by the flow since `as_of` when the source is the tank."""
        if not self.on_tank or self.as_of is None or at <= self.as_of:
            return self.tank_gal
        return max(0.0, self.tank_gal - self.drawn_gpm * (at - self.as_of).total_seconds() / 60.0)

    def used_at(self, at: datetime) -> float:
        """Gallons pumped up to `at`, from every source; a dry tank pumps nothing."""
        if self.as_of is None or at <= self.as_of:
            return self.used_gal
        flowed = self.drawn_gpm * (at - self.as_of).total_seconds() / 60.0
        return self.used_gal + (min(flowed, self.tank_gal) if self.on_tank else flowed)

    def left_s(self, at: datetime) -> float | None:
        """Seconds of tank left at `at` by the present flow; None when nothing flows from it."""
        flow = self.drawn_gpm
        return self.gallons_at(at) / flow * 60.0 if self.on_tank and flow > 0 else None

    def empty_at(self) -> datetime | None:
        """When the tank is calculated empty; None when nothing flows from it."""
        if not self.on_tank or self.as_of is None or self.drawn_gpm <= 0:
            return None
        return self.as_of + timedelta(minutes=self.tank_gal / self.drawn_gpm)


class Stamp(msgspec.Struct, frozen=True):
    """A benchmark as it was reported."""

    benchmark: str
    at: datetime
    unit: str | None = None
    place: str | None = None
    remark: str | None = None
    who: str = ""
    role: Role | None = None
    seq: int = 0
    logged_at: datetime | None = None
    """When it was told, which can be later than it happened."""


class Company(msgspec.Struct, frozen=True):
    """A unit on the incident."""

    unit: str
    staffing: int | None = None
    place: str | None = None
    task: str | None = None
    dispatched_at: datetime | None = None
    en_route_at: datetime | None = None
    on_scene_at: datetime | None = None
    """Reported arrival."""
    seen_at: datetime | None = None
    """The first thing it did that is only done on the scene: it had arrived by then."""
    left_at: datetime | None = None

    @property
    def arrived_at(self) -> datetime | None:
        """The reported arrival, or the latest it can have been."""
        return self.on_scene_at or self.seen_at

    @property
    def present(self) -> bool:
        return self.arrived_at is not None and self.left_at is None


class Gauge(msgspec.Struct, frozen=True):
    """A cylinder gauge reading."""

    at: datetime
    psi: float


class Spell(msgspec.Struct, frozen=True):
    """An entry that is over: how long, on which cylinder, by which gauges."""

    entered_at: datetime
    left_at: datetime
    gauges: tuple[Gauge, ...] = ()
    cylinder_psi: float | None = None
    rated_min: float | None = None
    low_air: bool = False


class Crew(msgspec.Struct, frozen=True):
    """A crew that is or was inside."""

    crew: str
    count: int | None = None
    entered_at: datetime | None = None
    left_at: datetime | None = None
    place: str | None = None
    task: str | None = None
    gauges: tuple[Gauge, ...] = ()
    cylinder_psi: float | None = None
    rated_min: float | None = None
    entries: int = 0
    """How many times it went in since the last rehab: cylinders used."""
    rehabs: int = 0
    """How many times it came back from rehab."""
    worked_s: float = 0.0
    """Seconds inside in all earlier entries since the last rehab."""
    rehab_since: datetime | None = None
    alarm_at: datetime | None = None
    coming_out_at: datetime | None = None
    """On its way out since then: still inside."""
    told_out_at: datetime | None = None
    """Told to come out, and not yet said to be coming."""
    spells: tuple[Spell, ...] = ()
    """Its entries since the last rehab that are over."""

    @property
    def inside(self) -> bool:
        return self.entered_at is not None and self.left_at is None


class ParCheck(msgspec.Struct, frozen=True):
    """The last PAR request and what was answered."""

    at: datetime
    why: str = ""
    expected: tuple[tuple[str, int | None], ...] = ()
    answered: tuple[tuple[str, int | None, int, datetime], ...] = ()
    """(unit, count, missing, when)."""

    @property
    def asked(self) -> bool:
        """It was asked for; else units only reported theirs."""
        return self.why != "reported"


def _added(before: str, said: str) -> str:
    """Both, each of their parts once."""
    if before.casefold() in said.casefold():
        return said
    more = [part for part in said.split(", ") if part.casefold() not in before.casefold()]
    return ", ".join((before, *more))


class MaydayState(msgspec.Struct, frozen=True):
    """An open (or cleared) Mayday with the parts of LUNAR known so far."""

    at: datetime
    text: str = ""
    location: str | None = None
    unit: str | None = None
    name: str | None = None
    assignment: str | None = None
    air: str | None = None
    resources: str | None = None
    cleared_at: datetime | None = None

    def with_parts(self, told: Mapping[str, str | None]) -> MaydayState:
        """With what was told later: places, names, needs are added; unit, assignment, air follow the last word."""
        parts: dict[str, str] = {}
        for part, value in told.items():
            before: str | None = getattr(self, part)
            if not value:
                continue
            adds = part in ("location", "name", "resources") and before is not None
            parts[part] = _added(before, value) if adds and before is not None else value
        return replace(self, **parts)


class ArrestClock(msgspec.Struct, frozen=True):
    """Cardiac arrest: CPR and doses as reported."""

    started_at: datetime
    last_check_at: datetime
    """CPR start or the last rhythm check, shock or compressor change: the two minutes run from here."""
    doses: tuple[datetime, ...] = ()
    shocks: tuple[datetime, ...] = ()
    joules: tuple[float | None, ...] = ()
    """Energy of each shock, as far as it was said."""
    rhythms: tuple[tuple[datetime, str], ...] = ()
    changes: tuple[datetime, ...] = ()
    """Compressor changes."""
    pauses: tuple[tuple[datetime, datetime | None], ...] = ()
    """When compressions were said to pause, and to go on again."""
    patient: str | None = None
    stopped_at: datetime | None = None
    pulses_at: datetime | None = None


class Setting(msgspec.Struct, frozen=True):
    """A reminder as people changed it by a sentence. The name "all" stands for every routine one."""

    name: str
    minutes: float | None = None
    """Another interval than the rig file's…"""
    minutes_at: datetime | None = None
    """…from this moment on."""
    stopped_at: datetime | None = None
    snoozed_at: datetime | None = None
    snoozed_until: datetime | None = None


class OwnTimer(msgspec.Struct, frozen=True):
    """A timer that a person set for themself."""

    label: str
    due_at: datetime
    seq: int
    who: str
    role: Role | None = None
    set_at: datetime | None = None
    room: str = ""
    """Where it was set, and is told."""


class Check(msgspec.Struct, frozen=True):
    """One answered item of the daily check."""

    item: str
    ok: bool
    at: datetime
    value: float | None = None
    remark: str | None = None


class Scene(msgspec.Struct, frozen=True):
    """Everything that is known of an incident. An empty one (`opened_at` None) stands for no incident."""

    incident: str = ""
    kind: IncidentKind = "fire"
    nature: str | None = None
    address: str | None = None
    dispatch_text: str | None = None
    opened_at: datetime | None = None
    closed_at: datetime | None = None
    last_at: datetime | None = None
    last_seq: int = 0
    pumps: dict[str, Pump] = {}
    stamps: tuple[Stamp, ...] = ()
    companies: dict[str, Company] = {}
    crews: dict[str, Crew] = {}
    roles: dict[str, tuple[Role, str]] = {}
    par: ParCheck | None = None
    strategy: str | None = None
    strategy_at: datetime | None = None
    evacuation_at: datetime | None = None
    emergencies: tuple[tuple[str, datetime], ...] = ()
    mayday: MaydayState | None = None
    arrest: ArrestClock | None = None
    care: Care = Care()
    needed_gpm: float | None = None
    needed_method: str | None = None
    settings: dict[str, Setting] = {}
    timers: tuple[OwnTimer, ...] = ()
    readiness_items: tuple[str, ...] = ()
    readiness: tuple[Check, ...] = ()
    readiness_finished_at: datetime | None = None
    restored: tuple[str, ...] = ()
    amended: tuple[datetime, ...] = ()
    """When undos and corrections were logged: what is due after one is told even if its like was told before."""

    @property
    def open(self) -> bool:
        return self.opened_at is not None and self.closed_at is None

    @property
    def mayday_open(self) -> bool:
        return self.mayday is not None and self.mayday.cleared_at is None

    def stamp(self, benchmark: str, *, partial: bool = False) -> Stamp | None:
        """The first stamp of a benchmark for the whole incident (`partial`: also one that names a place), or None."""
        for stamp in self.stamps:
            if stamp.benchmark == benchmark and (partial or stamp.place is None):
                return stamp
        return None

    def pump(self, unit: str) -> Pump:
        """The pump of a company (an empty one when it hasn't come into the incident)."""
        return self.pumps.get(unit, Pump(unit=unit))

    @property
    def crews_inside(self) -> tuple[Crew, ...]:
        return tuple(crew for crew in self.crews.values() if crew.inside)
