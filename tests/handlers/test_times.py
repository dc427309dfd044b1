"""Times and durations in words."""

from __future__ import annotations

import pytest

from handlers.times import duration, spoken_duration


@pytest.mark.parametrize(
    ("seconds", "written", "said"),
    [
        (100, "1:40", "1 minute 40"),
        (190.9, "3:10", "3 minutes 10"),
        (60, "1:00", "1 minute"),
        (59.99, "0:59", "59 seconds"),
        (1, "0:01", "1 second"),
        (0, "0:00", "0 seconds"),
        (-5, "0:00", "0 seconds"),
        (3_720, "1:02:00", "1 hour 2 minutes"),
        (7_201, "2:00:01", "2 hours"),
    ],
)
def test_durations_are_rounded_down(seconds: float, written: str, said: str) -> None:
    assert duration(seconds) == written
    assert spoken_duration(seconds) == said
