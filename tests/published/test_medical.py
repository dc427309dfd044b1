"""Scales, units, ranges, formats and element names of the medical call against published values, with sources."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

from grammar.commands import Arrest, Vitals
from handlers.care import CATEGORIES
from handlers.medical.elements import NAMES
from handlers.medical.hand_over import FORMATS
from handlers.medical.procedures import TRIES
from handlers.medical.ranges import BY_FIELD, doubts
from handlers.medical.resuscitation import cpr_share, no_flow_s
from handlers.medical.scales import (
    apgar,
    celsius,
    gcs_total,
    kilograms,
    mean_pressure,
    mmol_per_l,
    pulse_pressure,
    rule_of_nines,
    shock_index,
)
from tests.handlers.fireground import Fireground, clock_time, demo_rig

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row for row in json.loads((Path(__file__).parent / "medical.json").read_text(encoding="utf-8"))
}


def rows(prefix: str) -> list[Any]:
    return [pytest.param(row["inputs"], row["expected"], id=key) for key, row in ROWS.items() if key.startswith(prefix)]


@pytest.mark.parametrize(("given", "expected"), rows("GCS"))
def test_coma_scale_is_the_sum(given: dict[str, float], expected: float) -> None:
    assert gcs_total(Vitals(**{f"gcs_{part}": value for part, value in given.items()})) == expected  # type: ignore[arg-type]


@pytest.mark.parametrize(("given", "expected"), rows("MAP"))
def test_mean_pressure(given: dict[str, float], expected: float) -> None:
    assert mean_pressure(**given) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(("given", "expected"), rows("PP"))
def test_pulse_pressure(given: dict[str, float], expected: float) -> None:
    assert pulse_pressure(**given) == expected


@pytest.mark.parametrize(("given", "expected"), rows("SI"))
def test_shock_index(given: dict[str, float], expected: float) -> None:
    assert shock_index(**given) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("given", "expected"), rows("NINES"))
def test_rule_of_nines(given: dict[str, Any], expected: float) -> None:
    assert rule_of_nines(given["burned"], given["child"]).percent == expected


@pytest.mark.parametrize(("given", "expected"), rows("APGAR"))
def test_apgar_is_the_sum_of_its_parts(given: dict[str, list[float]], expected: float) -> None:
    assert apgar(given["parts"]) == expected


def test_units_are_turned() -> None:
    for key in ("MMOL-42", "MMOL-126"):
        assert mmol_per_l(ROWS[key]["inputs"]["mg_dl"]) == pytest.approx(ROWS[key]["expected"], abs=0.005)
    assert celsius(ROWS["TEMP-101"]["inputs"]["f"]) == pytest.approx(ROWS["TEMP-101"]["expected"], abs=0.05)
    assert kilograms(ROWS["KG-180"]["inputs"]["lb"]) == pytest.approx(ROWS["KG-180"]["expected"], abs=0.05)


@pytest.mark.parametrize(("given", "expected"), rows("RANGE"))
def test_outside_the_permitted_range_it_is_asked(given: dict[str, str], expected: list[float]) -> None:
    sign = BY_FIELD[given["field"]]
    assert ([sign.low, sign.high], sign.element) == (expected, given["element"])
    low, high = expected
    for value, doubtful in ((low, False), (high, False), (high + 1, True), (low - 1, True)):
        assert bool(doubts(Vitals(**{given["field"]: value}))) is doubtful  # type: ignore[arg-type]


def test_categories_and_levels_are_the_standards() -> None:
    assert list(CATEGORIES) == ROWS["TRIAGE"]["expected"]
    assert list(TRIES) == ROWS["TRIES"]["expected"]
    levels = next(part for part in get_args(get_type_hints(Vitals)["avpu"]) if get_args(part))
    assert list(get_args(levels)) == ROWS["AVPU"]["expected"]


@pytest.mark.parametrize(("name", "order"), rows("HAND"))
def test_a_hand_over_goes_in_the_published_order(name: str, order: list[str]) -> None:
    assert [title.split()[0].casefold() for title, _ in FORMATS[name]] == order


def test_intervals_are_the_published_ones() -> None:
    intervals = demo_rig().intervals
    assert {name: getattr(intervals, name) for name in ROWS["INTERVALS"]["expected"]} == ROWS["INTERVALS"]["expected"]


def test_element_names_are_the_standards() -> None:
    for element, name in ROWS["ELEMENTS"]["expected"].items():
        assert NAMES[element] == name


def test_an_arrests_timeline_by_hand() -> None:
    """09:10 CPR, 09:12 to 09:12:20 paused for a check with a shock at 09:12:10, 09:14:30 epinephrine, 09:20 pulses.

    Ten minutes of CPR, 20 s without: 580 of 600 s, 96.7 %.
    """
    ground = Fireground()
    for when, action in (
        ("09:10", "cpr_started"), ("09:12", "cpr_paused"), ("09:12:10", "shock"), ("09:12:20", "cpr_started"),
        ("09:14:30", "epinephrine"), ("09:20", "pulses_back"),
    ):  # fmt: skip
        ground.at(when, Arrest(action=action, joules=200 if action == "shock" else None))  # type: ignore[arg-type]
    state = ground.scene.arrest
    assert state is not None
    assert (state.started_at, state.shocks, state.joules) == (clock_time("09:10"), (clock_time("09:12:10"),), (200,))
    assert state.doses == (clock_time("09:14:30"),)
    assert no_flow_s(state, ground.now) == 20
    assert cpr_share(state, ground.now) == pytest.approx(580 / 600)
