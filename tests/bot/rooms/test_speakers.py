"""Who says a line in the local room: people by name, never a word of the trade."""

from __future__ import annotations

import pytest

from bot.rooms.speakers import Speaker, split


@pytest.mark.parametrize(
    ("line", "who", "words"),
    [
        ("officer: water on the fire", Speaker("officer", "officer"), "water on the fire"),
        ("Driver:charge crosslay 1", Speaker("driver", "driver"), "charge crosslay 1"),
        ("captain: going defensive", Speaker("captain", "officer"), "going defensive"),
        ("Engine 9: on scene with four", Speaker("engine 9", "unit", "engine 9"), "on scene with four"),
        (
            "ladder  4 :  at the door: knocked down",
            Speaker("ladder 4", "unit", "ladder 4"),
            "at the door: knocked down",
        ),
        ("Priya: on the hydrant", Speaker("priya"), "on the hydrant"),
        ("dana reyes: PAR of 3", Speaker("dana reyes"), "PAR of 3"),
        ("dispatch: structure fire, 14 Juniper Lane", None, "dispatch: structure fire, 14 Juniper Lane"),
        ("correction: two fifty", None, "correction: two fifty"),
        ("hydrant: static 70", None, "hydrant: static 70"),
        ("under control at 14:12", None, "under control at 14:12"),
        ("200 feet: 1.75", None, "200 feet: 1.75"),
        ("officer:", None, "officer:"),
        ("two lines, 200 feet", None, "two lines, 200 feet"),
    ],
)
def test_who_says_a_line(line: str, who: Speaker | None, words: str) -> None:
    assert split(line, people=frozenset({"dana reyes"})) == (who, words)
