"""Air, oxygen, PAR, rehab and arrest intervals against published facts; each row of the data file names its source.

Rows of `source_kind` "memory" are arithmetic on the published ones or recalled, as the row says.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import Arrest, OxygenTime, Par
from handlers.errors import Refusal
from handlers.events import BenchmarkReported, UnitJoined
from handlers.incident.accountability import outstanding
from handlers.incident.air import measured_rate, minutes_until, rate_from_table
from handlers.medical.arrest import arrest_reminders
from handlers.medical.oxygen import oxygen_minutes
from handlers.rigfile.sections import Cylinder
from handlers.scene import Gauge
from tests.handlers.fireground import DAY, Fireground, clock_time, demo_rig, seconds

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in json.loads((Path(__file__).parent / "people_air_medical.json").read_text(encoding="utf-8"))
}


def rows(prefix: str) -> list[Any]:
    return [pytest.param(row["inputs"], row["expected"], id=key) for key, row in ROWS.items() if key.startswith(prefix)]


@pytest.mark.parametrize(("given", "expected"), rows("AIR-Q") + rows("AIR-03"))
def test_minutes_by_breathing_rate(given: dict[str, float], expected: dict[str, float]) -> None:
    cylinder = Cylinder(
        pressure_psi=given["rated_psi"], rated_min=30, air_l=given["litres_full"], alarm_psi=given["alarm_psi"]
    )
    rate = rate_from_table(cylinder, given["L_per_min"])
    assert minutes_until(cylinder.alarm_psi, given["start_psi"], rate) == pytest.approx(
        expected["min_to_alarm"], abs=0.05
    )
    if "min_total" in expected:
        assert minutes_until(0, given["start_psi"], rate) == pytest.approx(expected["min_total"], abs=0.06)


def test_two_gauge_readings_give_the_rate() -> None:
    given, expected = ROWS["AIR-04"]["inputs"], ROWS["AIR-04"]["expected"]
    gauges = tuple(Gauge(DAY + seconds(60 * minute), psi) for minute, psi in given["gauge"])
    rate = measured_rate(gauges)
    assert rate == pytest.approx(expected["psi_per_min"])
    assert rate is not None
    last = gauges[-1].psi
    assert minutes_until(given["alarm_psi"], last, rate) == pytest.approx(expected["min_to_alarm_from_last"], abs=0.05)
    assert minutes_until(0, last, rate) == pytest.approx(expected["min_to_empty_from_last"], abs=0.05)


@pytest.mark.parametrize(("given", "expected"), rows("AIR-MIN"))
def test_rated_minutes_are_at_forty_litres(given: dict[str, float], expected: dict[str, float]) -> None:
    litres = given["rated_min"] * ROWS["AIR-01"]["expected"]
    assert litres == expected["litres_at_least"]
    for cylinder in demo_rig().air.cylinders:
        assert cylinder.air_l == cylinder.rated_min * ROWS["AIR-01"]["expected"]


@pytest.mark.parametrize(("given", "expected"), rows("LA-"))
def test_low_air_alarm_of_each_cylinder_is_the_printed_third(
    given: dict[str, float], expected: dict[str, float]
) -> None:
    (cylinder,) = (c for c in demo_rig().air.cylinders if c.pressure_psi == given["rated_psi"])
    assert cylinder.alarm_psi == expected["printed_33"]


@pytest.mark.parametrize(
    ("given", "expected"), [row for row in rows("OX-") if "psi" in row.values[0] and row.id != "OX-ZERO"]
)
def test_oxygen_minutes(given: dict[str, Any], expected: dict[str, float]) -> None:
    assert oxygen_minutes(given["psi"], given["factor"], given["L_per_min"], given["residual"]) == pytest.approx(
        expected["minutes"], abs=0.05
    )
    told = Fireground().at(
        "10:00", OxygenTime(cylinder=given["cylinder"], gauge_psi=given["psi"], flow_lpm=given["L_per_min"])
    )
    assert told.answer_json["minutes"] == pytest.approx(expected["minutes"], abs=0.05)
    assert told.answer_json["factor"] == given["factor"]


def test_oxygen_at_no_flow_is_refused() -> None:
    given = ROWS["OX-ZERO"]["inputs"]
    with pytest.raises(Refusal):
        Fireground().at(
            "10:00", OxygenTime(cylinder=given["cylinder"], gauge_psi=given["psi"], flow_lpm=given["L_per_min"])
        )


@pytest.mark.parametrize(("given", "expected"), rows("OX-MIN"))
def test_pressure_for_a_wanted_time_inverts_the_minutes(given: dict[str, Any], expected: dict[str, float]) -> None:
    factor = demo_rig().oxygen.factors[given["cylinder"]]
    assert oxygen_minutes(expected["psi"], factor, given["need_L_per_min"], 200) == pytest.approx(
        given["minutes"], rel=1e-3
    )


def test_arrest_clock() -> None:
    given, expected = ROWS["CPR-06"]["inputs"], ROWS["CPR-06"]["expected"]
    ground = Fireground()
    ground.at(given["cpr_start"], Arrest(action="cpr_started"))
    checks = [r.at for r in arrest_reminders(ground.scene, ground.rig, ground.now) if r.name == "rhythm_check"]
    assert checks[: given["count"]] == [clock_time(text) for text in expected]
    assert ground.rig.intervals.rhythm_check_min == ROWS["CPR-01"]["expected"]


def test_epinephrine_window() -> None:
    given, expected = ROWS["CPR-07"]["inputs"], ROWS["CPR-07"]["expected"]
    ground = Fireground()
    ground.at("09:10", Arrest(action="cpr_started"))
    ground.at(given["epi_at"], Arrest(action="epinephrine"))
    window = [r.at for r in arrest_reminders(ground.scene, ground.rig, ground.now) if r.name == "epi_window"]
    assert window == [clock_time(text) for text in expected["window"]]
    assert [ground.rig.intervals.epi_from_min, ground.rig.intervals.epi_to_min] == ROWS["CPR-02"]["expected"][:2]


def test_par_by_numbers() -> None:
    given, expected = ROWS["PAR-04"]["inputs"], ROWS["PAR-04"]["expected"]
    ground = Fireground()
    for unit, staffing in given["units"].items():
        ground.happens("14:00", UnitJoined(unit=unit, staffing=staffing), unit=unit)
        ground.happens("14:01", BenchmarkReported(benchmark="on_scene", unit=unit), unit=unit)
    ground.at("14:20", Par(request=True))
    for unit, count in given["replies"].items():
        ground.at("14:21", Par(unit=unit, count=count), unit=unit)
    silent, short = outstanding(ground.scene.par)
    assert silent == expected["silent"]
    assert short == list(expected["short"])
    assert bool(silent or short) is not expected["complete"]


def test_default_intervals_are_the_published_ones() -> None:
    rig = demo_rig()
    assert rig.intervals.par_min == ROWS["PAR-03"]["expected"]
    assert rig.rehab.work_min == ROWS["RH-02"]["expected"]
    assert ROWS["RH-03"]["expected"][0] <= rig.rehab.rest_min <= ROWS["RH-03"]["expected"][1]
