"""Hydrants by their gauges, by hand-worked numbers."""

from __future__ import annotations

import pytest

from grammar.commands import Hydrant, HydrantFlow
from handlers.events import HydrantRead, IncidentOpened
from tests.handlers.fireground import Fireground
from tests.handlers.pumping.asking import METRIC, answer, ask


@pytest.mark.parametrize(
    ("static", "residual", "percent", "more"),
    [
        (70, 63, 10.0, 3),
        (70, 62, 11.4286, 2),
        (60, 51, 15.0, 2),
        (80, 65, 18.75, 1),
        (80, 60, 25.0, 1),
        (80, 59, 26.25, 0),
    ],
)
def test_percent_drop_and_what_it_allows(static: float, residual: float, percent: float, more: int) -> None:
    ours = answer(Hydrant(static, residual))
    assert ours == {"drop_percent": pytest.approx(percent, abs=0.0001), "more_same_flows": more}


def test_more_is_a_multiple_of_the_flow_drawn() -> None:
    """80 to 65 at 750 gpm: once more; at 20 psi 750 × (60/15)^0.54 = 1,585, told rounded down."""
    outcome = ask(Hydrant(80, 65, 750))
    assert outcome.answer_json["more_gpm"] == 750
    assert outcome.answer_json["flow_at_20psi_gpm"] == pytest.approx(1585.5, abs=0.1)
    assert outcome.lead == "The same flow once more: 750 gpm more"
    assert "1,580 gpm at 20 psi (class AA, light blue)" in outcome.how


def test_of_two_numbers_that_contradict_each_other_the_lower_leads() -> None:
    """60 to 54 at 250 gpm: 10 % allows 750 more, but 20 psi are left at 250 × (40/6)^0.54 = 696 in all."""
    outcome = ask(Hydrant(60, 54, 250))
    assert outcome.lead == "440 gpm more at most"
    assert outcome.cautions == ("The lower of the two governs: what leaves 20 psi in the main.",)
    assert ask(Hydrant(80, 60, 500)).lead == "400 gpm more at most"
    assert ask(Hydrant(70, 15, 300)).lead == "Less than the same flow again"  # the drop's rule is the lower


@pytest.mark.parametrize(
    ("command", "why"),
    [
        (Hydrant(70, 75), "The residual can't be above the static pressure"),
        (Hydrant(0, 0), "gauge readings above zero"),
        (Hydrant(70, 60, -3), "A flow must be above zero"),
        (HydrantFlow(0), "Read the pitot gauge again"),
        (HydrantFlow(20, 2.5, 1.4), "Read the pitot gauge again"),
    ],
)
def test_refused(command: Hydrant | HydrantFlow, why: str) -> None:
    refused = ask(command).refused
    assert refused is not None
    assert why in refused


def test_a_missing_gauge_is_asked() -> None:
    for command, slot in ((Hydrant(), "static_psi"), (Hydrant(static_psi=70), "residual_psi")):
        question = ask(command).question
        assert question is not None
        assert question.slot == slot


def test_no_drop_and_low_residual_are_told() -> None:
    assert any("No drop on the gauge" in told for told in ask(Hydrant(70, 70, 300)).cautions)
    assert "flow_at_20psi_gpm" not in answer(Hydrant(70, 70, 300))
    assert any("under 20 psi" in told for told in ask(Hydrant(70, 15, 300)).cautions)


def test_pitot_reading() -> None:
    """29.84 × 0.9 × 2.5² × √25 = 839.25, told rounded down."""
    outcome = ask(HydrantFlow(25, 2.5, 0.9))
    assert outcome.answer_json == {"flow_gpm": pytest.approx(839.25)}
    assert outcome.lead == "830 gpm"
    assert ask(HydrantFlow(25)).assumed == (
        "2.5 in outlet",
        "coefficient 0.9 (rounded outlet; square 0.8, projecting 0.7)",
    )


def test_pitot_with_gauges_gives_the_flow_at_20() -> None:
    ours = answer(HydrantFlow(28, 2.5, 0.8, 86, 42))  # FPT 102: 789 gpm, about 980 at 20 psi
    assert ours["flow_gpm"] == pytest.approx(789, abs=1)
    assert ours["flow_at_20psi_gpm"] == pytest.approx(982, abs=1.5)


def test_a_reading_is_logged_in_an_incident() -> None:
    ground = Fireground()
    ground.at("14:00", Hydrant(80, 65, 750))
    assert not any(isinstance(event.body, HydrantRead) for event in ground.log.events)  # none is open
    ground.happens("14:01", IncidentOpened())
    ground.at("14:02", Hydrant(80, 65, 750), role="driver")
    read = [event.body for event in ground.log.events if isinstance(event.body, HydrantRead)]
    assert read == [HydrantRead(80, 65, 750, pytest.approx(1585.5, abs=0.1))]


def test_metric_rigs_are_told_in_bar_and_litres() -> None:
    outcome = ask(Hydrant(4 * 14.5038, 3.5 * 14.5038, 1000 / 3.785412), METRIC)
    assert outcome.lead == "1,440 L/min more at most"
    assert "by the drop alone: the same flow twice more: 2,000 L/min more" in outcome.how
    assert outcome.how[0] == "4.0 static − 3.5 residual = 12.5 % drop"
