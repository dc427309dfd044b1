"""Gallons that are aboard or gone are never taken for what a nozzle flows."""

from __future__ import annotations

import pytest

from grammar.commands import PumpPressure
from grammar.reader import read
from tests.grammar.corpus.loader import contexts


@pytest.mark.parametrize(
    "held", ["we have 250 gallons", "got 250 gallons on board", "250 gallons left", "used 250 gallons"]
)
@pytest.mark.parametrize("line", ["crosslay 1", "fog nozzle on crosslay 1", "two 150 foot inch and three quarters"])
@pytest.mark.parametrize("order", ["{held}, {line}", "{line}, {held}"])
def test_water_aboard_is_no_flow(order: str, held: str, line: str) -> None:
    reading = read(order.format(held=held, line=line), contexts()["plain"])
    lays = [lay for command in reading.commands if isinstance(command, PumpPressure) for lay in command.lays]
    assert [line.nozzle.flow_gpm for lay in lays for line in lay.lines if line.nozzle.flow_gpm] == []


@pytest.mark.parametrize("line", ["crosslay 1 on fog", "150 feet of inch and three quarters with the fog tip"])
def test_gallons_beside_a_nozzle_are_its_flow(line: str) -> None:
    (asked,) = read(f"{line}, 150 gallons", contexts()["plain"]).commands
    assert isinstance(asked, PumpPressure)
    assert asked.lays[0].lines[0].nozzle.flow_gpm == 150
