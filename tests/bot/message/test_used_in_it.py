"""What a message says of the tank is used in what it asks: in an incident or out of one, before or after."""

from __future__ import annotations

import itertools
from datetime import timedelta

import pytest

from bot.api import Crosslay
from bot.message.context import build
from bot.message.reply import work_out
from bot.settings import Settings
from grammar.commands import TankTime
from handlers.events import TankRead
from handlers.history import History
from handlers.outcome import Dated, Said
from handlers.water.tank import TankAnswer
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge

TANKS = {
    "half a tank": 250.0,
    "quarter tank": 125.0,
    "tank's at half": 250.0,
    "three quarters of a tank": 375.0,
    "250 gallons left": 250.0,
    "tank reads 300 gallons": 300.0,
    "tank at 50 percent": 250.0,
}
ASKED = {
    "how long at 150 gpm": 150.0,
    "how long will it last at 300 gpm": 300.0,
    "how long with crosslay 1": 150.0,
    "how long at 100 gallons a minute": 100.0,
    "how long have I got at 250 gpm": 250.0,
}
TABLE = [
    (order.format(tank=tank, asked=asked), gal / flow * 60)
    for (tank, gal), (asked, flow) in itertools.product(TANKS.items(), ASKED.items())
    for order in ("{tank}, {asked}", "{tank} {asked}", "{asked} with {tank}")
    if not (order.endswith("{tank}") and tank.startswith(("tank", "250")))
]


@pytest.fixture(scope="module")
def asker() -> Crosslay:
    return Crosslay.of(Settings(timezone="UTC"))


def test_out_of_any_incident(asker: Crosslay) -> None:
    wrong, asked = [], []
    for said, seconds in TABLE:
        handled = asker.answer(said)
        if handled.status != "answered":
            asked.append(said)
        elif handled.intent != TankTime.intent or handled.answer["tank_s"] != pytest.approx(seconds):
            wrong.append((said, handled.reply))
    assert wrong == []
    assert len(asked) <= 0.03 * len(TABLE), asked


def test_in_an_incident(asker: Crosslay) -> None:
    """The last answer is the tank's time; what flows already has no part in it."""
    wrong, asked = [], []
    for said, seconds in TABLE:
        fire = Incident()
        fire.at("14:00", charge("crosslay_2"), "driver")
        now = DAY + timedelta(seconds=30)
        context = build(asker.rig, asker.unit, fire.scene, role="driver", addressed=True)
        told = work_out(said, context, fire.log, asker.rig, Said(at=now, role="driver", unit=asker.unit, tz=asker.tz))
        answers = [o.answer for o in told.outcomes if isinstance(o.answer, TankAnswer)]
        if told.status != "answered":
            asked.append(said)
        elif len(answers) != 1 or answers[0].tank_s != pytest.approx(seconds):
            wrong.append((said, told.reply))
    assert wrong == []
    assert len(asked) <= 0.03 * len(TABLE), asked


def test_in_an_incident_what_was_told_of_the_tank_is_logged_too(asker: Crosslay) -> None:
    """ "Half a tank, how long at 150" reports the gauge; "how long at 150 with half a tank" only asks."""
    for said, _ in TABLE:
        fire = Incident()
        fire.at("14:00", charge("crosslay_2"), "driver")
        context = build(asker.rig, asker.unit, fire.scene, role="driver", addressed=True)
        told = work_out(said, context, fire.log, asker.rig, Said(at=DAY, role="driver", unit=asker.unit, tz=asker.tz))
        logged = any(isinstance(e.body, TankRead) for o in told.outcomes for e in o.events if isinstance(e, Dated))
        if told.status == "answered":
            assert logged == (" with " not in said or said.endswith("crosslay 1")), said


def test_half_a_tank_at_150_gpm_is_one_minute_forty(asker: Crosslay) -> None:
    assert asker.answer("half a tank, how long at 150 gpm").reply.startswith("1:40 of tank.")
    assert asker.answer("half a tank, how long at 150 gpm").answer["tank_s"] == 100
    assert History().scene.open is False
