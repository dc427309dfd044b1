"""The commands a message can hold, what the reader must know to read it, and what a reading is.

Everything here is plain frozen data: US customary floats with the unit in the name, no clock, no look-ups. `Command`
is the closed union of all commands; a command's `intent` is the name that the command line's JSON shows.

A *said* lay keeps what the person said and nothing else (None = not said): filling in what the rig carries is the
handlers' work, so that every assumption can be shown.
"""

from __future__ import annotations

from typing import ClassVar, Literal, TypeAlias

from grammar.commands_base import Part as Part
from grammar.commands_base import Role as Role
from grammar.commands_base import SaidTime as SaidTime
from grammar.commands_base import Spoken as Spoken
from grammar.commands_base import Units as Units
from grammar.commands_medical import Arrest as Arrest
from grammar.commands_medical import CareAsked as CareAsked
from grammar.commands_medical import HandOver as HandOver
from grammar.commands_medical import MedicalCommand as MedicalCommand
from grammar.commands_medical import Medication as Medication
from grammar.commands_medical import OxygenTime as OxygenTime
from grammar.commands_medical import PatientTold as PatientTold
from grammar.commands_medical import Procedure as Procedure
from grammar.commands_medical import Triage as Triage
from grammar.commands_medical import TriageGroup as TriageGroup
from grammar.commands_medical import Vitals as Vitals

# --- the said lay


class SaidHose(Part, frozen=True):
    """A run of hose of one size, as said: "200 feet of inch and three quarter", "two 3-inch lines, 300 feet"."""

    hose_in: float | None = None
    length_ft: float | None = None
    parallel: int = 1
    """Lines laid side by side that join again (siamese, dual supply)."""
    beside: tuple[SaidHose, ...] = ()
    """Hose of other sizes laid beside it, joined with it again: "a 3 inch and a 2½ siamesed, 300 feet"."""


class SaidNozzle(Part, frozen=True):
    """What was said of the nozzle; all None: nothing was."""

    kind: Literal["fog", "smooth_bore", "cellar", "piercing"] | None = None
    tip_in: float | None = None
    flow_gpm: float | None = None
    flow_is_total: bool = False
    """The flow was said of all lines together."""
    nozzle_psi: float | None = None


Device: TypeAlias = Literal["deck_gun", "monitor", "aerial", "standpipe", "sprinkler", "eductor", "high_rise_pack"]


class SaidLine(Part, frozen=True):
    """One line to a nozzle (or `count` equal ones), from the pump or from the split of its lay."""

    name: str | None = None
    """Key of a line of the rig file ("crosslay_1"), when it was named."""
    count: int = 1
    hose: tuple[SaidHose, ...] = ()
    """Hose in the order of the water, pump to nozzle."""
    nozzle: SaidNozzle = SaidNozzle()
    device: Device | None = None
    floor: int | None = None
    """1 = ground floor, 2 = second floor, -1 = basement (first level below)."""
    rise_ft: float | None = None
    """Feet up (+) or down (−) from the pump, when feet were said."""
    place: str | None = None
    """Where it works, in the words' canonical form ("second floor", "alpha side")."""
    foam_percent: float | None = None
    before_eductor: int = 0
    """So many runs of its hose lie between the pump and the eductor."""


class SaidLay(Part, frozen=True):
    """A feed from the pump and what hangs on it. A plain line: no feed, one line. A wye: a feed and its legs."""

    feed: tuple[SaidHose, ...] = ()
    split: Literal["wye", "manifold"] | None = None
    lines: tuple[SaidLine, ...] = ()


class LineRef(Part, frozen=True):
    """Which working line is meant: by rig name, by order ("the second line"), by hose, by place, the last one, all."""

    name: str | None = None
    order: int | None = None
    hose_in: float | None = None
    place: str | None = None
    other: bool = False
    """ "The other one": of the two, not the one last spoken of."""
    all: bool = False
    seq: int | None = None
    """Filled in by the reader when the scene's lines decide it: LineSeen.seq."""


# --- pumping


class PumpPressure(Spoken, frozen=True):
    """A pressure is asked for: starts nothing (convention 1)."""

    intent: ClassVar[str] = "pump_pressure"
    lays: tuple[SaidLay, ...]
    intake_psi: float | None = None
    picture: bool = False
    """ "Show me": the pressure profile is wanted too."""
    friction: bool = False
    """The friction loss was asked for: it leads."""


class FlowAtPressure(Spoken, frozen=True):
    """The flow of a lay at a stated pump pressure."""

    intent: ClassVar[str] = "flow_at_pressure"
    lays: tuple[SaidLay, ...]
    pump_pressure_psi: float


class LongestLay(Spoken, frozen=True):
    """How far a line can be stretched at a stated pump pressure (or the pump's and hose's limit when none was said)."""

    intent: ClassVar[str] = "longest_lay"
    lay: SaidLay
    pump_pressure_psi: float | None = None


class TipForFlow(Spoken, frozen=True):
    """The smooth-bore tip for a wanted flow."""

    intent: ClassVar[str] = "tip_for_flow"
    flow_gpm: float
    nozzle_psi: float | None = None
    master_stream: bool = False


class Nozzle(Spoken, frozen=True):
    """Flow and reaction of a nozzle by itself ("what does a 15/16 flow at 50?")."""

    intent: ClassVar[str] = "nozzle"
    nozzle: SaidNozzle
    device: Device | None = None


class SupplyPressure(Spoken, frozen=True):
    """Pumping to another engine or a relay, or hose laid from a hydrant; `max_length` asks how far it can go."""

    intent: ClassVar[str] = "supply_pressure"
    hose: tuple[SaidHose, ...] = ()
    flow_gpm: float | None = None
    from_hydrant: bool = False
    hydrant_psi: float | None = None
    to_unit: str | None = None
    rise_ft: float | None = None
    relay_engines: int | None = None
    distance_ft: float | None = None
    pump_pressure_psi: float | None = None
    max_length: bool = False
    floor: int | None = None
    friction: bool = False
    """The friction loss was asked for: it leads."""


class PumpStatus(Spoken, frozen=True):
    """ "What am I pumping?": every discharge's pressure, the governing one, total flow against pump and supply."""

    intent: ClassVar[str] = "pumping"


class WhatIf(Spoken, frozen=True):
    """ "Can I add a deuce and a half?" / "what if I shut crosslay one?": asked, nothing changes."""

    intent: ClassVar[str] = "what_if"
    add: tuple[SaidLay, ...] = ()
    shut: LineRef | None = None


class Coefficient(Spoken, frozen=True):
    """A hose's coefficient from a department's own flow test; `save` asks to write it to the rig file."""

    intent: ClassVar[str] = "coefficient"
    hose_in: float | None = None
    length_ft: float | None = None
    flow_gpm: float | None = None
    loss_psi: float | None = None
    save: bool = False
    sure: bool = False
    """Confirmed: write it."""


class PumpChart(Spoken, frozen=True):
    """The rig's pump chart as a picture."""

    intent: ClassVar[str] = "chart"


class LineOn(Spoken, frozen=True):
    """A line is charged or flowing (an order or a report of it). `ref` when a known line is meant, else `lay`."""

    intent: ClassVar[str] = "line_on"
    ref: LineRef | None = None
    lay: SaidLay | None = None
    held: bool = False
    """Charged with nothing flowing ("charged, nozzle's shut"); else it counts as flowing (convention 1)."""


class LineOff(Spoken, frozen=True):
    """A line is shut down."""

    intent: ClassVar[str] = "line_off"
    ref: LineRef
    drained: bool = False
    """Drained or broken down: its hose is to be filled again."""


class LineChange(Spoken, frozen=True):
    """A working line changes: hose added, burst, gated or opened again, nozzle shut or opened or changed, moved."""

    intent: ClassVar[str] = "line_change"
    ref: LineRef
    flowing: bool | None = None
    """False: the nozzle is shut, the line stays charged; True: it flows again."""
    full_open: bool = False
    """Opened up again: what it was gated to, and a nozzle that was shut, hold no more."""
    add_ft: float | None = None
    add_lengths: int = 0
    """So many lengths added, as long as the rig's hose of that kind is."""
    burst: bool = False
    gate_to_gpm: float | None = None
    gate_to_psi: float | None = None
    gate: bool = False
    nozzle_psi_change: Literal["more", "less"] | None = None
    nozzle: SaidNozzle | None = None
    floor: int | None = None
    rise_ft: float | None = None
    place: str | None = None


class Request(Spoken, frozen=True):
    """What the crew asks of the pump ("more pressure", "ready for water"): told to the driver, changes nothing."""

    intent: ClassVar[str] = "request"
    text: str
    wants: tuple[Command, ...] = ()
    """What is so once the driver has done it."""


# --- water


class TankTime(Spoken, frozen=True):
    """How long the tank lasts: at a stated flow, or as things flow now."""

    intent: ClassVar[str] = "tank_time"
    flow_gpm: float | None = None
    tank_gal: float | None = None
    lays: tuple[SaidLay, ...] = ()
    tank_fraction: float | None = None


class WaterSource(Spoken, frozen=True):
    """The pump's source as reported, or a tank reading. Only this stops and starts the tank clock (convention 3)."""

    intent: ClassVar[str] = "water_source"
    source: Literal["tank", "hydrant", "draft", "relay", "nurse"] | None = None
    lost: bool = False
    """Off the hydrant, hydrant dead, lost water: back on the tank, alert when it was not meant."""
    meant: bool = False
    """A planned change ("coming off the hydrant"), no alarm."""
    tank_fraction: float | None = None
    tank_gal: float | None = None
    refilled: bool = False
    topping_off: bool = False
    trouble: Literal["lost_prime", "cavitating", "overheating"] | None = None


class Intake(Spoken, frozen=True):
    """Intake (compound) gauge reading."""

    intent: ClassVar[str] = "intake"
    intake_psi: float
    vacuum_inhg: float | None = None


class SupplyExpected(Spoken, frozen=True):
    """A supply is on its way: "engine 9 laying in, four minutes out"."""

    intent: ClassVar[str] = "supply_expected"
    unit: str | None = None
    minutes: float | None = None
    kind: Literal["hydrant", "tender", "relay", "draft"] | None = None
    hose: tuple[SaidHose, ...] = ()
    gallons: float | None = None


class Hydrant(Spoken, frozen=True):
    """Static and residual by gauge: percent drop, what it allows, flow at 20 psi."""

    intent: ClassVar[str] = "hydrant"
    static_psi: float | None = None
    residual_psi: float | None = None
    flow_gpm: float | None = None
    second: bool = False


class HydrantFlow(Spoken, frozen=True):
    """A pitot reading at a hydrant outlet."""

    intent: ClassVar[str] = "hydrant_flow"
    pitot_psi: float
    outlet_in: float | None = None
    coefficient: float | None = None
    static_psi: float | None = None
    residual_psi: float | None = None


class NeededFlow(Spoken, frozen=True):
    """Needed fire flow by a named method."""

    intent: ClassVar[str] = "needed_flow"
    length_ft: float | None = None
    width_ft: float | None = None
    area_ft2: float | None = None
    """Of one floor, where an area was said in place of the sides."""
    height_ft: float | None = None
    floors: int | None = None
    floors_involved: int | None = None
    involved_percent: float | None = None
    exposures: int | None = None
    method: Literal["area_third", "volume_hundredth", "iso"] | None = None
    construction_class: int | None = None
    """ISO class, 1 (frame) to 6 (fire-resistive)."""
    construction_type: int | None = None
    """Building type I (fire-resistive) to V (wood frame): another scale, that runs the other way."""
    occupancy: Literal["noncombustible", "limited", "combustible", "free_burning", "rapid_burning"] | None = None
    hazard_class: int | None = None
    """Occupancy hazard classification number (3–7) of the rural minimum supply."""
    rural_supply: bool = False


class Shuttle(Spoken, frozen=True):
    """Tender shuttle: delivery of one, number needed for a flow."""

    intent: ClassVar[str] = "shuttle"
    tank_gal: float | None = None
    distance_mi: float | None = None
    round_trip: bool = False
    """The distance was said there and back; else it is one way."""
    fill_min: float | None = None
    dump_min: float | None = None
    handling_min: float | None = None
    cycle_min: float | None = None
    tenders: int | None = None
    flow_gpm: float | None = None
    portable_tank_gal: float | None = None
    compare: bool = False
    """Long lay, relay and shuttle compared."""


class Draft(Spoken, frozen=True):
    """Drafting: greatest lift, or whether a stated lift can be had."""

    intent: ClassVar[str] = "draft"
    lift_ft: float | None = None
    altitude_ft: float | None = None
    water_f: float | None = None
    suction_ft: float | None = None
    suction_in: float | None = None
    flow_gpm: float | None = None
    checklist: Literal["lost_prime", "cavitating"] | None = None


class Fitting(Spoken, frozen=True):
    """Shortest chain of fittings between two ends."""

    intent: ClassVar[str] = "fitting"
    from_end: str
    to_end: str


class Readiness(Spoken, frozen=True):
    """Daily check: start it, answer an item, or ask how it stands."""

    intent: ClassVar[str] = "readiness"
    action: Literal["start", "answer", "status", "finish"]
    item: str | None = None
    ok: bool | None = None
    value: float | None = None
    remark: str | None = None


# --- incident

BenchmarkName: TypeAlias = Literal[
    "dispatched",
    "en_route",
    "on_scene",
    "size_up",
    "command_established",
    "two_out_in_place",
    "rit_in_place",
    "water_supply",
    "water_on_fire",
    "primary_search_started",
    "primary_search_complete",
    "ventilation",
    "knocked_down",
    "under_control",
    "utilities_secured",
    "secondary_search_complete",
    "extrication_complete",
    "overhaul",
    "suppression_complete",
    "loss_stopped",
    "command_terminated",
    "patient_contact",
    "care_transferred",
    "available",
    "returning",
    "in_quarters",
]


class Benchmark(Spoken, frozen=True):
    """A reported tactical benchmark (never a hoped or negated one, convention 2)."""

    intent: ClassVar[str] = "benchmark"
    benchmark: BenchmarkName
    unit: str | None = None
    place: str | None = None
    """A place makes it partial: the search of the whole stays open."""
    time: SaidTime | None = None
    staffing: int | None = None
    """ "Engine 9 on scene with four"."""
    remark: str | None = None
    sure: bool = False
    """Said again after a question: it is logged as it stands (a choice of that question, never read from words)."""


class Dispatch(Spoken, frozen=True):
    """The dispatch text after the reserved word "dispatch:"."""

    intent: ClassVar[str] = "dispatch"
    text: str
    nature: str | None = None
    address: str | None = None
    units: tuple[str, ...] = ()
    kind: Literal["fire", "medical"] | None = None
    time: SaidTime | None = None


class IncidentKind(Spoken, frozen=True):
    """ "This is a medical run" / "structure fire": decides which reminders live."""

    intent: ClassVar[str] = "incident_kind"
    kind: Literal["fire", "medical"]


class Elapsed(Spoken, frozen=True):
    """Asked: how long."""

    intent: ClassVar[str] = "elapsed"
    since: BenchmarkName | None = None
    until: BenchmarkName | None = None
    """From one benchmark to another: "how long from water to under control"."""


class Status(Spoken, frozen=True):
    """Asked: how things stand, or whether a benchmark or search was reported."""

    intent: ClassVar[str] = "status"
    about: str | None = None
    """None (everything), "lines", "water", "crews", "par", "air", "rehab", "benchmarks", "units", "reminders", or
    a benchmark's name."""
    unit: str | None = None


class Par(Spoken, frozen=True):
    """A PAR is requested (`request`) or answered ("engine 9 PAR of 4")."""

    intent: ClassVar[str] = "par"
    unit: str | None = None
    count: int | None = None
    request: bool = False
    missing: int | None = None
    no_par: bool = False
    """ "No PAR": someone is unaccounted for."""


class Entry(Spoken, frozen=True):
    """A crew goes in, with its lowest gauge."""

    intent: ClassVar[str] = "entry"
    unit: str | None = None
    count: int | None = None
    gauge_psi: float | None = None
    place: str | None = None
    task: str | None = None
    time: SaidTime | None = None
    rated_min: float | None = None
    """The cylinder's rated minutes, where they were said."""
    sure: bool = False
    """Said again although it was asked about; so in the readings below."""


class AirReading(Spoken, frozen=True):
    """A later gauge reading of a crew inside."""

    intent: ClassVar[str] = "air_reading"
    gauge_psi: float | None = None
    """None: only the low-air alarm was reported."""
    unit: str | None = None
    time: SaidTime | None = None
    low_air_alarm: bool = False
    sure: bool = False


class Exit(Spoken, frozen=True):
    """A crew comes out."""

    intent: ClassVar[str] = "exit"
    unit: str | None = None
    count: int | None = None
    gauge_psi: float | None = None
    time: SaidTime | None = None
    sure: bool = False


class ComingOut(Spoken, frozen=True):
    """A crew is on its way out, or was told to come out (`ordered`): still inside, its clocks go on (convention 16)."""

    intent: ClassVar[str] = "coming_out"
    unit: str | None = None
    ordered: bool = False
    gauge_psi: float | None = None
    time: SaidTime | None = None


class Assign(Spoken, frozen=True):
    """A unit or crew gets an assignment ("engine 9, division 2, search")."""

    intent: ClassVar[str] = "assign"
    unit: str
    place: str | None = None
    task: str | None = None
    staffing: int | None = None
    supply: SupplyPressure | None = None
    """The lay of a company that is to supply another."""


class Rehab(Spoken, frozen=True):
    """A crew goes to rehab or is back."""

    intent: ClassVar[str] = "rehab"
    unit: str | None = None
    back: bool = False


class Evacuate(Spoken, frozen=True):
    """Everybody out was ordered (by people, never by this program); or the order is lifted."""

    intent: ClassVar[str] = "evacuate"
    place: str | None = None
    over: bool = False
    text: str | None = None
    """Why, as it was said beside the order."""


class Strategy(Spoken, frozen=True):
    """Offensive or defensive."""

    intent: ClassVar[str] = "strategy"
    strategy: Literal["offensive", "defensive"]


class Mayday(Spoken, frozen=True):
    """Mayday heard; LUNAR parts as far as said. `cleared` needs the officer."""

    intent: ClassVar[str] = "mayday"
    location: str | None = None
    unit: str | None = None
    name: str | None = None
    assignment: str | None = None
    air: str | None = None
    resources: str | None = None
    cleared: bool = False
    text: str | None = None
    """The message as it was said, kept whole."""


class Emergency(Spoken, frozen=True):
    """Emergency traffic, collapse, flashover, missing member: alert and propose PAR."""

    intent: ClassVar[str] = "emergency"
    kind: Literal["emergency_traffic", "collapse", "flashover", "missing_member", "downed_member"]
    unit: str | None = None
    text: str | None = None
    over: bool = False
    parts: Mayday | None = None
    """A member in trouble: what a Mayday would say of it."""


class Report(Spoken, frozen=True):
    """For the log, but no benchmark: victim found/removed, a CAN report, second alarm, fire out, a note."""

    intent: ClassVar[str] = "note"
    kind: Literal[
        "victim_found",
        "victim_removed",
        "can",
        "alarm",
        "cancel_incoming",
        "fire_out",
        "rit_deployed",
        "transfer_of_command",
        "size_up",
        "note",
    ]
    text: str
    unit: str | None = None
    place: str | None = None
    count: int | None = None


class AirTime(Spoken, frozen=True):
    """Air calculation without a crew's clock: cylinder and one or two gauge readings."""

    intent: ClassVar[str] = "air_time"
    cylinder_psi: float | None = None
    rated_min: float | None = None
    start_psi: float | None = None
    gauge_psi: float | None = None
    minutes: float | None = None
    """Minutes between the two readings."""
    rate_lpm: float | None = None
    unit: str | None = None
    sure: bool = False


class ReminderChange(Spoken, frozen=True):
    """Snooze, stop, resume or change the interval of a reminder."""

    intent: ClassVar[str] = "reminder"
    action: Literal["snooze", "stop", "resume", "interval"]
    name: str | None = None
    """A name of DEVELOPERS.md's table ("elapsed", "par_due" …); None: the last one that was shown, or all."""
    minutes: float | None = None


class Timer(Spoken, frozen=True):
    """A timer of the person's own: "remind me in five minutes to check the roof"."""

    intent: ClassVar[str] = "timer"
    minutes: float
    text: str | None = None


class Join(Spoken, frozen=True):
    """Make a one-time code for an incoming unit, or join with one."""

    intent: ClassVar[str] = "join"
    code: str | None = None
    """The code that is joined by; of one that was made, the new code."""
    make: bool = False
    """A code is asked for."""
    unit: str | None = None
    rig_unit: str | None = None


class SetRole(Spoken, frozen=True):
    """The speaker's role, by button or word ("I'm the driver")."""

    intent: ClassVar[str] = "role"
    role: Role
    unit: str | None = None
    person: str | None = None
    """Key of the person it is given to; None: the speaker takes it…"""
    name: str | None = None
    """…and what they are called."""


class SendReport(Spoken, frozen=True):
    """ "Send the report"."""

    intent: ClassVar[str] = "report"
    form: Literal["pdf", "csv", "png", "json"] | None = None
    readiness: bool = False
    patient: str | None = None
    """One patient's record: a number or name; "" = the one last spoken of."""


class Restore(Spoken, frozen=True):
    """After the fire: what must be made ready again, or tick one off."""

    intent: ClassVar[str] = "restore"
    item: str | None = None
    done: bool = False


# --- about the talk


class Correction(Spoken, frozen=True):
    """The last command of the same speaker, amended: the reader gives the whole amended command(s)."""

    intent: ClassVar[str] = "correction"
    amended: tuple[Command, ...]


class Undo(Spoken, frozen=True):
    """Take back the speaker's last command(s)."""

    intent: ClassVar[str] = "undo"
    steps: int = 1
    benchmark: BenchmarkName | None = None
    """Take back this benchmark's last report, whoever made it ("not under control" after "under control")."""
    message: str | None = None
    """Take back what this message logged: it was only the first half of what was said (never read from words)."""
    opening: bool = False
    """… with the incident that it opened, where nothing else is in it."""


class Repeat(Spoken, frozen=True):
    """Say again."""

    intent: ClassVar[str] = "repeat"


class Help(Spoken, frozen=True):
    """What can be said, or help on a topic."""

    intent: ClassVar[str] = "help"
    topic: str | None = None


class Talk(Spoken, frozen=True):
    """ "Talk to me" / "stop talking": spoken answers on or off."""

    intent: ClassVar[str] = "talk"
    on: bool = True


class KeepRecordings(Spoken, frozen=True):
    """ "You may keep my recordings" / "don't keep my recordings": for later training, where the settings allow it."""

    intent: ClassVar[str] = "keep_recordings"
    agree: bool = True


class ShowPicture(Spoken, frozen=True):
    """ "Show me": picture of the last lay."""

    intent: ClassVar[str] = "show"


class Confirm(Spoken, frozen=True):
    """Yes or no to the open question (when it isn't answered by one of its choices)."""

    intent: ClassVar[str] = "confirm"
    yes: bool


Command: TypeAlias = (
    PumpPressure
    | FlowAtPressure
    | LongestLay
    | TipForFlow
    | Nozzle
    | SupplyPressure
    | PumpStatus
    | WhatIf
    | Coefficient
    | PumpChart
    | LineOn
    | LineOff
    | LineChange
    | Request
    | TankTime
    | WaterSource
    | Intake
    | SupplyExpected
    | Hydrant
    | HydrantFlow
    | NeededFlow
    | Shuttle
    | Draft
    | Fitting
    | Readiness
    | Benchmark
    | Dispatch
    | IncidentKind
    | Elapsed
    | Status
    | Par
    | Entry
    | AirReading
    | Exit
    | ComingOut
    | Assign
    | Rehab
    | Evacuate
    | Strategy
    | Emergency
    | Mayday
    | Report
    | AirTime
    | ReminderChange
    | Timer
    | Join
    | SetRole
    | SendReport
    | Restore
    | MedicalCommand
    | Correction
    | Undo
    | Repeat
    | Help
    | Talk
    | KeepRecordings
    | ShowPicture
    | Confirm
)


# --- question, context, reading


class Choice(Part, frozen=True):
    """A button of a closed question: what it says, and the commands that pressing (or saying) it stands for.

    `commands` empty: the answer "no / none of these"; nothing is done.
    """

    label: str
    commands: tuple[Command, ...] = ()


class Question(Part, frozen=True):
    """One closed question. It is asked instead of a doubtful answer."""

    text: str
    choices: tuple[Choice, ...] = ()
    fills: Command | None = None
    """A command that only lacks one slot (see `slot`): a free answer ("fifteen sixteenths") completes it."""
    slot: str | None = None


class Wording(Part, frozen=True):
    """The units that people are asked and told in."""

    metric: bool = False
    pressure: Literal["psi", "bar", "kPa"] = "psi"


class RigLine(Part, frozen=True):
    """A line of the rig file as the reader must know it."""

    key: str
    names: tuple[str, ...]
    """All ways of saying it: "crosslay 1", "crosslay one", nicknames."""
    hose_in: float | None = None
    length_ft: float | None = None
    device: Device | None = None
    usual: bool = False
    """One run of its hose with that hose's usual nozzle: the same as that hose, said by size and length."""


class LineSeen(Part, frozen=True):
    """A line that is on (or was) in the scene."""

    seq: int
    """1 = the first line put on in this incident."""
    name: str | None = None
    hose_in: float | None = None
    length_ft: float | None = None
    flow_gpm: float | None = None
    place: str | None = None
    floor: int | None = None
    on: bool = True
    held: bool = False
    """Charged, nothing flows from it."""
    gated: bool = False
    device: Device | None = None
    """A master stream's, where it has no name on the rig."""


class Context(Part, frozen=True):
    """What the reader needs to know besides the words. Built by the shell; plain data."""

    units: Units = "us"
    pressure_unit: Literal["psi", "bar", "kPa"] | None = None
    """What the rig's pressures are told in; None: psi, or bar where metric units are spoken."""
    rig_lines: tuple[RigLine, ...] = ()
    hose_in: tuple[float, ...] = (0.75, 1.0, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0)
    """Hose the rig carries or its file knows a coefficient for."""
    supply_in: tuple[float, ...] = ()
    """Hose the rig carries as supply; empty where its file names none."""
    own_hose_in: tuple[float, ...] = ()
    """Those of them that the rig's own file names."""
    pieces: tuple[tuple[float, float], ...] = ()
    """(size in inches, feet of one length) of the rig's hose that doesn't come in lengths of 50 ft."""
    tips_in: tuple[float, ...] = ()
    slang: tuple[tuple[str, str], ...] = ()
    """(said, means): the department's own words from the rig file."""
    own_unit: str | None = None
    """ "engine 12"."""
    units_known: tuple[str, ...] = ()
    crews: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    streets: tuple[str, ...] = ()
    role: Role | None = None
    speaker_unit: str | None = None
    incident_open: bool = False
    incident_kind: Literal["fire", "medical"] = "fire"
    care: bool = False
    """A patient or a triage is in the log."""
    patients: tuple[str, ...] = ()
    """Patients by the names they go by, the one last spoken of last."""
    trapped: bool = False
    """The one last spoken of was told to be trapped."""
    arrest: bool = False
    """The arrest clock runs."""
    mayday_open: bool = False
    mayday_unit: str | None = None
    """The unit in trouble, as far as it was said."""
    lines: tuple[LineSeen, ...] = ()
    source: Literal["tank", "hydrant", "draft", "relay", "nurse"] = "tank"
    inside: tuple[str, ...] = ()
    """Units or crews inside."""
    stamped: tuple[str, ...] = ()
    """Benchmarks already reported."""
    last: tuple[Command, ...] = ()
    """The same speaker's last commands (follow-ups and corrections touch these)."""
    asked: Question | None = None
    """The open question to this speaker."""
    asked_before: Question | None = None
    """Another one that is still open: what a room was asked meanwhile doesn't close what a person was asked."""
    readiness_item: str | None = None
    """The check-list item being asked for."""
    group: bool = False
    """The room is a group: chatter gets no reply."""
    addressed: bool = False
    """The bot was addressed (private chat, mention, reply, call name)."""

    @property
    def wording(self) -> Wording:
        """The units of questions and choices."""
        metric = self.units == "metric"
        return Wording(metric, self.pressure_unit or ("bar" if metric else "psi"))


class Rival(Part, frozen=True):
    """A reading that lost."""

    commands: tuple[Command, ...]
    confidence: float


class Reading(Part, frozen=True):
    """What the words were taken to mean.

    Exactly one holds: `commands` (taken), `question` (doubtful: ask), `declined` (one plain sentence), `ignored`
    (chatter in a group: no reply). `intent` is kept when asked back or refused, None when not understood.
    """

    text: str
    commands: tuple[Command, ...] = ()
    confidence: float = 0.0
    rivals: tuple[Rival, ...] = ()
    question: Question | None = None
    declined: str | None = None
    ignored: bool = False
    intent: str | None = None
    assumed: tuple[str, ...] = ()
    """What the reader itself assumed ("1.75 read as the hose size")."""
