"""The one solver for every lay: wanted flows to pressures in closed form, a pump pressure to the flows of an open lay.

Both give a `Run` for every different nozzle: its flow, and the losses of each piece on its way from the pump.
"""

import math
from collections.abc import Callable, Iterator
from typing import TypeAlias

from handlers.pumping.layout import (
    Appliance,
    Eductor,
    HoseSection,
    JoinedLines,
    LayPart,
    Outlet,
    Path,
    Piece,
    Rise,
    Split,
)

STEP_TOLERANCE_PSI = 1e-6


class Passage(LayPart, frozen=True):
    """One piece with the water that goes through it."""

    piece: Piece
    flow_gpm: float
    loss_psi: float


class Run(LayPart, frozen=True):
    """The way to one nozzle (or to `count` equal ones)."""

    path: Path
    """The last path, with the nozzle."""
    outlet: Outlet
    count: int
    flow_gpm: float
    nozzle_psi: float
    passages: tuple[Passage, ...]
    """From the pump to the nozzle."""

    def _sum(self, *kinds: type[LayPart]) -> float:
        return sum(passage.loss_psi for passage in self.passages if isinstance(passage.piece, kinds))

    @property
    def friction_psi(self) -> float:
        return self._sum(HoseSection, JoinedLines)

    @property
    def appliance_psi(self) -> float:
        return self._sum(Appliance, Eductor)

    @property
    def elevation_psi(self) -> float:
        return self._sum(Rise)

    @property
    def pressure_psi(self) -> float:
        """The pump pressure that this nozzle asks for."""
        return self.nozzle_psi + sum(passage.loss_psi for passage in self.passages)


class Ungated(LayPart, frozen=True):
    """What an ungated lay does at a pump pressure. `in_step`: the pressure lies inside an appliance's step of loss."""

    runs: tuple[Run, ...]
    in_step: bool = False

    @property
    def flow_gpm(self) -> float:
        return sum(run.count * run.flow_gpm for run in self.runs)


def required(path: Path) -> tuple[Run, ...]:
    """The runs of a lay, every nozzle at its wanted flow; the highest `pressure_psi` governs, the others are gated."""
    return tuple(_runs(path, _targets(path)))


def governing(runs: tuple[Run, ...]) -> Run:
    """The run that asks for the highest pressure."""
    return max(runs, key=lambda run: run.pressure_psi)


def ungated(path: Path, pump_psi: float) -> Ungated:
    """The flows of a lay with all valves open at a pump pressure. A nozzle too high for the pressure flows nothing."""
    flows, in_step = _share(path, pump_psi)
    return Ungated(tuple(_runs(path, flows)), in_step)


def back_pressure_psi(run: Run) -> float | None:
    """What an eductor on the way has to push against; None without one."""
    behind = run.nozzle_psi
    for passage in reversed(run.passages):
        if isinstance(passage.piece, Eductor):
            return behind
        behind += passage.loss_psi
    return None


# --- flows to losses

Flows: TypeAlias = "float | tuple[Flows, ...]"
"""The flow of each nozzle in the shape of the lay: a number for a path to a nozzle, one `Flows` a branch of a split."""


def _targets(path: Path) -> Flows:
    if isinstance(path.end, Outlet):
        return path.end.flow_gpm
    return tuple(_targets(branch) for branch in path.end.branches)


def _total(path: Path, flows: Flows) -> float:
    """Flow through one such path."""
    if isinstance(path.end, Split) and isinstance(flows, tuple):
        return sum(branch.count * _total(branch, part) for branch, part in zip(path.end.branches, flows, strict=True))
    assert isinstance(flows, float | int)
    return flows


def _runs(path: Path, flows: Flows, before: tuple[Passage, ...] = (), count: int = 1) -> Iterator[Run]:
    flow = _total(path, flows)
    passages = before + tuple(Passage(piece, flow, _loss(piece, flow)) for piece in path.pieces)
    count *= path.count
    if isinstance(path.end, Split) and isinstance(flows, tuple):
        for branch, part in zip(path.end.branches, flows, strict=True):
            yield from _runs(branch, part, passages, count)
        return
    assert isinstance(path.end, Outlet)
    nozzle_psi = path.end.resistance * flow**2
    if any(isinstance(passage.piece, Eductor) for passage in passages):
        passages = _with_eductor(passages, nozzle_psi)
    yield Run(path, path.end, count, flow, nozzle_psi, passages)


def _loss(piece: Piece, flow_gpm: float) -> float:
    if isinstance(piece, HoseSection | JoinedLines):
        return piece.resistance * flow_gpm**2
    if isinstance(piece, Appliance):
        return piece.loss_psi if flow_gpm >= piece.from_gpm and flow_gpm > 0 else 0.0
    if isinstance(piece, Rise):
        return piece.psi
    return 0.0


def _with_eductor(passages: tuple[Passage, ...], nozzle_psi: float) -> tuple[Passage, ...]:
    """The eductor takes whatever is over between its inlet pressure and what lies behind it."""
    behind, out = nozzle_psi, []
    for passage in reversed(passages):
        if isinstance(passage.piece, Eductor):
            passage = Passage(passage.piece, passage.flow_gpm, max(0.0, passage.piece.inlet_psi - behind))
        behind += passage.loss_psi
        out.append(passage)
    return tuple(reversed(out))


# --- pressure to flows


def _share(path: Path, inlet_psi: float) -> tuple[Flows, bool]:
    """Each nozzle's flow for a pressure at the path's inlet; True when that pressure lies inside a step of loss."""
    if isinstance(path.end, Outlet):
        return _flow_of_run(path, inlet_psi)
    split = path.end

    def excess(split_psi: float) -> float:
        flow = sum(branch.count * _total(branch, _share(branch, split_psi)[0]) for branch in split.branches)
        return split_psi + sum(_loss(piece, flow) for piece in path.pieces) - inlet_psi

    height = sum(piece.psi for piece in path.pieces if isinstance(piece, Rise))
    split_psi = _split_psi(excess, min(_dry_psi(branch) for branch in split.branches), inlet_psi - height)
    parts = [_share(branch, split_psi) for branch in split.branches]
    flows = tuple(flow for flow, _ in parts)
    off = abs(excess(split_psi)) > STEP_TOLERANCE_PSI * max(1.0, inlet_psi) and _total(path, flows) > 0
    return flows, off or any(in_step for _, in_step in parts)


def _dry_psi(path: Path) -> float:
    """The pressure at a path's inlet below which nothing flows: its height and fixed losses to the lowest nozzle."""
    end = 0.0 if isinstance(path.end, Outlet) else min(_dry_psi(branch) for branch in path.end.branches)
    for piece in path.pieces:
        if isinstance(piece, Rise):
            end += piece.psi
        elif isinstance(piece, Appliance) and not piece.from_gpm:
            end += piece.loss_psi
    return end


def _split_psi(excess: Callable[[float], float], lowest: float, highest: float) -> float:
    """The pressure at a split for which the losses add up; where a step has none, the side just under it.

    It lies between `lowest`, where nothing flows on, and `highest`, where nothing is lost before it.
    """
    from scipy.optimize import brentq  # here, because it takes longer to load than most questions to answer

    if highest <= lowest or excess(lowest) >= 0:
        return lowest
    if excess(highest) <= 0:
        return highest
    root, back = float(brentq(excess, lowest, highest, xtol=1e-9, rtol=1e-13)), 1e-12 * max(1.0, abs(highest))
    while excess(root) > STEP_TOLERANCE_PSI:
        root, back = root - back, 2 * back
    return root


def _flow_of_run(path: Path, inlet_psi: float) -> tuple[float, bool]:
    """Flow of a path that ends in a nozzle, in closed form: R·Q² + fixed = pressure, with the appliances' steps.

    Inside a step (the loss at its flow would ask for more pressure than there is) the flow stays just under the step.
    """
    assert isinstance(path.end, Outlet)
    whole = path.end.resistance
    fixed = 0.0
    steps: list[tuple[float, float]] = []
    for piece in path.pieces:
        if isinstance(piece, HoseSection | JoinedLines):
            whole += piece.resistance
        elif isinstance(piece, Rise):
            fixed += piece.psi
        elif isinstance(piece, Appliance):
            if piece.from_gpm > 0:
                steps.append((piece.from_gpm, piece.loss_psi))
            else:
                fixed += piece.loss_psi
    for threshold, loss in sorted(steps):
        flow = math.sqrt(max(0.0, inlet_psi - fixed) / whole)
        if flow < threshold:
            return flow, False
        fixed += loss
        if math.sqrt(max(0.0, inlet_psi - fixed) / whole) < threshold:
            return math.nextafter(threshold, 0.0), True
    return math.sqrt(max(0.0, inlet_psi - fixed) / whole), False


def leg_flows(passage: Passage) -> tuple[tuple[HoseSection, float, float], ...]:
    """The hoses of a passage with flow and loss: one for a section, all legs' for a join (equal legs once)."""
    piece = passage.piece
    if isinstance(piece, HoseSection):
        return ((piece, passage.flow_gpm, passage.loss_psi),)
    if isinstance(piece, JoinedLines):
        seen: dict[tuple[HoseSection, ...], float] = dict(zip(piece.legs, piece.flows(passage.flow_gpm), strict=True))
        return tuple((section, flow, section.resistance * flow**2) for leg, flow in seen.items() for section in leg)
    return ()
