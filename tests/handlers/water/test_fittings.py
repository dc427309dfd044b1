"""Chains of fittings from the rig's inventory."""

from __future__ import annotations

import pytest

from grammar.commands import Fitting
from tests.handlers.pumping.asking import ask, rig


@pytest.mark.parametrize(
    ("from_end", "to_end", "chain"),
    [
        ("5 storz", "2.5 male", ("5 in storz to 2½ in male",)),
        ("2.5 female", "1.5 male", ("reducer 2½ in to 1½ in",)),
        ("5 storz", "1.5 male", ("5 in storz to 2½ in male", "reducer 2½ in to 1½ in")),
        ("2.5 male", "2.5 male", ("double male 2½ in",)),
        ("6 female", "2.5 male NH", ("5 in storz to 6 in female", "5 in storz to 2½ in male")),
        ("1.5 male", "2.5 female", ("reducer 2½ in to 1½ in",)),
    ],
)
def test_the_shortest_chain(from_end: str, to_end: str, chain: tuple[str, ...]) -> None:
    outcome = ask(Fitting(from_end, to_end))
    assert outcome.answer_json == {"chain": chain, "missing": None}
    assert outcome.lead == " → ".join(chain)
    assert any("Thread standards differ by place" in told for told in outcome.cautions)


def test_ends_that_couple_by_themselves() -> None:
    assert ask(Fitting("2.5 male", "2.5 female")).lead == "They couple by themselves"
    assert ask(Fitting("5 storz", "5 storz")).lead == "They couple by themselves"


def test_what_is_missing_is_named() -> None:
    outcome = ask(Fitting("4 storz", "2.5 male"))
    assert outcome.answer_json == {"chain": (), "missing": "adapter 4 in storz to 2.5 in male"}
    assert outcome.lead == "Not from what this rig carries"


def test_a_named_thread_must_match() -> None:
    assert ask(Fitting("5 storz", "2.5 male BSP")).answer_json["missing"] == "adapter 5 in storz to 2.5 in male BSP"


def test_a_fitting_is_used_only_as_often_as_it_is_carried() -> None:
    """Two double females would be needed if one were not used up."""
    text = '[[fittings]]\nname = "3 in double female"\nkind = "adapter"\nends = ["3 female NH", "3 female NH"]\n'
    assert ask(Fitting("3 female", "3 female"), rig(text)).answer_json["chain"] == ("3 in double female",)
    assert ask(Fitting("3 female", "3 male"), rig(text)).lead == "They couple by themselves"


@pytest.mark.parametrize(("end", "why"), [("banana", "isn't an end"), ("2.5 NH", "male or female")])
def test_an_unreadable_end_is_refused(end: str, why: str) -> None:
    refused = ask(Fitting(end, "2.5 male")).refused
    assert refused is not None
    assert why in refused


@pytest.mark.parametrize(
    ("from_end", "to_end", "of_fitting", "joining"),
    [
        ("2.5 male", "1.5 female", "increaser 1½ in to 2½ in", "reducer 2½ in to 1½ in"),
        ("2.5 female", "2.5 female", "double female 2½ in", "double male 2½ in"),
        ("5 storz", "2.5 male", "5 in storz to 2½ in male", "siamese two 2½ in to 5 in storz"),
    ],
)
def test_it_says_whose_ends_it_took_them_for(from_end: str, to_end: str, of_fitting: str, joining: str) -> None:
    """Coupling a male end needs a female one: the ends of the fitting and those to be joined are opposites."""
    outcome = ask(Fitting(from_end, to_end))
    assert outcome.lead == of_fitting
    assert "whose own ends are" in outcome.how[0]
    assert outcome.how[1].endswith(f" end: {joining}.")
