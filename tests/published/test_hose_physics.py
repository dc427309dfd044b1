"""Hose and suction against physics computed by a general library: Darcy–Weisbach friction, air and vapour pressure.

The library knows nothing of fire hose: it can't choose between coefficients, but it catches slips of unit and decimal.
"""

from __future__ import annotations

import math

import pytest
from chemicals.iapws import iapws95_Psat
from fluids import ATMOSPHERE_1976, friction_factor

from handlers.pumping import hydraulics as hy
from handlers.rigfile.metric import FT_PER_M, PSI_PER_KPA
from handlers.water import drafting
from tests.published.test_hydraulics import BOOK

RHO, MU = 999.10, 1.138e-3
"""Water of 15 °C: kg/m³, Pa·s."""
RUBBER_M = 0.00001
"""Roughness of smooth rubber, 0.000033 ft (Hydraulic Institute Engineering Data Book)."""


def darcy_psi(diameter_in: float, flow_gpm: float, length_ft: float) -> float:
    """Δp = f·(L/D)·ρv²/2 in a hose of nominal bore."""
    bore, flow = diameter_in * 0.0254, flow_gpm * 6.30902e-5
    velocity = flow / (math.pi / 4 * bore**2)
    factor = friction_factor(Re=RHO * velocity * bore / MU, eD=RUBBER_M / bore)
    return factor * (length_ft / FT_PER_M / bore) * RHO * velocity**2 / 2 / 1000 * PSI_PER_KPA


@pytest.mark.parametrize(
    ("hose", "flows", "within"),
    [
        ("1_5", (60, 125), 0.45),  # the book's 24 lies 20 to 40 % under a smooth bore of 1½ in
        ("1_75", (100, 200), 0.15),
        ("2", (150, 250), 0.20),
        ("2_5", (150, 325), 0.20),
        ("3", (300, 500), 0.15),
        ("4", (500, 1250), 0.20),
        ("5", (500, 2000), 0.31),
    ],
)
def test_friction_is_what_darcy_weisbach_gives(hose: str, flows: tuple[int, int], within: float) -> None:
    """Tolerances as measured for nominal bores: real hose stretches and its lining differs."""
    size = BOOK.hose[hose]
    for step in range(6):
        flow = flows[0] + (flows[1] - flows[0]) * step / 5
        ours = hy.friction_psi(size.coefficient, flow, 100)
        assert darcy_psi(size.diameter_in, flow, 100) == pytest.approx(ours, rel=within), flow


@pytest.mark.parametrize("altitude_ft", [0, 1000, 3000, 5000, 8000, 12000])
def test_air_pressure_by_altitude(altitude_ft: float) -> None:
    library = ATMOSPHERE_1976(altitude_ft / FT_PER_M).P / 1000 * PSI_PER_KPA
    assert drafting.atmosphere_psi(altitude_ft) == pytest.approx(library, rel=0.002)


@pytest.mark.parametrize("water_f", [40, 60, 80, 100, 140, 180, 212])
def test_vapour_pressure_of_water(water_f: float) -> None:
    """Against IAPWS-95."""
    kelvin = (water_f - 32) / 1.8 + 273.15
    assert drafting.vapour_psi(water_f) == pytest.approx(iapws95_Psat(kelvin) / 1000 * PSI_PER_KPA, rel=0.005)


def test_height_of_water_by_density() -> None:
    """0.434 psi a foot is the weight of water."""
    weight = RHO * 9.80665 * 0.3048 / 1000 * PSI_PER_KPA
    assert BOOK.hydraulics.elevation_psi_per_ft == pytest.approx(weight, rel=0.003)
    assert drafting.head_ft(1) == pytest.approx(1 / weight, rel=0.003)
