"""What is asked, what is refused, and what is answered with a caution: never a wrong number, never a silent one."""

from __future__ import annotations

import pytest

from grammar.commands import PumpPressure, SaidNozzle
from tests.handlers.pumping.asking import answer, ask, fog, hose, line, pressure, pressures, rig, tip


@pytest.mark.parametrize(
    ("command", "text", "choices"),
    [
        (pressure(line(hose(None, 200))), "What size of hose?", ("1.75 in", "2.5 in")),
        (pressure(line(floor=2)), "What size of hose?", ("1.75 in", "2.5 in")),
        (pressure(line(hose(1.75))), "How long is the 1.75 in line?", ("100 ft", "200 ft")),
        (pressure(line(hose(3, 200))), "Which nozzle on the 3 in line? Say its tip or its flow.",
         ("1⅜ in tip", "1½ in tip", "fog, 300 gpm", "fog, 500 gpm")),
        (pressure(line(hose(1.75, 200), nozzle=SaidNozzle(kind="smooth_bore"))),
         "Which nozzle on the 1.75 in line? Say its tip or its flow.", ("⅞ in tip", "15/16 in tip")),
        (pressure(line(hose(2.5, 200), nozzle=SaidNozzle(kind="fog"))),
         "Which nozzle on the 2.5 in line? Say its tip or its flow.", ("fog, 250 gpm", "fog, 300 gpm")),
        (pressure(line(hose(2.5, 150), device="standpipe")), "Standpipe to which floor?",
         ("floor 2", "floor 3", "floor 4", "floor 5")),
        (pressure(line(hose(1.75, 200), count=3, nozzle=SaidNozzle(flow_gpm=450))),
         "450 gpm is too much for one 1.75 in line. Is it all 3 lines together?", ("Together: 150 gpm each",)),
        (pressure(line(hose(1.75, 100)), line(hose(1.75, 150)), feed=(hose(3),), split="wye"),
         "How long is the 3 in feed?", ("100 ft", "150 ft", "200 ft")),
    ],
)  # fmt: skip
def test_a_missing_part_is_asked_with_choices(command: PumpPressure, text: str, choices: tuple[str, ...]) -> None:
    outcome = ask(command)
    assert outcome.question is not None
    assert outcome.question.text == text
    assert tuple(choice.label for choice in outcome.question.choices) == choices
    assert outcome.answer_json == {}


@pytest.mark.parametrize(
    ("command", "psi"),
    [
        (pressure(line(hose(1.75))), [134.875, 169.75]),  # 100 ft, 200 ft
        (pressure(line(hose(1.75, 200), count=3, nozzle=SaidNozzle(flow_gpm=450))), [169.75]),
        (pressure(line(hose(2.5, 150), device="standpipe", nozzle=tip("1 1/8"))), [101.194, 106.194, 111.194, 116.194]),
    ],
)
def test_each_choice_is_the_whole_question_completed(command: PumpPressure, psi: list[float]) -> None:
    question = ask(command).question
    assert question is not None
    answers = [answer(choice.commands[0])["pump_pressure_psi"] for choice in question.choices]
    assert answers == pytest.approx(psi, abs=0.001)


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (
            pressure(line(hose(1.75, 4000))),
            "asks for 1,495 psi in 1.75 in hose, above its service-test pressure of 300 psi",
        ),
        (pressure(line(hose(1.75, 4000))), "At 150 gpm it reaches 573 ft."),
        (pressure(line(hose(1.75, 200), nozzle=SaidNozzle(flow_gpm=2000))), "2,000 gpm is too much for it"),
        (pressure(line(hose(7, 200))), "The rig file knows no 7 in hose. It knows 0.75 in, 1 in,"),
        (pressure(line(hose(-1.75, 200))), "knows no"),
        (pressure(line(hose(1.75, 0))), "0 ft of hose can't be"),
        (pressure(line(hose(1.75, -200))), "-200 ft of hose can't be"),
        (pressure(line(hose(1.75, 200), nozzle=SaidNozzle(flow_gpm=-5))), "A flow must be above zero"),
        (pressure(line(hose(1.75, 200), nozzle=SaidNozzle(nozzle_psi=0))), "A nozzle pressure must be above zero"),
        (pressure(line(hose(1.75, 200), count=0)), "0 lines can't be"),
        (pressure(line(hose(1.75, 200), count=40)), "40 lines can't be"),
        (pressure(line(hose(1.75, 200), floor=0)), "There is no such floor"),
        (pressure(line(name="crosslay_3")), "There is no crosslay 3 in the rig file. It has crosslay 1,"),
        (pressure(line(name="supply")), "The supply line has no nozzle"),
    ],
)
def test_what_can_not_be_is_refused_with_what_to_change(command: PumpPressure, why: str) -> None:
    outcome = ask(command)
    assert outcome.refused is not None
    assert why in outcome.refused
    assert outcome.intent == "pump_pressure"
    assert outcome.answer_json == {}


@pytest.mark.parametrize(
    ("command", "caution"),
    [
        (pressure(line(hose(1.75, 500))), "274 psi net is above the pump's last test point (250 psi)."),
        (pressure(line(hose(1.75, 520))), "281 psi is above the operating pressure of 1.75 in attack hose (275 psi)."),
        (pressure(line(hose(1.75, 100), nozzle=fog(300))), "300 gpm is more than 1.75 in hose is good for (40 ft/s;"),
        (pressure(line(name="rear_line")), "nozzle reaction 99 lbf with 2 on it; common practice is 3 people"),
        (pressure(line(hose(2.5, 200), nozzle=fog(250))), "more than 3 people are taken to hold (book value)."),
        (pressure(line(name="deck_gun")), "598 gpm is above what the tank-to-pump piping gives (500 gpm)"),
        (pressure(line(hose(1.75, 200), nozzle=fog(95), device="eductor", floor=4)),
         "Back pressure 143 psi is above 65 % of the inlet"),
        (pressures(*[line(hose(2.5, 300), count=3, nozzle=fog(300))] * 2),
         "1,800 gpm is above the pump's 1,460 gpm at 154 psi net pressure."),
    ],
)  # fmt: skip
def test_limits_are_told_and_the_answer_stands(command: PumpPressure, caution: str) -> None:
    outcome = ask(command)
    assert outcome.answer_json
    assert any(caution in told for told in outcome.cautions), outcome.cautions


def test_a_long_way_downhill() -> None:
    """500 ft down is 217 psi: more than the line asks for; shut, its low end stands at all of it."""
    outcome = ask(pressure(line(hose(1.75, 200), rise_ft=-500)))
    assert outcome.lead.startswith("0 psi, 150 gpm")
    assert outcome.answer_json["lines"][0]["pressure_psi"] == pytest.approx(-47.25)
    assert any("idle the pump and gate the line" in told for told in outcome.cautions)
    low = ask(pressure(line(hose(1.75, 300), rise_ft=-350)))  # 100 + 104.6 − 151.9
    assert not low.cautions
    lower = ask(pressure(line(hose(1.75, 300), nozzle=fog(200), rise_ft=-350)))  # 286 − 151.9 at the pump
    assert any("With the nozzle shut the low end stands at 286 psi" in told for told in lower.cautions)


def test_intake_is_credited_to_the_pump() -> None:
    """274 psi over 60 of intake is 214 net: within the pump's points."""
    outcome = ask(pressure(line(hose(1.75, 500)), intake_psi=60))
    assert not any("last test point" in told for told in outcome.cautions)
    assert "Net 214 psi over 60 psi intake." in outcome.how


def test_no_caution_on_an_ordinary_line() -> None:
    assert ask(pressure(line(hose(1.75, 200), count=2, floor=2))).cautions == ()


def test_limits_are_settings() -> None:
    command = pressure(line(name="rear_line"))
    assert ask(command, rig("[limits]\nreaction_lbf = [60, 100]\n")).cautions == ()
    assert any("15 ft/s" in told for told in ask(command, rig("[limits]\nvelocity_ft_s = 15\n")).cautions)


def test_an_assumed_nozzle_is_told() -> None:
    assert ask(pressure(line(hose(2.5, 250), nozzle=SaidNozzle(flow_gpm=250)))).assumed == (
        "2.5 in line: fog nozzle, 250 gpm at 100 psi, not the usual 1⅛ in smooth bore",
    )
    assert ask(pressure(line(hose(1.75, 200), nozzle=fog(125, 75)))).assumed == ()
    assert ask(pressure(line(name="crosslay_1"))).assumed == (
        "crosslay 1: 200 ft of 1.75 in, combination nozzle, 150 gpm at 100 psi (rig file)",
    )
    assert ask(pressure(line(hose(1.75, 200), nozzle=tip("15/16")))).assumed == (
        "1.75 in line: 15/16 in tip at 50 psi, hand line, 185 gpm",
    )
