"""Whole lays against EPANET: wyes with unequal legs, siamese, standpipe, relay, mixed sizes, within 1 %."""

from __future__ import annotations

import random
from pathlib import Path as File

import pytest

from handlers.pumping.layout import Appliance, HoseSection, JoinedLines, Outlet, Path, Rise, Split
from handlers.pumping.network import governing, required, ungated
from tests.published.epanet import nozzle_flows_gpm

TOLERANCE = 0.01


def hose(size: float, feet: float) -> HoseSection:
    return HoseSection(size, feet, {1.5: 24, 1.75: 15.5, 2: 8, 2.5: 2, 3: 0.8, 4: 0.2, 5: 0.08}[size])


FOG_150, FOG_125, SMOOTH = Outlet(150, 100), Outlet(125, 100), Outlet(265.8, 50, "smooth", 1.125)

LAYS = {
    "one line, second floor": Path((hose(1.75, 200), Rise(5)), FOG_150),
    "downhill": Path((hose(2.5, 300), Rise(-17.4)), SMOOTH),
    "two sizes in one line": Path((hose(2.5, 200), hose(1.75, 150)), FOG_150),
    "wye, equal legs": Path((hose(3, 300),), Split((Path((hose(1.75, 100),), FOG_150, count=2),))),
    "wye, unequal legs": Path(
        (hose(2.5, 200),),
        Split((Path((hose(1.75, 100),), FOG_150), Path((hose(1.5, 150), Rise(10)), Outlet(95, 100)))),
    ),
    "manifold, three legs over the step": Path(
        (hose(3, 400), Appliance("manifold", 10)),
        Split(
            (
                Path((hose(1.75, 150),), FOG_150),
                Path((hose(1.75, 200), Rise(10)), FOG_125),
                Path((hose(2.5, 200),), SMOOTH),
            )
        ),
    ),
    "siamese of two 2.5 into one": Path((JoinedLines(((hose(2.5, 300),),) * 2), hose(2.5, 100)), Outlet(328, 50)),
    "siamese of unequal hoses": Path(
        (JoinedLines(((hose(3, 300),), (hose(2.5, 200), hose(2, 50)))), hose(2.5, 50)), SMOOTH
    ),
    "monitor fed by three lines": Path(
        (JoinedLines(((hose(2.5, 200),),) * 3), Appliance("monitor", 25)), Outlet(598, 80)
    ),
    "standpipe, sixth floor": Path((Appliance("standpipe", 25), Rise(25), hose(2.5, 150)), SMOOTH),
    "standpipe with its riser and two lines": Path(
        (hose(3, 100), Appliance("standpipe", 25), HoseSection(6, 50, 0.052)),
        Split((Path((Rise(20), hose(1.75, 150)), FOG_125), Path((Rise(25), hose(2.5, 100)), SMOOTH))),
    ),
    "a wye behind a wye": Path(
        (hose(4, 500),),
        Split(
            (
                Path((hose(2.5, 150),), Split((Path((hose(1.75, 100),), FOG_125, count=2),))),
                Path((hose(2.5, 250),), SMOOTH),
            )
        ),
    ),
    "relay to the next engine, 20 psi left": Path((hose(5, 1500),), Outlet(1000, 20)),
    "relay through two 3 in lines": Path((JoinedLines(((hose(3, 600),),) * 2),), Outlet(800, 20)),
}


def flows(lay: Path, pump_psi: float) -> list[float]:
    return [run.flow_gpm for run in ungated(lay, pump_psi).runs for _ in range(run.count)]


@pytest.mark.parametrize("name", LAYS)
def test_the_required_pressure_gives_the_wanted_flow_in_epanet(name: str, tmp_path: File) -> None:
    """At the governing pressure the governing nozzle flows what was wanted; gated legs are gated by a valve's loss."""
    lay = LAYS[name]
    runs = required(lay)
    top = governing(runs).pressure_psi
    gated = gate(lay, [top - run.pressure_psi for run in runs])
    wanted = [run.outlet.flow_gpm for run in runs for _ in range(run.count)]
    assert nozzle_flows_gpm(gated, top, tmp_path) == pytest.approx(wanted, rel=TOLERANCE)


def gate(lay: Path, losses: list[float]) -> Path:
    """The lay with each line's surplus taken by its gate."""
    if isinstance(lay.end, Outlet):
        loss = losses.pop(0)
        return Path((*lay.pieces, Appliance("gate", loss)), lay.end, lay.count) if loss > 1e-9 else lay
    return Path(lay.pieces, Split(tuple(gate(branch, losses) for branch in lay.end.branches)), lay.count)


@pytest.mark.parametrize("pump_psi", [110, 150, 200])
@pytest.mark.parametrize("name", LAYS)
def test_an_ungated_lay_flows_as_in_epanet(name: str, pump_psi: float, tmp_path: File) -> None:
    assert flows(LAYS[name], pump_psi) == pytest.approx(nozzle_flows_gpm(LAYS[name], pump_psi, tmp_path), rel=TOLERANCE)


def random_lay(chance: random.Random, depth: int = 0) -> Path:
    pieces: list[HoseSection | JoinedLines | Rise] = [hose(chance.choice([2.5, 3, 4]), chance.choice([100, 200, 300]))]
    if chance.random() < 0.3:
        pieces.append(JoinedLines(((hose(2.5, chance.choice([100, 300])),), (hose(3, 200),))))
    if depth < 2 and chance.random() < 0.7:
        branches = tuple(random_lay(chance, depth + 1) for _ in range(chance.choice([2, 3])))
        return Path(tuple(pieces), Split(branches))
    pieces += [hose(1.75, chance.choice([50, 100, 150])), Rise(chance.choice([-5.0, 0.0, 10.0, 25.0]))]
    return Path(tuple(pieces), chance.choice([FOG_150, FOG_125, SMOOTH]), count=chance.choice([1, 1, 2]))


@pytest.mark.parametrize("seed", range(20))
def test_random_lays_flow_as_in_epanet(seed: int, tmp_path: File) -> None:
    chance = random.Random(seed)
    lay, pump_psi = random_lay(chance), chance.uniform(90, 250)
    assert flows(lay, pump_psi) == pytest.approx(nozzle_flows_gpm(lay, pump_psi, tmp_path), rel=TOLERANCE)
