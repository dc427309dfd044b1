"""The incident as a screen draws it: absolute times, the tank's figure ahead, and what each touched button says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from bot import rigs
from bot.incident import Incident
from grammar.commands import Benchmark, Context, Undo
from grammar.reader import read
from handlers.history import History
from handlers.incident.describing import BENCHMARK_WORDS
from handlers.incident.glance import OF_A_FIRE, OF_A_MEDICAL_RUN, Glance, glance, words_for
from handlers.words import Words

START = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
KNOWN = rigs.load()


async def said(*lines: str) -> tuple[History, datetime]:
    """The log of what is said, ten seconds apart; and when the last of it was."""
    incident = await Incident.open(KNOWN, UTC, START)
    try:
        for number, line in enumerate(lines):
            incident.clock.move_to(START + timedelta(seconds=10 * number))
            who, _, words = line.partition(": ")
            await incident.say(who, words)
        return await incident.history(), incident.clock.now()
    finally:
        await incident.close()


def look(history: History, at: datetime) -> Glance:
    return glance(history.scene, KNOWN.own, KNOWN.own_unit, at, UTC)


async def test_the_pump_at_a_glance() -> None:
    history, at = await said("driver: charge crosslay 1", "driver: charge the rear line")
    (pump,) = look(history, at).pumps
    assert (pump.hold, pump.hold_unit, pump.hold_for) == ("170", "psi", "Crosslay 1")
    assert [(line.label, line.state, line.governs) for line in pump.lines] == [
        ("Crosslay 1", "flowing", True),
        ("Rear line", "flowing", False),
    ]
    assert "100 nozzle + 70 friction" in pump.lines[0].why[1]


async def test_the_tanks_figure_is_told_ahead_and_is_the_handlers_at_every_step() -> None:
    history, at = await said("driver: charge crosslay 1")
    (pump,) = look(history, at).pumps
    known = history.scene.pumps[KNOWN.own_unit]
    words = Words.of(KNOWN.own)
    assert pump.empty_at == known.empty_at()
    assert len(pump.tank) > 100
    for step in pump.tank:
        assert step.text == words.gal(known.gallons_at(step.at))
        assert step.share == pytest.approx(known.gallons_at(step.at) / known.usable_gal, abs=1e-4)
    assert pump.tank[-1].text == "0 gal"
    assert all(later.at > step.at for step, later in zip(pump.tank, pump.tank[1:], strict=False))


async def test_on_the_hydrant_the_figure_stands() -> None:
    history, at = await said("driver: charge crosslay 1", "driver: on the hydrant")
    (pump,) = look(history, at).pumps
    assert (pump.source, pump.empty_at, len(pump.tank)) == ("On the hydrant", None, 1)


async def test_clocks_and_air_are_absolute_times() -> None:
    history, at = await said("officer: on scene", "officer: engine 9 going in with 2, lowest gauge 4400")
    seen = look(history, at)
    assert [(one.label, one.since) for one in seen.clocks] == [("On scene", START)]
    (crew,) = seen.inside
    assert crew.entered_at == START + timedelta(seconds=10)
    assert (crew.count, crew.gauge, crew.alarm_words) == (2, "4,400 psi", "Alarm as early as")
    assert crew.alarm_at > at
    assert seen.coming
    assert all(one.at > at for one in seen.coming)


async def test_a_closed_incident_stands_still() -> None:
    history, at = await said("officer: on scene", "driver: charge crosslay 1", "driver: shut down crosslay 1",
                             "officer: command terminated")  # fmt: skip
    assert history.scene.closed_at is not None
    assert look(history, at + timedelta(hours=1)) == look(history, history.scene.closed_at)


async def test_a_mayday_is_the_alert_with_its_time_and_no_verdict_is_spoken() -> None:
    history, at = await said("officer: on scene", "officer: mayday mayday mayday, engine 9")
    seen = look(history, at)
    assert seen.alert.startswith("MAYDAY")
    assert seen.alert_since == START + timedelta(seconds=10)


@pytest.mark.parametrize("benchmark", [*dict.fromkeys((*OF_A_FIRE, *OF_A_MEDICAL_RUN))])
def test_a_touched_benchmark_is_read_as_it_and_its_undo_takes_it_back(benchmark: str) -> None:
    words = BENCHMARK_WORDS[benchmark]
    context = Context(incident_open=True, group=True, addressed=True, own_unit="engine 12")
    (command,) = read(words, context).commands
    assert isinstance(command, Benchmark)
    assert command.benchmark == benchmark
    (undo,) = read(f"undo {words.casefold()}", context).commands
    assert isinstance(undo, Undo)
    assert undo.benchmark == benchmark


TOUCHES = (("shut", "shut"), ("gate", "gated"), ("close_nozzle", "held"))


@pytest.mark.parametrize(("doing", "state"), TOUCHES)
@pytest.mark.parametrize("number", [1, 2, 3])
async def test_what_a_touched_button_says_does_it_to_that_line_alone(doing: str, state: str, number: int) -> None:
    opened = (
        "driver: charge crosslay 1",
        "driver: 200 feet of 1.75, charged",
        "driver: 250 feet of 2.5 flowing 250, charged",
    )
    history, _ = await said(*opened)
    words = words_for(doing, number, history.scene.pumps[KNOWN.own_unit], KNOWN.own, 90.0)
    assert words is not None
    history, _at = await said(*opened, f"driver: {words}")
    pump = history.scene.pumps[KNOWN.own_unit]
    states = {line.number: "held" if line.held else "gated" if line.gated else "flowing" for line in pump.lines}
    assert states.get(number, "shut") == state
    assert [states.get(other, "shut") for other in (1, 2, 3) if other != number] == ["flowing", "flowing"]


@pytest.mark.parametrize("who", ["driver", "officer", "crew"])
@pytest.mark.parametrize("number", [1, 2, 3])
async def test_the_one_line_whose_nozzle_is_shut_flows_again_by_a_touch(number: int, who: str) -> None:
    opened = (
        "driver: charge crosslay 1",
        "driver: 200 feet of 1.75, charged",
        "driver: 250 feet of 2.5 flowing 250, charged",
        f"driver: line {number}'s nozzle is shut",
    )
    history, at = await said(*opened)
    (pump,) = look(history, at).pumps
    assert [line.number for line in pump.lines if "flow" in line.doings] == [number]
    words = words_for("flow", number, history.scene.pumps[KNOWN.own_unit], KNOWN.own)
    assert words is not None
    history, _at = await said(*opened, f"{who}: {words}")
    assert [line.held for line in history.scene.pumps[KNOWN.own_unit].lines] == [False, False, False]


async def test_of_two_nozzles_that_are_shut_a_line_without_a_name_is_to_be_said_in_words() -> None:
    history, at = await said("driver: 200 feet of 1.75, charged", "driver: 250 feet of 2.5 flowing 250, charged",
                             "driver: line 1's nozzle is shut", "driver: line 2's nozzle is shut")  # fmt: skip
    (pump,) = look(history, at).pumps
    assert not any("flow" in line.doings for line in pump.lines)
    assert words_for("flow", 1, history.scene.pumps[KNOWN.own_unit], KNOWN.own) is None


async def test_a_line_that_is_no_longer_so_says_nothing() -> None:
    history, _ = await said("driver: charge crosslay 1", "driver: shut down crosslay 1")
    pump = history.scene.pumps[KNOWN.own_unit]
    assert words_for("shut", 1, pump, KNOWN.own) is None
    assert words_for("charge", 1, pump, KNOWN.own) == "charge crosslay 1"
    assert words_for("charge", 7, pump, KNOWN.own) is None
    assert words_for("blow up", 1, pump, KNOWN.own) is None
