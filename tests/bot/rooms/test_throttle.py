"""One person's flood is held back, a person's talk never, whatever comes late, twice or in the wrong order."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.message import Message
from bot.rooms.throttle import MOST, QUIET, Throttle
from tests.bot.conftest import NOON


def said(number: int, at: datetime, who: str = "kim") -> Message:
    return Message("yard:kim", str(number), who, at, "tank time at 150 gpm")


def test_a_flood_is_held_back_from_its_hundredth_message_on() -> None:
    throttle = Throttle()
    held = [throttle.holds(said(number, NOON + timedelta(seconds=number / 100))) for number in range(400)]
    assert held.index(True) == MOST
    assert sum(held) == 400 - MOST


def test_others_go_on_and_so_does_the_person_later() -> None:
    throttle = Throttle()
    for number in range(400):
        throttle.holds(said(number, NOON))
    assert not throttle.holds(said(1, NOON, "lee"))
    assert not throttle.holds(said(400, NOON + timedelta(seconds=10)))


def test_what_piled_up_over_ten_minutes_without_a_network_is_no_flood() -> None:
    throttle = Throttle()
    assert not any(throttle.holds(said(number, NOON + timedelta(seconds=number))) for number in range(600))


def test_what_comes_again_isnt_counted_again() -> None:
    throttle = Throttle()
    for _ in range(5):
        assert not any(throttle.holds(said(number, NOON)) for number in range(MOST))


def test_a_person_is_told_once_a_flood() -> None:
    throttle = Throttle()
    told = [throttle.tells(said(number, NOON + timedelta(seconds=number / 100))) for number in range(300)]
    assert sum(told) == 1
    assert throttle.tells(said(900, NOON + timedelta(seconds=3) + QUIET))
