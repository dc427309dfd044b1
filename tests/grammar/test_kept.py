"""A report with free words around it is taken, and the words are kept as said; not where they may bear on it."""

from __future__ import annotations

import tomllib
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import Benchmark, Report
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

OFFICER = contexts()["officer"]
TABLE = tomllib.loads(Path(__file__).with_name("kept.toml").read_text("utf-8"))
REPORTS = ("on scene", "knocked down", "under control", "primary complete", "water on the fire", "loss stopped")
BEARS_ON_IT = (
    "not yet",
    "hopefully",
    "I think",
    "almost",
    "if it holds",
    "or is it",
    "in five minutes",
    "not on two",
    "maybe",
    "they say",
    "it isn't",
)


@pytest.mark.parametrize("case", TABLE["kept"], ids=lambda case: str(case["say"]))
def test_what_is_understood_is_taken_and_the_rest_kept(case: dict[str, Any]) -> None:
    reading = read(case["say"], OFFICER)
    assert [c.benchmark for c in reading.commands if isinstance(c, Benchmark)] == case["taken"]
    assert [c.text for c in reading.commands if isinstance(c, Report)] == [case["rest"]]
    assert any("kept as said" in note for note in reading.assumed)


@pytest.mark.parametrize("said", TABLE["asked"]["say"])
def test_what_may_bear_on_the_report_is_never_only_kept(said: str) -> None:
    assert [c for c in read(said, OFFICER).commands if isinstance(c, Benchmark)] == []


def test_a_doubt_beside_a_report_is_never_kept_as_words() -> None:
    for report, doubt in product(REPORTS, BEARS_ON_IT):
        for said in (f"{report}, {doubt}", f"{doubt}, {report}"):
            assert not any(isinstance(c, Report) and doubt in c.text for c in read(said, OFFICER).commands), said
