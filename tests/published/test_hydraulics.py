"""Fireground hydraulics against published examples: each row of hydraulics.json names its source and grade.

Coefficients are inputs of these checks, as each source uses its own; the defaults of the book (bot/rigs/book.toml) are
checked against the set they come from. Rows of grade C corroborate; A and B gate. What is left out says why.
Values that are only remembered stand apart, in tests/from_memory.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import TankTime
from handlers.outcome import Said
from handlers.pumping import hydraulics as hy
from handlers.pumping.layout import Appliance, HoseSection, JoinedLines, Outlet, Rise, Split
from handlers.pumping.layout import Path as Lay
from handlers.pumping.network import required
from handlers.rig import Rig
from handlers.rigfile.metric import COEFFICIENT_US_PER_SI, FT_PER_M, GAL_PER_L, LBF_PER_N, PSI_PER_KPA
from handlers.rigfile.parse import parse_rig
from handlers.scene import Scene
from handlers.water import drafting, fire_flow, hydrant, rural, tank

DATA = json.loads((Path(__file__).parent / "hydraulics.json").read_text(encoding="utf-8"))
RIGS = Path(__file__).parents[2] / "bot" / "rigs"
BOOK: Rig = parse_rig(
    'name = "Engine 3"\ndepartment = "Alder Bay Fire Department"\n', (RIGS / "book.toml").read_text(encoding="utf-8")
)
Given = dict[str, Any]
Check = Callable[[Given, Collection[str]], Given]
CHECKS: dict[str, Check] = {}
"""By topic: what ours gives, under the keys that the row expects; the values that it expects are not shown to it."""


def check(topic: str) -> Callable[[Check], Check]:
    def note(function: Check) -> Check:
        CHECKS[topic] = function
        return function

    return note


def cases(data: Given) -> list[Any]:
    rows = [pytest.param(row, id=f"{row['grade']}-{row['id']}") for row in data["cases"]]
    return rows + [
        pytest.param(None, id=name, marks=pytest.mark.skip(reason=f"left out: {why}"))
        for name, why in data["left_out"].items()
    ]


def differences(row: Given) -> dict[str, tuple[Any, Any]]:
    """By key, what ours gives and what the row expects, where they differ."""
    ours = CHECKS[row["topic"]](row["inputs"], row["expected"].keys())
    rel, margin = row["tolerance"].get("rel", 0), row["tolerance"].get("abs", 0) + 1e-9
    return {
        key: (ours[key], expected)
        for key, expected in row["expected"].items()
        if ours[key] != (expected if isinstance(expected, str | bool) else pytest.approx(expected, rel=rel, abs=margin))
    }


@pytest.mark.parametrize("row", cases(DATA))
def test_published_value(row: Given) -> None:
    assert differences(row) == {}


# --- hose and nozzle


@check("friction_loss")
def _(given: Given, wanted: Collection[str]) -> Given:
    loss = hy.friction_psi(given["C"], given["flow_gpm"], given["length_ft"])
    return dict.fromkeys(wanted, loss)


@check("friction_loss_metric")
def _(given: Given, wanted: Collection[str]) -> Given:
    """The coefficient of a metric rig file, turned to ours: the loss comes out as the metric formula has it."""
    if "C_SI" in wanted:
        return {"C_SI": book_hose(given["hose_mm"] / 25.4).coefficient / COEFFICIENT_US_PER_SI}
    per_100 = 9000 * given["f"] * 100 * 100**2 / given["hose_mm"] ** 5 * 100  # kPa at 100 L/min and 100 m
    psi = hy.friction_psi(
        per_100 * COEFFICIENT_US_PER_SI, given["flow_L_min"] * GAL_PER_L, given["length_m"] * FT_PER_M
    )
    return {"fl_bar": psi / PSI_PER_KPA / 100}


def book_hose(diameter_in: float, coupling_in: float | None = None) -> Any:
    """The book's hose nearest a size (metric sizes are up to 8 % off the inch size they go by)."""
    if coupling_in is not None:
        return BOOK.hose_of(diameter_in, coupling_in)
    return min(BOOK.hose.values(), key=lambda hose: (abs(hose.diameter_in - diameter_in), hose.coupling_in == 3))


@check("coefficient")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "conduit_in" in given:
        return {"C": by_name(given["conduit_in"])}
    hose = book_hose(given["hose_in"], given.get("coupling_in"))
    return {"C": hose.newer_coefficient if given.get("newer") else hose.coefficient}


def by_name(name: str) -> float:
    size, _, rest = name.replace("standpipe ", "standpipe_").partition(" ")
    if size.startswith("standpipe"):
        return BOOK.standpipe.riser_coefficient[size.removeprefix("standpipe_")]
    wide = "3 cpl" in rest.replace("w/", "")
    return float(BOOK.hose["3_wide" if size == "3" and wide else size.replace(".", "_")].coefficient)


@check("coefficient_siamese")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "lay" not in given:
        return {"C": hy.parallel_coefficient([book_hose(given["hose_in"]).coefficient] * given["lines"])}
    names = {"one": 1, "two": 2, "three": 3}
    single: list[float] = []
    for part in given["lay"].split(" + "):
        count, size = part.split(" ", 1)
        key = {"2.5": "2_5", "3 (2.5 cpl)": "3", "3 (3 cpl)": "3_wide"}[size]
        single += [BOOK.hose[key].coefficient] * names[count]
    return {"C": hy.parallel_coefficient(single)}


@check("coefficient_from_test")
def _(given: Given, wanted: Collection[str]) -> Given:
    return {"C": hy.coefficient_from_test(given["flow_gpm"], given["length_ft"], given["fl_measured_psi"])}


@check("smooth_bore_discharge")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "k_us" in given:
        to_metric = 1 / GAL_PER_L / 25.4**2 * math.sqrt(PSI_PER_KPA)
        return {"k_metric_Lmin_mm2_sqrtkPa": hy.smooth_bore_gpm(1, 1, given["k_us"]) * to_metric}
    if "k_in_f_eq_k_sqrt_p" in given:
        constant = given["k_in_f_eq_k_sqrt_p"] / given["tip_in"] ** 2
        return {"nozzle_psi": hy.smooth_bore_psi(given["tip_in"], given["flow_gpm"], constant)}
    constant = 29.84 * given["C"] if "C" in given else BOOK.hydraulics.smooth_constant
    flow = hy.smooth_bore_gpm(given["tip_in"], given["nozzle_psi"], constant)
    assert hy.smooth_bore_tip_in(flow, given["nozzle_psi"], constant) == pytest.approx(given["tip_in"])
    return dict.fromkeys(wanted, flow)


@check("nozzle_equivalence")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "tips_in" in given:
        return {"single_tip_in_exact": hy.equivalent_tip_in(given["tips_in"])}
    if "two_tips_in" in given:
        third = given["target_tip_in"]
        both = hy.equivalent_tip_in(given["two_tips_in"])
        return {"third_tip_in": math.sqrt(third**2 - both**2)}
    flows = [hy.smooth_bore_gpm(tip, 50, 29.7) for tip in (given["target_tip_in"], given["tip_in"])]
    return {"count": round(flows[0] / flows[1], 9)}


@check("nozzle_reaction")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "tip_mm" in given:  # pure momentum: F = ρQv, p = ρv²/2
        velocity = given["flow_m3_min"] / 60 / (math.pi / 4 * (given["tip_mm"] / 1000) ** 2)
        psi = 1000 * velocity**2 / 2 / 1000 * PSI_PER_KPA
        push = hy.smooth_bore_reaction_lbf(given["tip_mm"] / 25.4, psi)
        return {"exit_velocity_m_s": velocity, "force_N": push / LBF_PER_N}
    if given.get("type") == "smooth" and "flow_gpm" in given:
        tip = hy.smooth_bore_tip_in(given["flow_gpm"], given["nozzle_psi"], 29.7)
        return dict.fromkeys(wanted, hy.smooth_bore_reaction_lbf(tip, given["nozzle_psi"]))
    if "tip_in" in given:
        return dict.fromkeys(wanted, hy.smooth_bore_reaction_lbf(given["tip_in"], given["nozzle_psi"]))
    return dict.fromkeys(wanted, hy.fog_reaction_lbf(given["flow_gpm"], given["nozzle_psi"]))


@check("nozzle_pressure")
def _(given: Given, wanted: Collection[str]) -> Given:
    values = BOOK.hydraulics
    psi = {"smooth bore handline": values.smooth_hand_psi, "smooth bore master stream": values.smooth_master_psi}
    return {"nozzle_psi": psi[given["nozzle"]]}


# --- whole lays, through the solver


def one_hose(given: Given) -> HoseSection:
    return HoseSection(given["hose_in"], given["length_ft"], given["C"])


@check("elevation")
def _(given: Given, wanted: Collection[str]) -> Given:
    values = BOOK.hydraulics
    if "hose_in" in given:  # the source adds half a psi a foot and five a floor
        rise = hy.elevation_psi(given.get("floor"), given["elevation_ft"], values.elevation_psi_per_floor, 0.5)
        lay = Lay((one_hose(given), Rise(rise)), Outlet(given["flow_gpm"], given["nozzle_psi"]))
        return {"pdp_psi": required(lay)[0].pressure_psi}
    if "appliances" in given:
        rise = hy.elevation_psi(given["floor"], None, values.elevation_psi_per_floor, 0)
        hose = HoseSection(2.5, 100, given["fl_psi"] / (given["flow_gpm"] / 100) ** 2)
        wye = Appliance("wye", values.appliance_psi, values.appliance_threshold_gpm)
        run = required(Lay((hose, wye, Rise(rise)), Outlet(given["flow_gpm"], 100)))[0]
        return {"total_loss_psi": run.pressure_psi - run.nozzle_psi}
    if "pressure_psi" in given:
        return {"height_ft": given["pressure_psi"] / hy.elevation_psi(None, 1, 5, values.elevation_psi_per_ft)}
    feet = given.get("height_ft", given.get("head_ft"))
    return {"psi": hy.elevation_psi(None, feet, 5, values.elevation_psi_per_ft)}


@check("pdp")
def _(given: Given, wanted: Collection[str]) -> Given:
    hose = HoseSection(1.75, 100, given["fl_total_psi"])
    run = required(Lay((hose,), Outlet(100, 100)))[0]
    return {"nozzle_psi": given["pdp_psi"] - (run.pressure_psi - run.nozzle_psi)}


@check("appliance")
def _(given: Given, wanted: Collection[str]) -> Given:
    values = BOOK.hydraulics
    if "loss_psi" not in wanted:
        return {"pump_psi": values.sprinkler_psi, "inlet_psi": values.eductor_inlet_psi}
    if "count" in given:  # the field rule of that source: 5 psi each
        five = tuple(Appliance(f"wye {n}", 5) for n in range(given["count"]))
        return {"loss_psi": required(Lay(five, Outlet(100, 50)))[0].appliance_psi}
    fixed = {"master stream": values.master_stream_psi, "standpipe": BOOK.standpipe.system_psi}
    if given["appliance"] in fixed:
        return {"loss_psi": fixed[given["appliance"]]}
    wye = Appliance("wye", values.appliance_psi, values.appliance_threshold_gpm)
    return {"loss_psi": required(Lay((wye,), Outlet(given["flow_gpm"], 100)))[0].appliance_psi}


@check("wyed_lines")
def _(given: Given, wanted: Collection[str]) -> Given:
    trunk = HoseSection(given["supply_in"], given["supply_ft"], given["supply_C"])
    leg = Lay((HoseSection(given["attack_in"], given["attack_ft"], given["attack_C"]),), Outlet(150, 100), count=2)
    return {"fl_total_psi": required(Lay((trunk,), Split((leg,))))[0].friction_psi}


@check("siamesed_lines")
def _(given: Given, wanted: Collection[str]) -> Given:
    """The source gives the pair's coefficient; ours is made of two single lines."""
    leg = (HoseSection(given["hose_in"], given["length_ft"], given["C_pair"] * given["lines"] ** 2),)
    run = required(Lay((JoinedLines((leg,) * given["lines"]),), Outlet(given["flow_gpm_total"], 80)))[0]
    return {"fl_psi": run.friction_psi}


@check("standpipe")
def _(given: Given, wanted: Collection[str]) -> Given:
    values = BOOK.hydraulics
    if "floor_height_ft" in given:
        exact = hy.elevation_psi(None, given["floor_height_ft"], 5, values.elevation_psi_per_ft)
        return {"psi_per_floor_exact": exact, "psi_per_floor_used": values.elevation_psi_per_floor}
    rise = Rise(hy.elevation_psi(None, given["height_ft"], 5, values.elevation_psi_per_ft))
    return {"pdp_psi": required(Lay((rise,), Outlet(250, given["outlet_psi"])))[0].pressure_psi}


# --- pump


def capacity(rated_gpm: float, net_psi: float) -> float:
    return hy.pump_capacity_gpm(rated_gpm, [(point.net_psi, point.share) for point in BOOK.pump.points], net_psi)


@check("pump_rating")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "percent_capacity" in given:
        net = next(point.net_psi for point in BOOK.pump.points if point.share == given["percent_capacity"] / 100)
        return {"net_psi": net}
    if "max_prime_s" in wanted:
        told = drafting.CHECKLISTS["lost_prime"][-1]
        return {"max_prime_s": int(told.split("no water in ")[1].split(" s")[0]) if given["rated_gpm"] < 1500
                else int(told.split("(")[1].split(" s")[0])}  # fmt: skip
    if "rated_lift_ft" in wanted:
        values = BOOK.drafting
        first = BOOK.pump.points[0].net_psi
        return {"rated_lift_ft": values.rated_lift_ft, "suction_hose_ft": values.suction_ft, "net_psi": first}
    return {f"gpm_at_{psi}": capacity(given["rated_gpm"], psi) for psi in (150, 200, 250)}


@check("net_pump_pressure")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "lift_ft" in given:
        loss = given["suction_loss_ft"]
        return {"npdp_psi": hy.net_pump_pressure_at_draft_psi(given["pdp_psi"], given["lift_ft"], loss)}
    return {"npdp_psi": hy.net_pump_pressure_psi(given["pdp_psi"], given["intake_psi"])}


@check("hose_test")
def _(given: Given, wanted: Collection[str]) -> Given:
    kind = BOOK.hose_kind[given["hose"].split("/")[0]]
    return {"min_service_test_psi": kind.test_psi, "test_psi": kind.test_psi, "service_test_psi": kind.test_psi,
            "operating_psi": kind.operating_psi}  # fmt: skip


@check("relay")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "min_rated_gpm" in wanted:
        sizes = (750, 1000, 1250, 1500, 1750, 2000)
        return {"min_rated_gpm": next(size for size in sizes if capacity(size, 185) >= given["flow_gpm"])}
    if "max_distance_ft" in wanted:
        feet = hy.relay_distance_ft(given["C"], given["flow_gpm"], given["pdp_psi"], given["residual_psi"], 0)
        return {"max_distance_ft": feet}
    loss = hy.friction_psi(given["C"], given["flow_gpm"], given["length_ft"])
    return {"fl_psi": loss, "pdp_psi": hy.supply_pressure_psi(loss, 0, given["residual_psi"])}


# --- water


@check("drafting")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "theoretical_lift_ft" in given:
        return {"attainable_lift_ft": given["theoretical_lift_ft"] * BOOK.drafting.attainable_share}
    if "vacuum_inHg" in given:
        return {"lift_ft": drafting.head_ft(given["vacuum_inHg"] * 3.38639 * PSI_PER_KPA)}
    lift = drafting.head_ft(given["atm_psi"])
    return {"max_theoretical_lift_ft": lift, "lift_ft": lift * 2.31 / 2.304}


@check("hydrant_pitot")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "outlet" in given:
        kind = {"smooth, rounded": "rounded", "square, sharp": "square"}[given["outlet"]]
        return {"c": BOOK.hydrant.outlet_coefficients[kind]}
    flow = hydrant.pitot_gpm(given["outlet_in"], given["pitot_psi"], given["c"], BOOK.hydrant.pitot_constant)
    return dict.fromkeys(wanted, flow)


@check("hydrant_available_flow")
def _(given: Given, wanted: Collection[str]) -> Given:
    static, residual, test = given["static_psi"], given["residual_psi"], given["test_flow_gpm"]
    if "desired_psi" in given:
        flow = hydrant.flow_at_residual_gpm(static, residual, test, given["desired_psi"], BOOK.hydrant.exponent)
        return {"flow_gpm_at_20psi": flow}
    return {"pressure_psi": hydrant.residual_at_flow_psi(static, residual, test, given["flow_gpm"])}


@check("hydrant_class")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "rating_residual_psi" in wanted:
        return {"rating_residual_psi": BOOK.hydrant.residual_psi}
    kind = hydrant.hydrant_class(given["flow_gpm_at_20psi"], BOOK.hydrant.classes)
    return {"class": kind.name, "color": kind.colour}


@check("hydrant_percent_drop")
def _(given: Given, wanted: Collection[str]) -> Given:
    percent = hydrant.drop_percent(given["static_psi"], given["residual_psi"])
    more = hydrant.more_same_flows(percent, [(band.up_to_percent, band.more) for band in BOOK.hydrant.drop_bands])
    return {"percent_drop": percent, "additional_same_volumes": more,
            "additional_gpm": more * given.get("flowing_gpm", 0)}  # fmt: skip


@check("fire_flow")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "nff_raw_gpm" in given:
        return {"nff_gpm": fire_flow.iso_rounded_gpm(given["nff_raw_gpm"])}
    if "area_ft2" in given:
        exposure = given.get("X_plus_P", given.get("X", 0) + given.get("P", 0))
        return dict.fromkeys(wanted, fire_flow.iso_gpm(given["area_ft2"], given["F"], given["O"], exposure))
    if "height_ft" in given:
        return {"nff_gpm": fire_flow.volume_hundredth_gpm(given["length_ft"] * given["width_ft"], given["height_ft"])}
    share = BOOK.fire_flow.exposure_share
    flow = fire_flow.area_third_gpm(
        given["length_ft"] * given["width_ft"], given.get("floors", 1), given["involvement_pct"] / 100,
        given.get("exposures", 0), share,
    )  # fmt: skip
    return {"nff_gpm": flow}


@check("rural_supply")
def _(given: Given, wanted: Collection[str]) -> Given:
    if "duration_min" in given:  # as much as lasts so long at that flow
        asked = TankTime(flow_gpm=given["flow_gpm"], tank_gal=1000)
        outcome = tank.tank_time(asked, Scene(), BOOK, Said(at=datetime(2026, 3, 1, tzinfo=UTC), live=False))
        return {"gal": 1000 * given["duration_min"] * 60 / outcome.answer_json["tank_s"]}
    volume = given.get("volume_ft3") or given["length_ft"] * given["width_ft"] * given["height_ft"]
    values = BOOK.rural
    gal = fire_flow.minimum_supply_gal(
        volume, given["OHC"], given["CCN"], exposed=given["exposure"], factor=values.exposure_factor,
        floor_gal=values.minimum_gal, exposed_floor_gal=values.minimum_exposed_gal,
    )  # fmt: skip
    return {"min_gal": gal}


@check("tender_shuttle")
def _(given: Given, wanted: Collection[str]) -> Given:
    values = BOOK.rural
    if "avg_speed_mph" in given:
        return {"X_min_per_mile": values.travel_min_per_mile}
    if "distance_mi" in given:
        return {
            "travel_min": rural.travel_min(given["distance_mi"], values.travel_base_min, values.travel_min_per_mile)
        }
    if "cycle_min" in given:
        gpm = rural.delivery_gpm(given["tank_gal"], given["cycle_min"], values.usable_share)
        return {"gpm": gpm, "delivered_gal": gpm * given["cycle_min"]}
    out, back = (rural.travel_min(given[key]) for key in ("d1_mi", "d2_mi"))
    cycle = rural.cycle_min(given["fill_min"], given["dump_min"], out, back)
    return {"t1_min": out, "t2_min": back, "gpm": rural.delivery_gpm(given["tank_gal"], cycle)}


@check("volume")
def _(given: Given, wanted: Collection[str]) -> Given:
    return {"gal": hy.hose_volume_gal(given["hose_in"], given["length_ft"])}
