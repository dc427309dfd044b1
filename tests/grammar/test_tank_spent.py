"""What was used isn't what is left: the tank's clock runs on what is left."""

from __future__ import annotations

from fractions import Fraction

import pytest
from msgspec.structs import replace

from grammar.commands import TankTime, WaterSource
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

SHARES = {"a quarter": Fraction(1, 4), "half": Fraction(1, 2),
          "three quarters": Fraction(3, 4), "75 percent": Fraction(3, 4),
          "10%": Fraction(1, 10), "sixty percent": Fraction(3, 5)}  # fmt: skip
SPENT = (
    "{} of the tank is gone",
    "{} of the tank's gone",
    "we've used {} of the tank",
    "used {} of the tank",
    "{} of the tank is used",
    "the tank is {} gone",
    "we're through {} of the tank",
    "we've burned {} of the tank",
    "{} of the tank is used up",
)
LEFT = ("{} of the tank is left", "{} of the tank left", "tank is at {}", "tank's down to {}")


@pytest.mark.parametrize("said", SHARES)
@pytest.mark.parametrize("way", [*SPENT, *LEFT])
def test_a_share_used_leaves_the_rest_and_a_share_left_is_itself(way: str, said: str) -> None:
    reading = read(way.format(said), contexts()["fire"])
    due = 1 - SHARES[said] if way in SPENT else SHARES[said]
    told = [command.tank_fraction for command in reading.commands if isinstance(command, WaterSource)]
    assert told == [pytest.approx(float(due))] or (not reading.commands and (reading.question or reading.declined)), (
        reading
    )


def test_of_gallons_used_it_is_asked_what_is_left() -> None:
    context = contexts()["fire"]
    asked = read("used two hundred gallons of the tank", context)
    assert not asked.commands
    assert asked.question is not None
    assert asked.question.text == "200 gal used: how much is left in the tank?"
    answer = read("300", replace(context, asked=asked.question))
    assert [command.tank_gal for command in answer.commands if isinstance(command, WaterSource)] == [300]


@pytest.mark.parametrize("said", ["half a tank", "quarter tank", "tank's at three quarters", "250 gallons"])
@pytest.mark.parametrize(
    "lines", ["crosslay 1", "crosslay 1 open", "flowing crosslay 1 and 2", "crosslay 1 and the rear line"]
)
@pytest.mark.parametrize("asked", ["how long", "what've I got", "how long have I got", "how much time"])
def test_tank_and_lines_told_before_a_question_are_used_in_it(said: str, lines: str, asked: str) -> None:
    reading = read(f"{said}, {lines}, {asked}", contexts()["plain"])
    (command,) = reading.commands
    assert isinstance(command, TankTime)
    assert (command.tank_fraction, command.tank_gal) in ((0.5, None), (0.25, None), (0.75, None), (None, 250))
    assert len(command.lays) == 1 + (" and " in lines)
