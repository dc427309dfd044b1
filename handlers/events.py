"""What happened: the bodies of the events that handlers return, and the envelope that the shell puts around each.

The log of events is the truth: the scene is its fold (handlers/scene.py). A body holds resolved values (the flow a
line was given, the gallons that filled its hose), so that the fold needs neither the rig file nor a clock. Times are
aware datetimes in UTC.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal, TypeAlias

import msgspec

from grammar.commands import BenchmarkName, Role, SaidLay
from handlers.events_medical import MedicalBody

Source: TypeAlias = Literal["tank", "hydrant", "draft", "relay", "nurse"]
IncidentKind: TypeAlias = Literal["fire", "medical"]


class Body(msgspec.Struct, frozen=True, tag=True, omit_defaults=True):
    """Base of all event bodies; the tag (class name) makes them storable."""


# --- the incident and its companies


class IncidentOpened(Body, frozen=True):
    kind: IncidentKind = "fire"
    nature: str | None = None
    address: str | None = None
    units: tuple[str, ...] = ()
    text: str | None = None


class IncidentClosed(Body, frozen=True):
    """Command terminated (the benchmark stands beside it)."""


class KindSet(Body, frozen=True):
    """A fire or a medical run."""

    kind: IncidentKind


class PumpReady(Body, frozen=True):
    """A company's pump comes into the incident, with what its tank can give."""

    unit: str
    tank_gal: float
    usable_gal: float
    """Gallons that can really be pumped (usable share of the tank)."""
    to_pump_gpm: float | None = None
    """What the tank's piping can give at most; None: not known."""


class UnitJoined(Body, frozen=True):
    """A company joins (reported on scene, answered a dispatch, or came in by code)."""

    unit: str
    staffing: int | None = None
    task: str | None = None


class UnitLeft(Body, frozen=True):
    unit: str


class RoleTaken(Body, frozen=True):
    person: str
    role: Role
    unit: str


# --- pumping and water


class WorkingLine(msgspec.Struct, frozen=True, omit_defaults=True):
    """One line that is charged, with the values it was opened with."""

    number: int
    """1 = this pump's first line of the incident, counted on."""
    label: str
    """How people are told of it: "Crosslay 1", "1¾ in, 200 ft"."""
    flow_gpm: float
    pressure_psi: float
    fill_gal: float
    """Gallons that filled its hose when it was charged (0.0408·d²·L)."""
    name: str | None = None
    hose_in: float | None = None
    length_ft: float | None = None
    floor: int | None = None
    place: str | None = None
    lay: SaidLay | None = None
    """This line as said and completed, with the feed it hangs on: what a change or "same again" starts from."""
    discharge: int = 0
    """Number of the first line of its lay: the legs of a wye share one; 0 = its own."""
    gated: bool = False
    held: bool = False
    """Charged with its nozzle shut: its pressure is held, nothing flows; `flow_gpm` is what it flows when it opens."""
    drained: bool = False
    """Shut and drained: its hose is to be filled again."""

    @property
    def now_gpm(self) -> float:
        """What flows from it now."""
        return 0.0 if self.held else self.flow_gpm


class LineOpened(Body, frozen=True):
    line: WorkingLine


class LineShut(Body, frozen=True):
    """Shut at the pump; its hose stays full unless it is drained (said of a line that was shut before, too)."""

    number: int
    drained: bool = False


class LineChanged(Body, frozen=True):
    """The line with this number now is so; `added_fill_gal` is what new hose took from the tank."""

    line: WorkingLine
    added_fill_gal: float = 0.0
    why: str = ""


class SourceChanged(Body, frozen=True):
    """The pump's water source, as the driver reports it; the only thing that stops or starts the tank clock."""

    source: Source
    lost: bool = False
    """Not meant: the supply failed."""


class TankRead(Body, frozen=True):
    """The tank's gauge, which overrides the calculation."""

    tank_gal: float
    refilled: bool = False


class IntakeRead(Body, frozen=True):
    intake_psi: float


class HydrantRead(Body, frozen=True):
    static_psi: float | None = None
    residual_psi: float | None = None
    flow_gpm: float | None = None
    flow_at_20psi_gpm: float | None = None


class SupplyAnnounced(Body, frozen=True):
    """A supply is expected at `expected_at`."""

    unit: str | None = None
    expected_at: datetime | None = None
    kind: str | None = None
    gallons: float | None = None


class NeededFlowSet(Body, frozen=True):
    needed_gpm: float
    method: str


class PumpTrouble(Body, frozen=True):
    kind: Literal["lost_prime", "cavitating", "overheating"]


# --- benchmarks, people


class BenchmarkReported(Body, frozen=True):
    benchmark: BenchmarkName
    unit: str | None = None
    place: str | None = None
    remark: str | None = None


class UnitAssigned(Body, frozen=True):
    unit: str
    place: str | None = None
    task: str | None = None
    staffing: int | None = None


class ParRequested(Body, frozen=True):
    """A PAR was asked of these units (key → how many are expected, None where unknown)."""

    expected: dict[str, int | None]
    why: str = ""


class ParAnswered(Body, frozen=True):
    unit: str
    count: int | None = None
    missing: int = 0
    no_par: bool = False


class CrewEntered(Body, frozen=True):
    crew: str
    """Unit or crew key."""
    count: int | None = None
    gauge_psi: float | None = None
    cylinder_psi: float | None = None
    rated_min: float | None = None
    place: str | None = None
    task: str | None = None


class AirRead(Body, frozen=True):
    crew: str
    gauge_psi: float | None = None
    """None: only the low-air alarm was reported."""
    low_air_alarm: bool = False


class CrewLeft(Body, frozen=True):
    crew: str
    count: int | None = None
    gauge_psi: float | None = None


class CrewComingOut(Body, frozen=True):
    """On its way out, or told to come out: still inside."""

    crew: str
    ordered: bool = False
    gauge_psi: float | None = None


class RehabChanged(Body, frozen=True):
    crew: str
    back: bool = False


class StrategySet(Body, frozen=True):
    strategy: Literal["offensive", "defensive"]


class EvacuationOrdered(Body, frozen=True):
    place: str | None = None
    text: str | None = None
    """Its reason, as it was said."""


class EvacuationLifted(Body, frozen=True):
    pass


class EmergencyDeclared(Body, frozen=True):
    kind: str
    unit: str | None = None
    text: str | None = None


class EmergencyOver(Body, frozen=True):
    kind: str


class MaydayDeclared(Body, frozen=True):
    text: str = ""
    location: str | None = None
    unit: str | None = None
    name: str | None = None
    assignment: str | None = None
    air: str | None = None
    resources: str | None = None


class MaydayDetail(Body, frozen=True):
    """A part of LUNAR that came later."""

    location: str | None = None
    unit: str | None = None
    name: str | None = None
    assignment: str | None = None
    air: str | None = None
    resources: str | None = None
    text: str = ""


class MaydayCleared(Body, frozen=True):
    pass


class Noted(Body, frozen=True):
    """Anything else for the record; `kind` as grammar.commands.Report, or "calculation", "question", "note"."""

    kind: str
    text: str
    unit: str | None = None
    place: str | None = None
    count: int | None = None


# --- reminders and timers


class ReminderSnoozed(Body, frozen=True):
    name: str
    until: datetime


class ReminderStopped(Body, frozen=True):
    name: str


class ReminderResumed(Body, frozen=True):
    name: str


class ReminderInterval(Body, frozen=True):
    name: str
    minutes: float


class TimerSet(Body, frozen=True):
    label: str
    due_at: datetime


# --- medical, readiness, after the fire


class ArrestAction(Body, frozen=True):
    action: str
    """As grammar.commands.Arrest.action."""
    joules: float | None = None
    text: str | None = None
    patient: str | None = None


class OxygenNoted(Body, frozen=True):
    minutes: float
    factor: float
    gauge_psi: float
    flow_lpm: float
    cylinder: str


class ReadinessStarted(Body, frozen=True):
    items: tuple[str, ...]


class ReadinessAnswered(Body, frozen=True):
    item: str
    ok: bool
    value: float | None = None
    remark: str | None = None


class ReadinessFinished(Body, frozen=True):
    pass


class Restored(Body, frozen=True):
    """One thing made ready again after the fire."""

    item: str


# --- about the log itself


class Retracted(Body, frozen=True):
    """These events (by seq) are taken back: the fold leaves them out, from their own time on. The log keeps them."""

    events: tuple[int, ...]
    why: Literal["undo", "correction"]


EventBody: TypeAlias = (
    IncidentOpened
    | IncidentClosed
    | KindSet
    | PumpReady
    | UnitJoined
    | UnitLeft
    | RoleTaken
    | LineOpened
    | LineShut
    | LineChanged
    | SourceChanged
    | TankRead
    | IntakeRead
    | HydrantRead
    | SupplyAnnounced
    | NeededFlowSet
    | PumpTrouble
    | BenchmarkReported
    | UnitAssigned
    | ParRequested
    | ParAnswered
    | CrewEntered
    | AirRead
    | CrewLeft
    | CrewComingOut
    | RehabChanged
    | StrategySet
    | EvacuationOrdered
    | EvacuationLifted
    | EmergencyDeclared
    | EmergencyOver
    | MaydayDeclared
    | MaydayDetail
    | MaydayCleared
    | Noted
    | ReminderSnoozed
    | ReminderStopped
    | ReminderResumed
    | ReminderInterval
    | TimerSet
    | ArrestAction
    | OxygenNoted
    | MedicalBody
    | ReadinessStarted
    | ReadinessAnswered
    | ReadinessFinished
    | Restored
    | Retracted
)


class Event(msgspec.Struct, frozen=True):
    """The envelope: one thing that happened, in the log of one incident."""

    incident: str
    seq: int
    """1, 2, 3 … within the incident, in the order of logging."""
    at: datetime
    """When it happened: the message's sent time, or the time that was stated. UTC."""
    logged_at: datetime
    who: str
    """Key of the person who said it."""
    unit: str
    """The company it concerns: the speaker's, unless the words named another."""
    room: str
    message: str
    """Id of the message it came from (room and message id)."""
    command: int
    """Which command of that message, counted from 0: what undo and corrections take back together."""
    body: EventBody
    role: Role | None = None
