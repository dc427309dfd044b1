"""A metric rig's people are told metric units only: answers, questions, choices, reminders, the board, the record."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from bot.api import Crosslay
from bot.message.context import build
from bot.message.reply import Handled, work_out
from bot.settings import Settings
from grammar.commands import Role
from handlers.history import History
from handlers.incident.board import board
from handlers.incident.record import record
from handlers.outcome import Said
from handlers.reminders import due
from handlers.rig import Rig
from tests.grammar.corpus.loader import cases
from tests.handlers.fireground import DAY, RIGS

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
METRIC = RIGS / "example_metric.toml"
OTHER_UNITS = re.compile(
    r"\b(psi|gpm|gal|gallons?|ft|feet|foot|inch|inches|inHg|lbf|pounds?|lbs?|miles?|mi|fahrenheit)\b|°F"
    r"|[\d¼½¾⅛⅜⅝⅞] in\b(?! (the|a|an|all|use|rehab|quarters|one|five|\d+ min))",
    re.IGNORECASE,
)
ECHOED = re.compile(r"“[^”]*”|Dispatched .*$|taken in °F", re.MULTILINE)
"""What is told back in the words, or of the unit, that were said."""


@pytest.fixture(scope="module", params=["bar", "kPa"])
def asker(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Crosslay:
    file = tmp_path_factory.mktemp("rig") / "metric.toml"
    text = METRIC.read_text("utf-8").replace('pressure_unit = "bar"', f'pressure_unit = "{request.param}"')
    file.write_text(text, "utf-8")
    return Crosslay.of(Settings(rig=str(file), timezone="UTC"))


def shown(handled: Handled) -> Iterator[str]:
    """Every text that a person is shown for a message."""
    yield handled.reply
    yield handled.spoken
    question = handled.to_ask
    if question is not None:
        yield question.text
        yield from (choice.label for choice in question.choices)
    for outcome in handled.outcomes:
        yield from (notice.text for notice in outcome.notices)


def foreign(texts: Iterator[str] | list[str]) -> list[str]:
    return [text for text in texts if OTHER_UNITS.search(ECHOED.sub("", text))]


def test_whatever_is_asked_in_whatever_units(asker: Crosslay) -> None:
    """Every sentence of the corpus, most of them in other units, on the metric rig."""
    wrong = {}
    for number, case in enumerate(cases()):
        said = case.expected.say
        if not FULL and number % 25:
            continue
        if found := foreign(shown(asker.answer(said))):
            wrong[said] = found
    assert wrong == {}


def _told(asker: Crosslay, rig: Rig, script: str) -> Iterator[str]:
    """A whole incident: every reply, reminder, the board and the record on the way."""
    log, unit = History(), asker.unit
    for number, line in enumerate(script.splitlines()):
        minute, role, words = line.split(" ", 2)
        now = DAY + timedelta(minutes=float(minute))
        who: Role = "driver" if role == "driver" else "officer" if role == "officer" else "crew"
        said = Said(at=now, who=role, role=who, unit=unit, room="yard", message=f"m{number}", tz=asker.tz)
        handled = work_out(words, build(rig, unit, log.scene, role=who, addressed=True), log, rig, said)
        assert handled.status in ("answered", "asked"), (words, handled.reply)
        yield from shown(handled)
        log = handled.logs[-1]
        yield from (reminder.text for reminder in due(log.scene, rig, now))
        yield board(log.scene, rig, now, asker.tz).text
    yield from (row.text for row in record(log.events, rig, now, asker.tz).rows)


def test_a_whole_incident(asker: Crosslay) -> None:
    script = Path(__file__).with_name("metric_incident.txt").read_text("utf-8").strip()
    assert foreign(_told(asker, asker.rig, script)) == []


@pytest.mark.parametrize(
    ("said", "friction_kpa"),
    [
        ("100 m of 125 mm flowing 4000 lpm with a fog nozzle", 0.138 * 40**2 * 1),
        ("100 m of 100 mm flowing 2000 lpm with a fog nozzle", 0.305 * 20**2 * 1),
        ("60 m of 45 mm flowing 400 lpm", 24.4 * 4**2 * 0.6),
        ("80 m of 38 mm flowing 200 lpm", 38 * 2**2 * 0.8),
        ("80 m of 52 mm flowing 400 lpm", 11.8 * 4**2 * 0.8),
        ("100 m of 5 inch flowing 4000 lpm with a fog nozzle", 0.138 * 40**2 * 1),
    ],
)
def test_the_rigs_own_coefficient_for_each_of_its_hoses(asker: Crosslay, said: str, friction_kpa: float) -> None:
    """C of kPa = C · (L/min / 100)² · (m / 100), as the example rig's file has it."""
    line = asker.answer(said).answer["lines"][0]
    assert line["friction_psi"] * 6.894757293168361 == pytest.approx(friction_kpa, rel=1e-6)


@pytest.mark.parametrize(
    ("said", "reply"),
    [
        ("what does a 22 mm tip flow at 3.5 bar", "601 L/min, 266 N reaction"),
        ("pitot 2.5 bar on the 65 mm", "3,820 L/min"),
        ("D cylinder 150 at 15", "About 21 min of oxygen, by calculation."),
        (
            "2 litre oxygen cylinder, 150 bar, 4 L/min",
            "About 68 min of oxygen, by calculation.",
        ),  # (150 − 13.79) · 2 / 4
        ("supplying pump 4 through 100 m of 125 mm at 2000", "1.9 bar, 2,000 L/min to Pump 4"),
        ("supplying pump 4, 100 m of 125 mm, 2000", "1.9 bar, 2,000 L/min to Pump 4"),
        ("100 metres of 100 flowing 2000", "2.6 bar, 2,000 L/min"),  # supply: 0.305 · 20² · 1 kPa + 20 psi
        ("pump 4 is on scene", "Asked out of any incident: nothing was logged and nobody was told. It was read as:"),
    ],
)
def test_metric_words_are_read(said: str, reply: str) -> None:
    asker = Crosslay.of(Settings(rig=str(METRIC), timezone="UTC"))
    assert asker.answer(said).reply.splitlines()[0] == reply


def test_bar_of_one_gauge_is_bar_of_both() -> None:
    """(300 − 250) / 5 = 10 bar a minute; the alarm of the rig's cylinder at 1,500 psi = 103.4 bar."""
    for rig in (str(METRIC), ""):
        answer = Crosslay.of(Settings(rig=rig, timezone="UTC")).answer("300 bar to 250 in 5 minutes").answer
        assert answer["minutes_to_empty"] == pytest.approx(25, rel=1e-6)
        assert answer["minutes_to_alarm"] == pytest.approx((250 - 1500 / 14.503773773) / 10, rel=1e-6)


def test_a_fall_without_a_time_is_asked_how_long_it_took() -> None:
    asker = Crosslay.of(Settings(rig=str(METRIC), timezone="UTC"))
    question = asker.answer("300 bar to 250").question
    assert question is not None
    assert question.text == "300 bar to 250 bar in how many minutes?"


BARE = [
    ("supplying pump 4 through 100 m of 125 mm at {}", "L/min", 2000),
    ("60 metres of 45 mm flowing {}", "L/min", 400),
    ("60 metres of 45 mm at {}", "L/min", 400),
    ("what tip for {}", "L/min", 600),
    ("22 mm tip at {}", "L/min", 600),
    ("how far can I go with 45 mm at {}", "bar", 9),
    ("static {} bar residual 4 bar", "", 6),
    ("half a tank, how long at {}", "L/min", 400),
    ("how many tenders for {}, 8000 litres, 3 km", "L/min", 800),
]


@pytest.mark.parametrize(("said", "unit", "number"), BARE)
def test_a_bare_number_is_in_the_units_spoken_here(said: str, unit: str, number: float) -> None:
    """Said without its unit it is the same as with it, or asked about."""
    asker = Crosslay.of(Settings(rig=str(METRIC), timezone="UTC"))
    bare, whole = (asker.answer(said.format(n)) for n in (f"{number}", f"{number} {unit}"))
    assert whole.status == "answered", whole.reply
    assert bare.status == "asked" or bare.reply == whole.reply


FLOWS = re.compile(r"([\d,]+) L/min")


@pytest.mark.parametrize(
    "said", ["supply line 200 m of 125 mm", "70 mm line 100 metres", "100 m of 65 mm", "100 m of 100 mm with a nozzle"]
)
def test_the_flows_to_choose_from_are_round(said: str) -> None:
    question = Crosslay.of(Settings(rig=str(METRIC), timezone="UTC")).answer(said).question
    assert question is not None
    flows = [int(found[1].replace(",", "")) for choice in question.choices if (found := FLOWS.search(choice.label))]
    assert flows
    assert not [flow for flow in flows if flow % 5]


@pytest.mark.parametrize(
    "said", ["pump 4 entering with 3, lowest 280", "appliance 2 par of 3", "tell pump 4 to come out"]
)
def test_companies_are_called_pump_where_metric_is_spoken(said: str) -> None:
    reply = Crosslay.of(Settings(rig=str(METRIC), timezone="UTC")).answer(said).reply
    assert ("Pump 4" if "pump" in said else "Appliance 2") in reply
    assert "Pump 4" not in Crosslay.of(Settings(timezone="UTC")).answer(said).reply
