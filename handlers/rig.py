"""The rig: everything about one engine company that a calculation or a clock needs, as one frozen tree of typed values.

Rig
├── name, department, units ("us" | "metric"), pressure_unit ("psi" | "bar" | "kPa"), call_name,
│   spoken_pressures ("digits": "one one five" | "numbers": "one fifteen")
├── crew: Seat(role, name)…
├── tank: Tank(capacity_gal, usable_gal, to_pump_gpm)
├── pump: Pump(rated_gpm, points: PumpPoint(net_psi, share)…)
├── hose_kind: {"attack": HoseKind(operating_psi, test_psi), …}
├── hose: {"1_75": Hose(key, diameter_in, coefficient, kind, nozzle, carried_ft, …), …}
├── nozzle: {"combination": Nozzle(key, kind, flow_gpm, tip_in, pressure_psi, stream), …}
├── line: {"crosslay_1": Line(key, name, nicknames, kind, pieces, nozzle, people), …}
├── settings, each a table of plain numbers: hydraulics, standpipe, limits, hydrant, rural, drafting, fire_flow,
│   intervals, air, oxygen, rehab, care   (handlers/rigfile/sections.py)
├── rooms: {"crew": chat id, "officer": …, "driver": …}
├── slang: {"said": "means"}
├── fittings: Fitting(name, kind, ends, count)…
├── readiness: CheckItem(key, group, ask, unit, at_least)…
└── source(path) -> where a value comes from: rig.source("hose.1_75.coefficient"); origin(path) -> "rig file" or
    "book value"

`handlers.rigfile.parse.parse_rig(text, book)` makes one from TOML text. Inside, all is US customary,
whatever the file is written in.
"""

from typing import Literal

import msgspec

from handlers.rigfile.sections import (
    Air,
    Care,
    Drafting,
    FireFlow,
    HydrantSection,
    Hydraulics,
    Intervals,
    Limits,
    NonNegative,
    Oxygen,
    Positive,
    RehabSection,
    Rural,
    Share,
    Standpipe,
    Struct,
)

UNSOURCED = "rig file"
BOOK = "book value"
"""What a value is called that the rig file doesn't give."""


class Seat(Struct, frozen=True):
    """One riding position: its role (driver, officer, firefighter …) and, where wanted, a name."""

    role: str
    name: str | None = None


class Tank(Struct, frozen=True):
    """The booster tank: what it holds, what of it can be used, and what its piping lets through to the pump."""

    capacity_gal: Positive
    to_pump_gpm: Positive
    usable_share: Share = 1.0

    @property
    def usable_gal(self) -> float:
        return self.capacity_gal * self.usable_share


class PumpPoint(Struct, frozen=True):
    """One point of the pump's acceptance test: share of rated capacity at a net pump pressure."""

    net_psi: Positive
    share: Share


class RatedPump(Struct, frozen=True):
    """The fire pump: rated capacity and the points it is tested at, in rising order of pressure."""

    rated_gpm: Positive
    points: tuple[PumpPoint, ...]


class HoseKind(Struct, frozen=True):
    """Pressures for one kind of hose: caution above the operating pressure, refusal above the service-test pressure."""

    operating_psi: Positive
    test_psi: Positive


class Hose(Struct, frozen=True):
    """One size of hose. `nozzle`: assumed for a line named only by this hose; null: then it is asked."""

    key: str
    diameter_in: Positive
    coefficient: Positive
    kind: str
    coupling_in: Positive | None = None
    nozzle: str | None = None
    carried_ft: NonNegative = 0.0
    piece_ft: Positive = 50.0
    flow_tested: bool = False
    newer_coefficient: Positive | None = None
    names: tuple[str, ...] = ()
    own: bool = False
    """The department's own file names it (set by the parser), not only the book."""


class RigNozzle(Struct, frozen=True):
    """A nozzle: fog by its rated flow, smooth bore by its tip; `stream` says hand line or master stream."""

    key: str
    kind: Literal["fog", "smooth"]
    pressure_psi: Positive
    flow_gpm: Positive | None = None
    tip_in: Positive | None = None
    stream: Literal["hand", "master"] = "hand"
    name: str = ""


class Piece(Struct, frozen=True):
    """A length of one hose inside a rig line, pump end first."""

    hose: str
    length_ft: Positive


class Line(Struct, frozen=True):
    """A line as the rig carries it. A gun is pre-piped: it has no pieces of hose."""

    key: str
    name: str
    kind: Literal["handline", "gun", "supply", "high_rise"] = "handline"
    nicknames: tuple[str, ...] = ()
    pieces: tuple[Piece, ...] = ()
    nozzle: str | None = None
    people: int | None = None

    @property
    def length_ft(self) -> float:
        return sum(piece.length_ft for piece in self.pieces)


class End(Struct, frozen=True):
    """One end of a fitting: nominal size, coupling ("storz" or a thread such as "NH"), and gender (null: sexless)."""

    size_in: Positive
    coupling: str
    gender: Literal["male", "female"] | None = None


class CarriedFitting(Struct, frozen=True):
    """An adapter, wye, siamese or valve of the rig's inventory; the first end is towards the pump or hydrant."""

    name: str
    kind: Literal["adapter", "wye", "siamese", "valve", "cap"]
    ends: tuple[End, ...]
    count: int = 1


class CheckItem(Struct, frozen=True):
    """One question of the daily check: answered yes or no, or with a number in `unit` that must reach `at_least`."""

    key: str
    group: str
    ask: str
    unit: str | None = None
    at_least: float | None = None


class Rig(Struct, frozen=True):
    """One engine company. See the module's docstring for the tree."""

    name: str
    department: str
    units: Literal["us", "metric"]
    pressure_unit: Literal["psi", "bar", "kPa"]
    spoken_pressures: Literal["digits", "numbers"]
    call_name: str
    demonstration: bool
    crew: tuple[Seat, ...]
    tank: Tank
    pump: RatedPump
    hose_kind: dict[str, HoseKind]
    hose: dict[str, Hose]
    nozzle: dict[str, RigNozzle]
    line: dict[str, Line]
    hydraulics: Hydraulics
    standpipe: Standpipe
    limits: Limits
    hydrant: HydrantSection
    rural: Rural
    drafting: Drafting
    fire_flow: FireFlow
    intervals: Intervals
    air: Air
    oxygen: Oxygen
    rehab: RehabSection
    care: Care
    rooms: dict[str, str]
    slang: dict[str, str]
    fittings: tuple[CarriedFitting, ...]
    readiness: tuple[CheckItem, ...]
    sources: dict[str, str]
    stated: frozenset[str] = frozenset()
    """Paths of the values that the rig file itself gives; all others are the book's."""
    borrowed: bool = False
    """Stands in for a company whose own file isn't known: the book's hose, no lines, this company's tank and pump."""

    def source(self, path: str) -> str:
        """Where a value comes from: `rig.source("limits.velocity_ft_s")`; of a table, the book's where it is all the
        book's.
        """
        while path:
            if path in self.sources:
                return self.sources[path]
            if not self.states(path):
                return BOOK
            path = path.rpartition(".")[0]
        return UNSOURCED

    def states(self, path: str) -> bool:
        """Whether the rig file itself gives a value, or any of a table's."""
        return any(given == path or given.startswith(f"{path}.") for given in self.stated)

    def origin(self, *paths: str) -> str:
        """What values are called in an answer: "rig file" where the file gives any of them, else "book value"."""
        return UNSOURCED if any(map(self.states, paths)) else BOOK

    def hose_of(self, diameter_in: float, coupling_in: float | None = None) -> Hose | None:
        """The hose of a diameter, within 3 % (45 mm is 1¾ in): carried, the file's own, nearest, usual coupling."""
        near = [hose for hose in self.hose.values() if abs(hose.diameter_in / diameter_in - 1) <= 0.03]
        if coupling_in is not None:
            near = [hose for hose in near if hose.coupling_in == coupling_in]
        return min(
            near,
            key=lambda hose: (
                hose.carried_ft == 0,
                not hose.own,
                round(abs(hose.diameter_in / diameter_in - 1), 3),
                hose.coupling_in == hose.diameter_in,
            ),
            default=None,
        )

    def line_named(self, name: str) -> Line | None:
        """The line that carries this name, key or nickname, whatever the capitals."""
        wanted = name.casefold()
        for line in self.line.values():
            if wanted in (line.key, line.name.casefold(), *(nick.casefold() for nick in line.nicknames)):
                return line
        return None


SUPPLY_IN = 3.9
"""Hose of this size and more is supply hose, inches (common practice)."""


def carried_as_supply(hose: Hose, rig: Rig) -> bool:
    """The rig carries this hose and means it for supply: by the hose's kind, or as a supply line's."""
    on_lines = {piece.hose for line in rig.line.values() if line.kind == "supply" for piece in line.pieces}
    return hose.key in on_lines or (hose.kind == "supply" and hose.carried_ft > 0)


def is_supply(hose: Hose, rig: Rig) -> bool:
    """Hose that has no nozzle unless one is said (convention 15): carried as supply, else of 4 in and up."""
    return carried_as_supply(hose, rig) or hose.diameter_in >= SUPPLY_IN


def to_builtins(rig: Rig) -> object:
    """The rig as plain dicts and lists, for a fingerprint or a dump."""
    return msgspec.to_builtins(rig)
