"""The panel's questions turned round, by hand-worked numbers."""

from __future__ import annotations

import pytest

from grammar.commands import FlowAtPressure, LongestLay, Nozzle, SaidLay, SaidNozzle, TipForFlow
from tests.handlers.pumping.asking import answer, ask, fog, hose, line, pressure, tip


def lay(*lines, **said):  # type: ignore[no-untyped-def]
    return SaidLay(lines=lines, **said)


def test_flow_at_a_pressure() -> None:
    """150 = (100/150² + 15.5 × 2/1e4) × Q²: 141 gpm, 88 psi at the nozzle."""
    ours = answer(FlowAtPressure(lays=(lay(line(hose(1.75, 200))),), pump_pressure_psi=150))
    assert ours["flow_gpm"] == pytest.approx(141.004, abs=0.001)
    assert ours["nozzle_psi"] == pytest.approx(88.365, abs=0.001)
    assert ours["friction_psi"] == pytest.approx(61.635, abs=0.001)


def test_two_lines_flow_twice_as_much() -> None:
    one, two = (
        answer(FlowAtPressure(lays=(lay(line(hose(1.75, 200), count=count)),), pump_pressure_psi=150))
        for count in (1, 2)
    )
    assert two["flow_gpm"] == pytest.approx(2 * one["flow_gpm"])
    assert two["nozzle_psi"] == pytest.approx(one["nozzle_psi"])


def test_a_pressure_inside_the_appliance_step_answers_just_under_it_and_says_so() -> None:
    """Just under 350 gpm asks for 0.8 × 3.5² × 3 + 175² × (100/150² + 15.5/1e4) of 213.0; from 350 on 10 psi more."""
    wye = lay(line(hose(1.75, 100), count=2), feed=(hose(3, 300),), split="wye")
    below = 0.8 * 3.5**2 * 3 + 175**2 * (100 / 150**2 + 15.5 / 1e4)
    for psi, inside in ((below - 1, False), (below + 1, True), (below + 9, True), (below + 11, False)):
        outcome = ask(FlowAtPressure(lays=(wye,), pump_pressure_psi=psi))
        flow = outcome.answer_json["flow_gpm"]
        assert any("inside the 350 gpm step" in told for told in outcome.cautions) is inside
        if inside:
            assert 349.99 < flow < 350
        else:
            assert (flow < 350) == (psi < below)


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (FlowAtPressure(lays=(lay(line(hose(1.75, 200), floor=20)),), pump_pressure_psi=90),
         "90 psi doesn't bring water there: height and appliances alone take 95 psi."),
        (FlowAtPressure(lays=(lay(line(device="sprinkler")),), pump_pressure_psi=150), "sprinkler system's flow"),
        (FlowAtPressure(lays=(lay(line(hose(1.75, 200), device="eductor")),), pump_pressure_psi=150), "A foam eductor"),
        (FlowAtPressure(lays=(lay(line(hose(1.75, 200))),), pump_pressure_psi=0), "A pump pressure must be above zero"),
        (FlowAtPressure(lays=(lay(line(hose(5, 200), nozzle=fog(1000))),), pump_pressure_psi=250),
         "250 psi in 5 in hose, above its service-test pressure of 200 psi"),
        (LongestLay(lay=lay(line(name="crosslay_1")), pump_pressure_psi=90), "isn't enough for any length"),
        (LongestLay(lay=lay(line(name="deck_gun")), pump_pressure_psi=150), "There is no hose on that"),
        (TipForFlow(flow_gpm=0), "A flow must be above zero"),
        (TipForFlow(flow_gpm=5000), "Use more than one stream."),
    ],
)  # fmt: skip
def test_refused(command: FlowAtPressure | LongestLay | TipForFlow, why: str) -> None:
    refused = ask(command).refused
    assert refused is not None
    assert why in refused


def test_longest_lay_at_a_pressure() -> None:
    """(200 − 100)/(15.5 × 1.5²/100) = 286.7 ft; the lay of that length asks for that pressure."""
    ours = answer(LongestLay(lay=lay(line(hose(1.75), nozzle=SaidNozzle(flow_gpm=150))), pump_pressure_psi=200))
    assert ours["max_length_ft"] == pytest.approx(286.738, abs=0.001)
    assert answer(pressure(line(hose(1.75, ours["max_length_ft"]))))["pump_pressure_psi"] == pytest.approx(200)


def test_longest_lay_at_the_limit_of_pump_and_hose() -> None:
    outcome = ask(LongestLay(lay=lay(line(hose(1.75)))))
    assert outcome.answer_json["pump_pressure_psi"] == 250  # the pump's last point lies under the hose's 275
    assert outcome.lead == "430 ft of 1.75 in"


@pytest.mark.parametrize(
    ("command", "tip_in", "gpm"),
    [
        (TipForFlow(flow_gpm=250), 1.125, 265.79),
        (TipForFlow(flow_gpm=200), 1.0, 210.01),
        (TipForFlow(flow_gpm=600), 1.5, 597.70),  # a master stream at 80: 2 gpm short is called enough
        (TipForFlow(flow_gpm=300, nozzle_psi=50), 1.25, 328.14),
        (TipForFlow(flow_gpm=800, master_stream=True), 1.75, 813.54),
    ],
)
def test_tip_for_a_flow(command: TipForFlow, tip_in: float, gpm: float) -> None:
    ours = answer(command)
    assert (ours["tip_in"], ours["flow_gpm"]) == (tip_in, pytest.approx(gpm, abs=0.01))


@pytest.mark.parametrize(
    ("command", "gpm", "lbf"),
    [
        (Nozzle(nozzle=tip("15/16", 50)), 184.58, 68.99),
        (Nozzle(nozzle=tip("1 3/8")), 502.23, 237.46),  # taken as a master stream at 80
        (Nozzle(nozzle=fog(150, 100)), 150, 75.75),
        (Nozzle(nozzle=fog(150)), 150, 75.75),
    ],
)
def test_what_a_nozzle_gives(command: Nozzle, gpm: float, lbf: float) -> None:
    ours = answer(command)
    assert (ours["flow_gpm"], ours["reaction_lbf"]) == (pytest.approx(gpm, abs=0.01), pytest.approx(lbf, abs=0.01))


def test_which_nozzle_is_asked() -> None:
    question = ask(Nozzle(nozzle=SaidNozzle())).question
    assert question is not None
    assert question.text == "Which nozzle? Say its tip or its flow."
