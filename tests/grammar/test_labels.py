"""The labels of a question's choices: data that names fields which the commands have, and says every command."""

from __future__ import annotations

import re

import pytest

from grammar import commands
from grammar.commands import Benchmark, LineChange, LineRef, SupplyPressure, Wording
from grammar.describe import describe
from grammar.lexicon import language

LABELS = language()["label"]
METRIC = Wording(metric=True, pressure="bar")


@pytest.mark.parametrize("name", LABELS)
def test_a_label_names_fields_that_its_command_has(name: str) -> None:
    said = LABELS[name] if isinstance(LABELS[name], str) else " ".join(LABELS[name])
    named = {
        *re.findall(r"\{(\w+)", said),
        *re.findall(r"(\w+)(?:=\w+)?\?(?=[\w {\[,“])", re.sub(r"\{[^}]*\}", "", said)),
    }
    assert named <= {*getattr(commands, name).__struct_fields__}


@pytest.mark.parametrize(
    ("command", "wording", "label"),
    [
        (LineChange(LineRef("crosslay_1"), gate=True, gate_to_psi=90), Wording(), "crosslay 1 gated down to 90 psi"),
        (LineChange(LineRef("crosslay_1"), gate=True), Wording(), "crosslay 1 gated down"),
        (LineChange(LineRef(order=2), flowing=False), Wording(), "line 2 nozzle shut, charged"),
        (LineChange(None, add_ft=100), METRIC, "30.5 m added to the line"),
        (SupplyPressure(to_unit="engine 9", flow_gpm=1000), METRIC, "supply to engine 9, 3785 L/min"),
        (SupplyPressure(from_hydrant=True, max_length=True), Wording(), "how far: hose from the hydrant"),
        (Benchmark("rit_in_place", unit="truck 4"), Wording(), "truck 4 RIT in place"),
    ],
)
def test_a_label_says_what_was_said(command: commands.Command, wording: Wording, label: str) -> None:
    assert describe(command, wording) == label
