"""What was used isn't what is left: the tank's clock runs on what is left."""

from __future__ import annotations

from fractions import Fraction

import pytest
from msgspec.structs import replace

from grammar.commands import WaterSource
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

SHARES = {"a quarter": Fraction(1, 4), "half": Fraction(1, 2), "three quarters": Fraction(3, 4)}
SPENT = (
    "{} of the tank is gone",
    "{} of the tank's gone",
    "we've used {} of the tank",
    "used {} of the tank",
    "{} of the tank is used",
    "the tank is {} gone",
    "we're through {} of the tank",
)
LEFT = ("{} of the tank is left", "{} of the tank left", "tank is at {}", "tank's down to {}")


@pytest.mark.parametrize("said", SHARES)
@pytest.mark.parametrize("way", [*SPENT, *LEFT])
def test_a_share_used_leaves_the_rest_and_a_share_left_is_itself(way: str, said: str) -> None:
    reading = read(way.format(said), contexts()["fire"])
    due = 1 - SHARES[said] if way in SPENT else SHARES[said]
    told = [command.tank_fraction for command in reading.commands if isinstance(command, WaterSource)]
    assert told == [float(due)] or (not reading.commands and (reading.question or reading.declined)), reading


def test_of_gallons_used_it_is_asked_what_is_left() -> None:
    context = contexts()["fire"]
    asked = read("used two hundred gallons of the tank", context)
    assert not asked.commands
    assert asked.question is not None
    assert asked.question.text == "200 gal used: how much is left in the tank?"
    answer = read("300", replace(context, asked=asked.question))
    assert [command.tank_gal for command in answer.commands if isinstance(command, WaterSource)] == [300]
