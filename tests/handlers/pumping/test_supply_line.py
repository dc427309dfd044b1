"""Supply hose: to another engine, a relay, from a hydrant. FL = C·(Q/100)²·(L/100), 20 psi left at the far end."""

from __future__ import annotations

import pytest

from grammar.commands import Coefficient, SupplyPressure
from handlers.rigfile.editing import with_coefficient
from tests.handlers.pumping.asking import DEMO, answer, ask, hose


def supply(*hoses, **said):  # type: ignore[no-untyped-def]
    return SupplyPressure(hose=hoses, **said)


@pytest.mark.parametrize(
    ("command", "expected"),
    [
        (supply(hose(5, 600), flow_gpm=1000), {"friction_psi": 48, "pump_pressure_psi": 68}),
        (supply(hose(4, 600), flow_gpm=500, rise_ft=40),
         {"friction_psi": 30, "elevation_psi": 17.36, "pump_pressure_psi": 67.36}),
        (supply(hose(3, 600, 2), flow_gpm=800), {"friction_psi": 76.8, "pump_pressure_psi": 96.8}),
        (supply(hose(2.5, 300), hose(3, 200), flow_gpm=250), {"friction_psi": 47.5, "pump_pressure_psi": 67.5}),
        (supply(hose(None, 500), flow_gpm=1000), {"friction_psi": 40, "pump_pressure_psi": 60}),  # the rig's 5 in
        (supply(hose(5, 1000), flow_gpm=500, from_hydrant=True), {"friction_psi": 20, "pump_pressure_psi": None}),
        (supply(hose(5, 1000), flow_gpm=500, from_hydrant=True, hydrant_psi=60), {"intake_psi": 40}),
        (supply(hose(5), flow_gpm=1000, pump_pressure_psi=150, max_length=True), {"max_length_ft": 1625}),
        (supply(hose(5), flow_gpm=1000, max_length=True), {"max_length_ft": 2062.5, "pump_pressure_psi": 185}),
        (supply(hose(5, 3000), flow_gpm=800, relay_engines=3),
         {"friction_psi": 76.8, "pump_pressure_psi": 96.8, "spacing_ft": 1500}),
        (supply(hose(5), flow_gpm=1000, distance_ft=8000), {"engines": 5, "spacing_ft": 2000}),
    ],
)  # fmt: skip
def test_supply(command: SupplyPressure, expected: dict[str, float | None]) -> None:
    ours = answer(command)
    for key, value in expected.items():
        assert ours[key] == (pytest.approx(value) if value is not None else None), key


def test_max_length_only_where_it_was_asked_for() -> None:
    assert "max_length_ft" not in answer(supply(hose(5, 600), flow_gpm=1000))


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (
            supply(hose(3, 1000), flow_gpm=800),
            "One pump reaches 498 ft at 800 gpm: use a relay, a second line, or less flow.",
        ),
        (
            supply(hose(5, 3000), flow_gpm=1400, relay_engines=2),
            "2 engines aren't enough: 490 psi would be needed at each.",
        ),
        (supply(hose(5, 600), flow_gpm=-1), "A flow must be above zero"),
        (supply(hose(5, 0), flow_gpm=1000), "0 ft of hose can't be"),
        (supply(hose(5, 600), flow_gpm=500, relay_engines=1), "A relay has at least two engines"),
        (supply(hose(5), flow_gpm=2000, max_length=True), "above the pump's rating of 1,500 gpm"),
    ],
)
def test_refused(command: SupplyPressure, why: str) -> None:
    refused = ask(command).refused
    assert refused is not None
    assert why in refused


def test_what_is_missing_is_asked() -> None:
    for command, text in (
        (supply(hose(5, 600)), "At what flow?"),
        (supply(hose(5), flow_gpm=500), "How long is the 5 in lay?"),
    ):
        question = ask(command).question
        assert question is not None
        assert question.text == text
        assert all(ask(choice.commands[0]).intent == "supply_pressure" for choice in question.choices)


def test_low_intake_is_told() -> None:
    outcome = ask(supply(hose(5, 1000), flow_gpm=750, from_hydrant=True, hydrant_psi=60))  # 45 lost
    assert outcome.lead == "15 psi left at the intake, 45 psi lost"
    assert any("under 20 psi on the intake" in told for told in outcome.cautions)
    dry = ask(supply(hose(5, 1000), flow_gpm=1000, from_hydrant=True, hydrant_psi=60))
    assert dry.lead == "1,000 gpm won't come through: 80 psi lost"


def test_coefficient_from_a_flow_test_beside_the_books() -> None:
    """52/(1.5² × 2) = 11.56."""
    outcome = ask(Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150, loss_psi=52))
    ours = outcome.answer_json
    assert ours["coefficient"] == pytest.approx(11.5556, abs=0.0001)
    assert ours["rig_coefficient"] == 15.5
    assert outcome.lead == "C = 11.56 for 1.75 in"


def test_a_measured_value_far_off_is_doubted_and_a_missing_one_asked() -> None:
    assert ask(Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150, loss_psi=5.2)).cautions
    question = ask(Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150)).question
    assert question is not None
    assert question.slot == "loss_psi"
    assert ask(Coefficient(hose_in=2.5)).lead == "C = 2 for 2.5 in"


def test_writing_a_coefficient_leaves_the_rest_of_the_file_alone() -> None:
    text = with_coefficient(DEMO, "1_75", 11.5556, "flow test")
    before, after = DEMO.splitlines(), text.splitlines()
    assert [row for row in before if row not in after] == []
    assert set(after) - set(before) == {"coefficient = 11.56", "flow_tested = true", 'source = "flow test"'}
    new = with_coefficient("name = 'Engine 3'\n", "2", 7.5, "flow test")
    assert new.endswith('[hose.2]\ncoefficient = 7.5\nflow_tested = true\nsource = "flow test"\n')
