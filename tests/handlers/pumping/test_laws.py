"""Laws that hold for every lay, on random ones."""

from __future__ import annotations

import pytest
import scipy.optimize  # noqa: F401 - loaded here, so that no timed example pays for it
from hypothesis import assume, given
from hypothesis import strategies as st

from grammar.commands import FlowAtPressure, SaidLay, SaidNozzle
from handlers.pumping.layout import Appliance, HoseSection, JoinedLines, Outlet, Path, Rise, Split
from handlers.pumping.network import governing, required, ungated
from handlers.rigfile.metric import FT_PER_M, GAL_PER_L, PSI_PER_KPA
from handlers.rigfile.parse import parse_rig
from tests.handlers.pumping.asking import BOOK, DEMO, ENGINE_12, answer, ask, hose, line, pressure

COEFFICIENTS = {1.5: 24.0, 1.75: 15.5, 2.0: 8.0, 2.5: 2.0, 3.0: 0.8, 5.0: 0.08}
WYE = Appliance("wye", 10, 350)

sections = st.builds(
    lambda size, feet: HoseSection(size, feet, COEFFICIENTS[size]),
    st.sampled_from(sorted(COEFFICIENTS)),
    st.floats(20, 600),
)
rises = st.builds(Rise, st.floats(-30, 60))
outlets = st.builds(Outlet, st.floats(40, 330), st.floats(40, 110))
joins = st.builds(lambda legs: JoinedLines(tuple(legs)), st.lists(st.tuples(sections), min_size=2, max_size=3))
pieces = st.lists(st.one_of(sections, sections, joins, rises), min_size=1, max_size=3).map(tuple)
runs = st.builds(Path, pieces, outlets, st.integers(1, 2))


def splits(inner: st.SearchStrategy[Path]) -> st.SearchStrategy[Path]:
    branches = st.lists(inner, min_size=1, max_size=3).map(lambda paths: Split(tuple(paths)))
    return st.builds(lambda before, end: Path((*before, WYE), end), pieces, branches)


lays = st.recursive(runs, splits, max_leaves=5)


@given(sections, rises, outlets, st.floats(1.01, 2))
def test_pressure_rises_with_length_flow_and_height(
    hose_: HoseSection, rise: Rise, nozzle: Outlet, more: float
) -> None:
    def psi(feet: float = 1, flow: float = 1, height: float = 0) -> float:
        section = HoseSection(hose_.hose_in, hose_.length_ft * feet, hose_.coefficient)
        outlet = Outlet(nozzle.flow_gpm * flow, nozzle.nozzle_psi)
        return required(Path((section, Rise(rise.psi + height)), outlet))[0].pressure_psi

    assert psi() < psi(feet=more)
    assert psi() < psi(flow=more)
    assert psi() < psi(height=more)


@given(sections, outlets, st.floats(0.05, 0.95))
def test_a_hose_cut_in_two_changes_nothing(hose_: HoseSection, nozzle: Outlet, where: float) -> None:
    parts = tuple(
        HoseSection(hose_.hose_in, hose_.length_ft * share, hose_.coefficient) for share in (where, 1 - where)
    )
    whole, cut = (required(Path(p, nozzle))[0].pressure_psi for p in ((hose_,), parts))
    assert cut == pytest.approx(whole)
    assert ungated(Path(parts, nozzle), 150).flow_gpm == pytest.approx(ungated(Path((hose_,), nozzle), 150).flow_gpm)


@given(sections, sections, outlets)
def test_a_wye_with_one_leg_is_no_wye_below_350(trunk: HoseSection, leg: HoseSection, nozzle: Outlet) -> None:
    plain = Path((trunk, leg), nozzle)
    wye = Path((trunk, WYE), Split((Path((leg,), nozzle),)))
    assert required(wye)[0].pressure_psi == pytest.approx(required(plain)[0].pressure_psi)
    flow = ungated(plain, 150).flow_gpm
    assume(flow < 350)
    assert ungated(wye, 150).flow_gpm == pytest.approx(flow, rel=1e-6)


@given(sections, st.integers(2, 4), outlets)
def test_equal_lines_side_by_side_have_a_coefficient_of_c_over_n_squared(
    leg: HoseSection, n: int, nozzle: Outlet
) -> None:
    alike = HoseSection(leg.hose_in, leg.length_ft, leg.coefficient / n**2)
    sides, one = (required(Path(p, nozzle))[0].friction_psi for p in ((JoinedLines(((leg,),) * n),), (alike,)))
    assert sides == pytest.approx(one)


@given(lays, st.floats(60, 300))
def test_an_ungated_lay_keeps_every_balance(lay: Path, pump_psi: float) -> None:
    """Flows add up at each split, and along each way to a nozzle the losses and the nozzle take the whole pressure."""
    free = ungated(lay, pump_psi)
    for run in free.runs:
        assert run.flow_gpm >= 0
        if run.flow_gpm == 0:
            continue
        taken = run.pressure_psi
        assert taken <= pump_psi * (1 + 1e-6) + 1e-6
        if not free.in_step:
            assert taken == pytest.approx(pump_psi, rel=1e-6, abs=1e-5)


@given(runs, st.booleans())
def test_the_required_pressure_gives_the_wanted_flow_back(path: Path, wye: bool) -> None:
    """flow_at_pressure inverts pump_pressure to 0.1 %, away from the step of the appliance loss."""
    lay = Path((*path.pieces, WYE), path.end) if wye else path
    top = governing(required(lay)).pressure_psi
    assume(top > 1)
    free = ungated(lay, top)
    assert isinstance(path.end, Outlet)
    assert free.runs[0].flow_gpm == pytest.approx(path.end.flow_gpm, rel=1e-3)


@given(st.floats(60, 320), st.integers(100, 300), st.integers(1, 2), st.integers(-2, 12))
def test_asked_both_ways_round_on_the_rig(gpm: float, feet: int, count: int, floor: int) -> None:
    """The same through the handlers: a wye of equal legs under and over 350 gpm."""
    assume(floor != 0)
    lay = SaidLay(
        (hose(3, 200),), "wye", (line(hose(2.5, feet), count=count, floor=floor, nozzle=SaidNozzle(flow_gpm=gpm)),)
    )
    outcome = ask(pressure(*lay.lines, feed=lay.feed, split="wye"))
    assume(outcome.refused is None)
    back = answer(FlowAtPressure(lays=(lay,), pump_pressure_psi=outcome.answer_json["pump_pressure_psi"]))
    assert back["flow_gpm"] == pytest.approx(gpm * count, rel=1e-3)


METRIC_12 = parse_rig(
    DEMO.replace('units = "us"', 'units = "metric"')
    .replace("capacity_gal = 500", f"capacity_l = {500 / GAL_PER_L}")
    .replace("to_pump_gpm = 500", f"to_pump_lpm = {500 / GAL_PER_L}")
    .replace("flow_gpm = 150", f"flow_lpm = {150 / GAL_PER_L}")
    .replace("pressure_psi = 100", f"pressure_bar = {1 / PSI_PER_KPA}")
    .replace("length_ft = 200", f"length_m = {200 / FT_PER_M}"),
    BOOK,
)


@given(
    st.integers(50, 400), st.integers(1, 3), st.sampled_from([1.5, 1.75, 2.5]), st.floats(60, 200), st.floats(-30, 60)
)
def test_us_and_metric_rigs_agree(feet: int, count: int, size: float, gpm: float, rise: float) -> None:
    command = pressure(line(hose(size, feet), count=count, rise_ft=rise, nozzle=SaidNozzle(flow_gpm=gpm)))
    ours, theirs = ask(command), ask(command, METRIC_12)
    assert ours.answer_json == theirs.answer_json
    if ours.answer_json:
        shown = float(theirs.lead.split(" bar")[0])
        assert shown == pytest.approx(ours.answer_json["pump_pressure_psi"] / PSI_PER_KPA / 100, abs=0.051)


def test_a_rig_written_in_metric_is_the_same_rig() -> None:
    named = pressure(line(name="crosslay_1"))
    ours, theirs = answer(named), answer(named, METRIC_12)
    assert theirs["pump_pressure_psi"] == pytest.approx(ours["pump_pressure_psi"])
    assert theirs["tank_s"] == pytest.approx(ours["tank_s"])
    assert ask(named, METRIC_12).lead == "11.7 bar, 568 L/min, 3:20 of tank"
    assert ENGINE_12.units == "us"
