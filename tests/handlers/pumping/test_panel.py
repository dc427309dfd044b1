"""The panel's first question on the demonstration rig. The numbers are worked by hand: NP + C·(Q/100)²·(L/100) + …"""

from __future__ import annotations

from typing import Any

import pytest

from grammar.commands import PumpPressure, SaidHose, SaidNozzle
from handlers.rigfile.editing import with_coefficient
from handlers.rigfile.parse import parse_rig
from tests.handlers.pumping.asking import BOOK, DEMO, answer, ask, fog, hose, line, pressure, pressures, rig, tip

CASES: list[tuple[str, PumpPressure, dict[str, Any]]] = [
    (
        "two lines, 200 feet, 1.75, second floor",  # 100 + 15.5 × 1.5² × 2 + 5
        pressure(line(hose(1.75, 200), count=2, floor=2)),
        {"pump_pressure_psi": 174.75, "flow_gpm": 300, "tank_s": 100},
    ),
    (
        "crosslay 1, ground floor",
        pressure(line(name="crosslay_1", floor=1)),
        {"pump_pressure_psi": 169.75, "flow_gpm": 150, "tank_s": 200},
    ),
    ("basement: 5 psi less", pressure(line(hose(1.75, 200), floor=-1)), {"pump_pressure_psi": 164.75}),
    ("40 feet uphill: 0.434 a foot", pressure(line(hose(1.75, 200), rise_ft=40)), {"pump_pressure_psi": 187.11}),
    ("30 feet downhill", pressure(line(hose(1.75, 200), rise_ft=-30)), {"pump_pressure_psi": 156.73}),
    ("125 gpm is still 100 psi", pressure(line(hose(1.75, 200), nozzle=SaidNozzle(flow_gpm=125))),
     {"pump_pressure_psi": 148.4375, "flow_gpm": 125}),
    ("a low-pressure fog", pressure(line(hose(1.75, 200), nozzle=fog(150, 75))), {"pump_pressure_psi": 144.75}),
    ("deck gun, pre-piped: 80 + 25", pressure(line(name="deck_gun")), {"pump_pressure_psi": 105, "flow_gpm": 597.70}),
    ("rear line: 29.7 × 1.125² × √50", pressure(line(name="rear_line")),
     {"pump_pressure_psi": 85.3234, "flow_gpm": 265.7948}),
    (
        "wye under 350 gpm: no appliance loss",  # 100 + 0.8 × 3² × 3 + 15.5 × 1.5² × 1
        pressure(line(hose(1.75, 100), count=2), feed=(hose(3, 300),), split="wye"),
        {"pump_pressure_psi": 156.475, "flow_gpm": 300},
    ),
    (
        "wye from 350 gpm: 10 psi",  # 100 + 0.8 × 4² × 3 + 15.5 × 2² × 1 + 10
        pressure(line(hose(1.75, 100), count=2, nozzle=fog(200)), feed=(hose(3, 300),), split="wye"),
        {"pump_pressure_psi": 210.4, "flow_gpm": 400},
    ),
    (
        "siamese: two 2½ into one",  # 100 + 2 × 1² × 3 + 2 × 2² × 1, 200 gpm
        pressure(line(hose(2.5, 300, 2), hose(2.5, 100), nozzle=fog(200))),
        {"pump_pressure_psi": 114, "flow_gpm": 200},
    ),
    (
        "siamese of a 3 in and a 2½",  # C = 1/(1/√0.8 + 1/√2)² = 0.30021; 50 + 0.30021 × 10.768 × 3 + 2 × 10.768
        pressure(line(SaidHose(3, 300, 1, (SaidHose(2.5),)), hose(2.5, 100), nozzle=tip("1 1/4"))),
        {"pump_pressure_psi": 81.2327},
    ),
    ("high-rise pack by its name is off the standpipe", pressure(line(name="high_rise_pack", floor=8)),
     {"pump_pressure_psi": 131.1941}),
    (
        "monitor fed by two 3 in lines: 25 and nothing more",  # 100 + 0.8 × 3² × 3 + 25
        pressure(line(hose(3, 300, 2), nozzle=SaidNozzle(flow_gpm=600), device="monitor")),
        {"pump_pressure_psi": 146.6, "flow_gpm": 600},
    ),
    (
        "monitor with the deck gun's tip when none was said",  # 80 + 2 × (5.977/3)² × 2 + 25
        pressure(line(hose(2.5, 200, 3), device="monitor")),
        {"pump_pressure_psi": 120.8773, "flow_gpm": 597.70},
    ),
    (
        "aerial, 75 feet up: 100 + 25 + 32.55",
        pressure(line(device="aerial", rise_ft=75, nozzle=fog(1000))),
        {"pump_pressure_psi": 157.55, "flow_gpm": 1000},
    ),
    (
        "standpipe, fourth floor: 50 + 2 × 2.658² × 1.5 + 25 + 15",
        pressure(line(hose(2.5, 150), device="standpipe", floor=4, nozzle=tip("1 1/8"))),
        {"pump_pressure_psi": 111.1941},
    ),
    (
        "standpipe with its supply hose: 0.8 × 2.658² × 1 more",
        pressure(line(hose(2.5, 150), device="standpipe", floor=4, nozzle=tip("1 1/8")), feed=(hose(3, 100),)),
        {"pump_pressure_psi": 116.8458},
    ),
    (
        "high-rise pack: the rig's 150 ft of 2½",
        pressure(line(device="high_rise_pack", floor=8)),
        {"pump_pressure_psi": 131.1941},
    ),
    ("sprinkler connection", pressure(line(device="sprinkler")),
     {"pump_pressure_psi": 150, "flow_gpm": None, "tank_s": None, "lines": ()}),
    (
        "foam eductor sees 200 psi whatever lies behind",
        pressure(line(hose(1.75, 200), nozzle=SaidNozzle(flow_gpm=95), device="eductor")),
        {"pump_pressure_psi": 200, "flow_gpm": 95},
    ),
    (
        "hose before the eductor comes on top",  # 200 + 2 × 0.95² × 1
        pressure(line(hose(1.75, 200), nozzle=SaidNozzle(flow_gpm=95), device="eductor"), feed=(hose(2.5, 100),)),
        {"pump_pressure_psi": 201.805},
    ),
    ("cellar nozzle", pressure(line(hose(2.5, 200), nozzle=SaidNozzle(kind="cellar"))),
     {"pump_pressure_psi": 125, "flow_gpm": 250}),
    (
        "a total shared out",
        pressure(line(hose(1.75, 200), count=2, nozzle=SaidNozzle(flow_gpm=300, flow_is_total=True))),
        {"pump_pressure_psi": 169.75, "flow_gpm": 300},
    ),
    ("two sizes in one line", pressure(line(hose(2.5, 200), hose(1.75, 100))), {"pump_pressure_psi": 143.875}),
    ("with intake there is no tank clock", pressure(line(hose(1.75, 200)), intake_psi=60), {"tank_s": None}),
]  # fmt: skip


@pytest.mark.parametrize(("command", "expected"), [pytest.param(c, e, id=name) for name, c, e in CASES])
def test_pressure_of(command: PumpPressure, expected: dict[str, Any]) -> None:
    ours = answer(command)
    for key, value in expected.items():
        assert ours[key] == (pytest.approx(value, abs=0.005) if isinstance(value, float | int) else value), key


def test_the_reply_leads_with_the_number_and_shows_the_work() -> None:
    lines = ask(pressure(line(hose(1.75, 200), count=2, floor=2))).reply.splitlines()
    assert lines[0] == "175 psi, 300 gpm, 1:40 of tank"
    assert lines[1] == "100 nozzle + 70 friction + 5 elevation; 2 lines, 150 gpm each"
    assert "newer hose can be nearer 10" in lines[2]
    assert lines[3] == "Assumed: 1.75 in line: combination nozzle, 150 gpm at 100 psi (rig file)."


def test_every_key_of_a_line_is_there() -> None:
    (one,) = answer(pressure(line(hose(1.75, 200), count=2, floor=2)))["lines"]
    assert one == {
        "name": None, "count": 2, "hose_in": 1.75, "length_ft": 200, "flow_gpm": 150, "nozzle_psi": 100, "tip_in": None,
        "friction_psi": 69.75, "appliance_psi": 0, "elevation_psi": 5, "pressure_psi": 174.75, "reaction_lbf": 75.75,
        "sections": ({"hose_in": 1.75, "length_ft": 200, "flow_gpm": 150, "friction_psi": 69.75, "parallel": 1},),
    }  # fmt: skip


def test_the_highest_line_governs_and_the_others_are_gated() -> None:
    outcome = ask(pressures(line(name="crosslay_1"), line(name="bumper_line"), line(name="rear_line", floor=3)))
    ours = outcome.answer_json
    assert ours["pump_pressure_psi"] == 169.75
    assert [one["pressure_psi"] for one in ours["lines"]] == pytest.approx([169.75, 134.875, 95.3234], abs=0.001)
    assert "bumper line: 135 psi = 100 nozzle + 35 friction; 150 gpm; gate to 135 psi" in outcome.how
    # bumper line open at 169.75: 169.75 = (100/150² + 15.5/1e4) × Q²
    assert "If not gated: 168 gpm from bumper line; 364 gpm from rear line." in outcome.how


def test_unequal_legs_get_their_flows_and_the_higher_governs() -> None:
    legs = (line(hose(1.75, 150)), line(hose(1.75, 100), floor=2, nozzle=fog(125)))
    ours = answer(pressure(*legs, feed=(hose(2.5, 200),), split="wye"))
    # feed 2 × 2.75² × 2 = 30.25; legs 52.3125 and 24.21875 + 5
    assert [one["pressure_psi"] for one in ours["lines"]] == pytest.approx([182.5625, 159.46875])
    assert ours["pump_pressure_psi"] == pytest.approx(182.5625)
    assert [section["hose_in"] for section in ours["lines"][1]["sections"]] == [2.5, 1.75]


def test_lines_of_the_same_hose_are_told_apart() -> None:
    how = ask(pressures(line(hose(1.75, 150)), line(hose(1.75, 100), floor=3))).how
    assert how[0].startswith("1.75 in line, 150 ft: 152 psi = ")
    assert how[1].startswith("1.75 in line, 100 ft, floor 3: 145 psi = ")


def test_equal_lines_said_apart_are_counted_together() -> None:
    ours = answer(pressures(line(hose(1.75, 200)), line(hose(1.75, 200))))
    assert [one["count"] for one in ours["lines"]] == [2]
    assert ours["flow_gpm"] == 300


def test_lines_side_by_side_show_the_flow_in_each() -> None:
    (one,) = answer(pressure(line(hose(3, 300, 2), nozzle=SaidNozzle(flow_gpm=600), device="monitor")))["lines"]
    assert one["sections"] == (
        {"hose_in": 3, "length_ft": 300, "flow_gpm": 300, "friction_psi": pytest.approx(21.6), "parallel": 2},
    )


@pytest.mark.parametrize(
    ("more", "psi"),
    [
        ("[standpipe]\nhouse_base_psi = 100\nhouse_psi_per_floor = 5\n", 115),  # 100 + 5 × 3
        ("[standpipe]\nsystem_psi = 0\n", 86.1941),
        ("[standpipe]\nriser_friction = true\n", 111.3043),  # 0.052 × 2.658² × 0.3 more
    ],
)
def test_standpipes_by_the_houses_own_way(more: str, psi: float) -> None:
    command = pressure(line(hose(2.5, 150), device="standpipe", floor=4, nozzle=tip("1 1/8")))
    outcome = ask(command, rig(more))
    assert outcome.answer_json["pump_pressure_psi"] == pytest.approx(psi, abs=0.001)
    assert any("pressure-reducing outlet" in how for how in outcome.how)


def test_no_credit_below_ground_is_a_setting() -> None:
    below = pressure(line(hose(1.75, 200), floor=-1))
    assert answer(below, rig("[hydraulics]\ncredit_below = false\n"))["pump_pressure_psi"] == 169.75


def test_a_flow_test_in_the_rig_file_replaces_the_books_value_and_ends_the_note() -> None:
    command, note = pressure(line(hose(1.75, 200))), "newer hose can be nearer 10"
    assert any(note in how for how in ask(command).how)
    tested = parse_rig(with_coefficient(DEMO, "1_75", 11.6, "flow test, 12 March"), BOOK)
    outcome = ask(command, tested)
    assert outcome.answer_json["pump_pressure_psi"] == pytest.approx(152.2)  # 100 + 11.6 × 1.5² × 2
    assert not any(note in how for how in outcome.how)
    assert tested.source("hose.1_75.coefficient") == "flow test, 12 March"
    assert tested.hose["1_75"].nozzle == "combination"


def test_spoken_short_form() -> None:
    assert ask(pressure(line(hose(1.75, 200), count=2, floor=2))).spoken == "1 7 5. 300 gallons. Tank 1 minute 40."
