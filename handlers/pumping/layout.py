"""A lay as it lies on the ground: pieces in the order of the water, from the pump to each nozzle.

A `Path` is a run of pieces with an end. Pieces are `Section` (hose or pipe), `Join` (lines side by side that come
together again), `Appliance`, `Eductor` and `Rise`. The end is an `Outlet` (nozzle) or a `Split` into more paths.
"""

import math
from typing import Literal, TypeAlias

import msgspec

from handlers.pumping import hydraulics


class LayPart(msgspec.Struct, frozen=True):
    """Base of the pieces of a lay."""


class HoseSection(LayPart, frozen=True):
    """A run of one hose (or of a standpipe's riser)."""

    hose_in: float
    length_ft: float
    coefficient: float
    hose: str = ""
    """Key of the rig's hose; "" for pipe, which has no hose pressure limit."""

    @property
    def resistance(self) -> float:
        return hydraulics.resistance(self.coefficient, self.length_ft)


class JoinedLines(LayPart, frozen=True):
    """Lines from one point to another, side by side: siamesed or dual supply. Each leg may be of several hoses."""

    legs: tuple[tuple[HoseSection, ...], ...]

    @property
    def resistance(self) -> float:
        """1/√R = Σ 1/√Rᵢ: the same loss in every leg, and the flows add."""
        return 1 / sum(1 / math.sqrt(leg_resistance(leg)) for leg in self.legs) ** 2

    def flows(self, flow_gpm: float) -> tuple[float, ...]:
        """How a total flow shares itself between the legs."""
        whole = self.resistance
        return tuple(flow_gpm * math.sqrt(whole / leg_resistance(leg)) for leg in self.legs)


class Appliance(LayPart, frozen=True):
    """A loss that goes by the total flow through it: `loss_psi` from `from_gpm` on, nothing below."""

    name: str
    loss_psi: float
    from_gpm: float = 0.0


class Eductor(LayPart, frozen=True):
    """An in-line foam eductor: it must see its rated inlet pressure, whatever lies behind it."""

    name: str
    inlet_psi: float
    back_share: float


class Rise(LayPart, frozen=True):
    """Pressure for height: positive uphill."""

    psi: float


class Outlet(LayPart, frozen=True):
    """A nozzle by the flow it is wanted to give and the pressure at which it gives it; away from that, Q ∝ √NP."""

    flow_gpm: float
    nozzle_psi: float
    kind: Literal["fog", "smooth"] = "fog"
    tip_in: float | None = None

    @property
    def resistance(self) -> float:
        return self.nozzle_psi / self.flow_gpm**2


Piece: TypeAlias = HoseSection | JoinedLines | Appliance | Eductor | Rise


class Split(LayPart, frozen=True):
    """A wye or manifold: the paths that leave it."""

    branches: tuple["Path", ...]


class Path(LayPart, frozen=True):
    """Pieces and an end; `count` equal paths leave the same point."""

    pieces: tuple[Piece, ...]
    end: Outlet | Split
    count: int = 1
    label: str = ""


def leg_resistance(leg: tuple[HoseSection, ...]) -> float:
    """psi a gpm² of hoses one behind the other."""
    return sum(section.resistance for section in leg)
