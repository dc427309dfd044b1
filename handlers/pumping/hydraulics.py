"""The formulas of the pump panel as pure functions: psi, gpm, ft, in, lbf, gal; each names its source.

Constants and coefficients are arguments: which one is used is the rig file's business.
"""

import math
from collections.abc import Iterable
from itertools import pairwise

FT_OF_WATER_PER_PSI = 2.3
"""Feet of water a psi as the net-pump-pressure formula rounds it (IFSTA Pumping Apparatus Driver/Operator Handbook)."""


def friction_psi(coefficient: float, flow_gpm: float, length_ft: float) -> float:
    """Friction loss of one hose: FL = C·(Q/100)²·(L/100).

    IFSTA Pumping Apparatus Driver/Operator Handbook, theoretical pressure; City of Rohnert Park (CA), doc 366543.
    """
    return coefficient * (flow_gpm / 100) ** 2 * length_ft / 100


def resistance(coefficient: float, length_ft: float) -> float:
    """psi a gpm² of a hose: the same formula, FL = R·Q²."""
    return coefficient * length_ft / 1e6


def coefficient_from_test(flow_gpm: float, length_ft: float, loss_psi: float) -> float:
    """A hose's coefficient from a flow test: C = FL/((Q/100)²·L/100).

    Fire Apparatus & Emergency Equipment, vol. 23 no. 9, Sept 2018 (the importance of flow testing).
    """
    return loss_psi / ((flow_gpm / 100) ** 2 * length_ft / 100)


def parallel_coefficient(coefficients: Iterable[float]) -> float:
    """One coefficient for hoses of one length laid side by side, for their total flow: 1/√C = Σ 1/√Cᵢ (C/n² if equal).

    Same loss in every hose, flows add; Renton (WA) hydraulics slides print .5 and .22 for two and three 2½ in.
    """
    return 1 / sum(1 / math.sqrt(coefficient) for coefficient in coefficients) ** 2


def smooth_bore_gpm(tip_in: float, nozzle_psi: float, constant: float) -> float:
    """Discharge of a smooth bore: Q = 29.7·d²·√NP (IFSTA; 29.84 is the ideal, Hydraulic Institute Data Book III-D)."""
    return constant * tip_in**2 * math.sqrt(nozzle_psi)


def smooth_bore_psi(tip_in: float, flow_gpm: float, constant: float) -> float:
    """Nozzle pressure that gives a flow through a tip: the discharge formula turned round."""
    return (flow_gpm / (constant * tip_in**2)) ** 2


def smooth_bore_tip_in(flow_gpm: float, nozzle_psi: float, constant: float) -> float:
    """Tip diameter that gives a flow at a nozzle pressure: the discharge formula turned round."""
    return math.sqrt(flow_gpm / (constant * math.sqrt(nozzle_psi)))


def fog_gpm(rated_gpm: float, rated_psi: float, nozzle_psi: float) -> float:
    """Flow of a fog nozzle of fixed opening away from its rated pressure: Q ∝ √NP (the same discharge law)."""
    return rated_gpm * math.sqrt(nozzle_psi / rated_psi)


def smooth_bore_reaction_lbf(tip_in: float, nozzle_psi: float, constant: float = 1.57) -> float:
    """Nozzle reaction, smooth bore: NR = 1.57·d²·NP (P. Shapiro, Tricks of the Trade: Handlines, p. 5)."""
    return constant * tip_in**2 * nozzle_psi


def fog_reaction_lbf(flow_gpm: float, nozzle_psi: float, constant: float = 0.0505) -> float:
    """Nozzle reaction, fog on straight stream: NR = 0.0505·Q·√NP (P. Shapiro, Tricks of the Trade: Handlines, p. 5)."""
    return constant * flow_gpm * math.sqrt(nozzle_psi)


def equivalent_tip_in(tips_in: Iterable[float]) -> float:
    """The one tip that flows as several at one pressure: D = √Σd² (Crauder, Evans, Noell, ch. 2, problem 22)."""
    return math.sqrt(sum(tip_in**2 for tip_in in tips_in))


def elevation_psi(floor: int | None, rise_ft: float | None, psi_per_floor: float, psi_per_ft: float) -> float:
    """Pressure for height: 5 psi × (floor − 1), and 0.434 psi a foot where feet are said; a level below is floor −1.

    IFSTA, theoretical pressure; Honolulu Community College fire hydraulics, chapter 1 (0.434).
    """
    levels = 0 if floor is None else floor - 1 if floor > 0 else floor
    return psi_per_floor * levels + psi_per_ft * (rise_ft or 0.0)


def velocity_ft_s(flow_gpm: float, diameter_in: float) -> float:
    """Speed of the water: v = Q/A = 0.4085·Q/d² (231 in³ a gallon)."""
    return flow_gpm * 231 / 60 / (math.pi / 4 * diameter_in**2) / 12


def hose_volume_gal(diameter_in: float, length_ft: float) -> float:
    """Water that fills a hose: π/4·d²·L/231 = 0.0408·d²·L (NWCG Firefighter Math, table 3.1)."""
    return math.pi / 4 * diameter_in**2 * length_ft * 12 / 231


def net_pump_pressure_psi(discharge_psi: float, intake_psi: float = 0.0) -> float:
    """What the pump itself adds: discharge − intake (IFSTA, ch. 9–10)."""
    return discharge_psi - intake_psi


def net_pump_pressure_at_draft_psi(discharge_psi: float, lift_ft: float, suction_loss_ft: float) -> float:
    """Net pressure from draft: discharge + (lift + suction loss)/2.3, both in feet of water (IFSTA, ch. 9–10)."""
    return discharge_psi + (lift_ft + suction_loss_ft) / FT_OF_WATER_PER_PSI


def pump_capacity_gpm(rated_gpm: float, points: Iterable[tuple[float, float]], net_psi: float) -> float:
    """What a pump is tested to give at a net pressure, straight lines between the test points; 0 above the last.

    Args:
        points: (net psi, share of rated capacity), rising: 100 % at 150, 70 % at 200, 50 % at 250 (NFPA 1911).
    """
    before: tuple[float, float] | None = None
    for psi, share in points:
        if net_psi <= psi:
            if before is None:
                return rated_gpm * share
            along = (net_psi - before[0]) / (psi - before[0])
            return rated_gpm * (before[1] + along * (share - before[1]))
        before = (psi, share)
    return 0.0


def highest_pump_psi(rated_gpm: float, points: Iterable[tuple[float, float]], flow_gpm: float) -> float:
    """The highest net pressure at which a pump is tested to give a flow (`pump_capacity_gpm` turned round); 0: none."""
    known = list(points)
    for (low_psi, more), (high_psi, less) in pairwise(known):
        if rated_gpm * less < flow_gpm <= rated_gpm * more:
            return low_psi + (high_psi - low_psi) * (rated_gpm * more - flow_gpm) / (rated_gpm * (more - less))
    return known[-1][0] if flow_gpm <= rated_gpm * known[-1][1] else 0.0


def supply_pressure_psi(friction: float, elevation: float, residual_psi: float) -> float:
    """Pump pressure to another engine: FL + 20 residual ± elevation (IFSTA relay drill, 1st ed.)."""
    return friction + elevation + residual_psi


def relay_distance_ft(
    coefficient: float, flow_gpm: float, pump_psi: float, residual_psi: float, rise_psi: float
) -> float:
    """How far a pump can push a flow to the next: D = (PDP − 20 − elevation)·100/(C·(Q/100)²) (IFSTA relay drill)."""
    return max(0.0, pump_psi - residual_psi - rise_psi) * 100 / (coefficient * (flow_gpm / 100) ** 2)
