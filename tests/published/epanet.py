"""A lay solved by EPANET (through wntr), to set beside our own solver.

Chezy–Manning head loss is exactly Q², so each hose gets the roughness that its coefficient stands for; nozzles are
emitters of exponent 0.5; a fixed loss is a pressure-breaker valve; height is the elevation of the nodes.
"""

from __future__ import annotations

import math
from pathlib import Path as File

import wntr

from handlers.pumping.layout import Appliance, HoseSection, JoinedLines, Outlet, Path, Piece, Rise

M_PER_PSI = 0.70325
"""Metres of water a psi at EPANET's own 2.307 ft a psi (0.3048 m a foot)."""
M3S_PER_GPM = 6.30902e-5
M_PER_FT = 0.3048


def manning_n(section: HoseSection) -> float:
    """Roughness that stands for a coefficient: h = 4.66·n²·d^−5.33·L·Q² (EPANET 2.2 manual, table 3.1: ft, cfs)."""
    feet_per_cfs2 = section.resistance * (M_PER_PSI / M_PER_FT) * 448.831**2
    return math.sqrt(feet_per_cfs2 * (section.hose_in / 12) ** 5.33 / (4.66 * section.length_ft))


class Network:
    """A wntr model built from a lay."""

    def __init__(self, pump_psi: float) -> None:
        self.model = wntr.network.WaterNetworkModel()
        options = self.model.options.hydraulic
        options.headloss, options.emitter_exponent, options.accuracy, options.trials = "C-M", 0.5, 1e-8, 200
        self.model.add_reservoir("pump", base_head=pump_psi * M_PER_PSI)
        self.made = 0

    def name(self, kind: str) -> str:
        self.made += 1
        return f"{kind}{self.made}"

    def node(self, height_m: float) -> str:
        name = self.name("n")
        self.model.add_junction(name, elevation=height_m)
        return name

    def pipe(self, start: str, section: HoseSection, height_m: float, end: str | None = None) -> str:
        end = end or self.node(height_m)
        self.model.add_pipe(
            self.name("p"), start, end, length=section.length_ft * M_PER_FT, diameter=section.hose_in * 0.0254,
            roughness=manning_n(section),
        )  # fmt: skip
        return end

    def stub(self, start: str, height_m: float) -> str:
        """A way without loss, to a node at another height."""
        end = self.node(height_m)
        self.model.add_pipe(self.name("p"), start, end, length=0.01, diameter=2.0, roughness=0.001)
        return end

    def piece(self, start: str, piece: Piece, height_m: float) -> tuple[str, float]:
        if isinstance(piece, HoseSection):
            return self.pipe(start, piece, height_m), height_m
        if isinstance(piece, JoinedLines):
            end = self.node(height_m)
            for leg in piece.legs:
                at = start
                for section in leg[:-1]:
                    at = self.pipe(at, section, height_m)
                self.pipe(at, leg[-1], height_m, end)
            return end, height_m
        if isinstance(piece, Rise):
            height_m += piece.psi * M_PER_PSI
            return self.stub(start, height_m), height_m
        assert isinstance(piece, Appliance)
        before, after = self.stub(start, height_m), self.node(height_m)
        self.model.add_valve(
            self.name("v"), before, after, diameter=2.0, valve_type="PBV", initial_setting=piece.loss_psi * M_PER_PSI
        )
        return self.stub(after, height_m), height_m

    def path(self, start: str, path: Path, height_m: float, nozzles: list[str]) -> None:
        for _ in range(path.count):
            at, up = start, height_m
            for piece in path.pieces:
                at, up = self.piece(at, piece, up)
            if isinstance(path.end, Outlet):
                k = path.end.flow_gpm * M3S_PER_GPM / math.sqrt(path.end.nozzle_psi * M_PER_PSI)
                self.model.get_node(at).emitter_coefficient = k
                nozzles.append(at)
            else:
                for branch in path.end.branches:
                    self.path(at, branch, up, nozzles)


def nozzle_flows_gpm(lay: Path, pump_psi: float, folder: File) -> list[float]:
    """EPANET's flow of every nozzle, in the order of the lay; appliances must be given with the loss they have."""
    network, nozzles = Network(pump_psi), []
    network.path("pump", lay, 0.0, nozzles)
    results = wntr.sim.EpanetSimulator(network.model).run_sim(str(folder / "lay"))
    demand = results.node["demand"].iloc[0]
    return [float(demand[name]) / M3S_PER_GPM for name in nozzles]
