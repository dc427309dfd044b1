"""Charged, flowing, shut: three states of a line. The tank loses what flows and what fills hose, and nothing else."""

from __future__ import annotations

import math
import os
import random
from dataclasses import dataclass, field
from datetime import timedelta

import pytest

from grammar.commands import (
    Benchmark,
    Command,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    PumpPressure,
    SaidHose,
    SaidLay,
    SaidLine,
    SaidNozzle,
    Undo,
    WaterSource,
)
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge

FULL = os.environ.get("CROSSLAY_LAWS") == "full"

FLOWS = {"crosslay_1": 150.0, "crosslay_2": 150.0, "bumper_line": 150.0, "rear_line": 29.7 * 1.125**2 * 50**0.5}
"""gpm wide open (the demonstration rig; Q = 29.7·d²·√NP)."""


def _volume_gal(diameter_in: float, length_ft: float) -> float:
    """A cylinder's volume; a US gallon is 231 cubic inches by definition (NWCG Firefighter Math 3.1: 0.0408·d²·L)."""
    return math.pi / 4 * diameter_in**2 * 12 * length_ft / 231


FILLS = {
    "crosslay_1": _volume_gal(1.75, 200),
    "crosslay_2": _volume_gal(1.75, 200),
    "bumper_line": _volume_gal(1.75, 100),
    "rear_line": _volume_gal(2.5, 250),
}
PIPING_GPM, TANK_GAL = 500.0, 500.0


@dataclass
class Line:
    """A line as this test reckons it."""

    state: str = "packed"
    """packed, shut (its hose full), held (charged, nozzle shut) or flowing."""
    share: float = 1.0
    """Of its flow, where it is gated."""


@dataclass
class Reckoning:
    """A tank by the test's own book-keeping: one subtraction a second-long stretch, nothing of the program's."""

    gal: float = TANK_GAL
    on_tank: bool = True
    lines: dict[str, Line] = field(default_factory=lambda: {name: Line() for name in FLOWS})

    def flow(self) -> float:
        return sum(FLOWS[name] * line.share for name, line in self.lines.items() if line.state == "flowing")

    def passes(self, seconds: float) -> None:
        if self.on_tank:
            self.gal = max(0.0, self.gal - min(self.flow(), PIPING_GPM) * seconds / 60)

    def fills(self, gal: float) -> None:
        if self.on_tank:
            self.gal = max(0.0, self.gal - gal)


def _possible(book: Reckoning, rng: random.Random) -> tuple[Command, str]:
    """Something that can be said as things stand, with the book kept up."""
    name = rng.choice(list(FLOWS))
    line, ref = book.lines[name], LineRef(name=name)
    said = rng.choice(DOINGS[line.state])
    if said in ("charge", "charge_held"):
        if line.state == "packed":
            book.fills(FILLS[name])
        line.state, line.share = "held" if said == "charge_held" else "flowing", 1.0
        return LineOn(ref=ref, held=said == "charge_held"), said
    if said == "hold":
        line.state = "held"
        return LineChange(ref, flowing=False), said
    if said == "flow":
        line.state = "flowing"
        return LineChange(ref, flowing=True), said
    if said == "gate":
        line.share = rng.choice([0.5, 0.7, 0.9])
        return LineChange(ref, gate=True, gate_to_gpm=line.share * FLOWS[name]), said
    if said == "full_open":
        line.state, line.share = "flowing", 1.0
        return LineChange(ref, full_open=True), said
    if said == "shut":
        line.state, line.share = "shut", 1.0
        return LineOff(ref), said
    if said == "drain":
        line.state, line.share = "packed", 1.0
        return LineOff(ref, drained=True), said
    if said == "gauge":
        book.gal = rng.choice([125.0, 250.0, 500.0])
        return WaterSource(tank_gal=book.gal), said
    book.on_tank = not book.on_tank
    return WaterSource(source="tank" if book.on_tank else "hydrant"), said


ANYTIME = ["gauge", "source"]
DOINGS = {
    "packed": ["charge", "charge", "charge_held", *ANYTIME],
    "shut": ["charge", "charge_held", "full_open", "drain", *ANYTIME],
    "held": ["flow", "full_open", "gate", "shut", "drain", "hold", "charge", *ANYTIME],
    "flowing": ["hold", "hold", "gate", "full_open", "shut", "drain", "flow", *ANYTIME],
}


def test_any_course_of_the_lines_leaves_in_the_tank_what_an_independent_integral_leaves() -> None:
    """Charge, hold, flow, gate, reopen, shut, drain, gauge and source in any order, on any lines, at any times."""
    rng = random.Random(12)
    for _ in range(2000 if FULL else 40):
        fire, book, now = Incident(), Reckoning(), DAY
        fire.at(now, Benchmark("on_scene"))
        story = []
        for _ in range(rng.randint(2, 14)):
            wait = rng.choice([0, 1, 7, 20, 60])
            now += timedelta(seconds=wait)
            book.passes(wait)
            before = {name: (line.state, line.share) for name, line in book.lines.items()}
            command, said = _possible(book, rng)
            if said == "charge" and (held := [n for n, (state, _) in before.items() if state == "held"]):
                # "charged" of a line that stands charged with its nozzle shut says nothing new
                name = command.ref.name if isinstance(command, LineOn) and command.ref else None
                if name in held:
                    book.lines[name].state, book.lines[name].share = before[name]
            told = fire.at(now, command, "driver")
            story.append((wait, said, command))
            assert (told.refused, told.question) == (None, None), story
            assert fire.pump.gallons_at(now) == pytest.approx(book.gal, abs=1e-6), story
            assert fire.pump.flow_gpm == pytest.approx(book.flow(), abs=1e-6), story
            states = {line.name: "held" if line.held else "flowing" for line in fire.pump.lines}
            assert states == {n: x.state for n, x in book.lines.items() if x.state in ("held", "flowing")}, story


def test_while_a_line_is_charged_its_pressure_is_held() -> None:
    """Whatever the nozzles do, the pump is to give what the highest charged line needs."""
    rng = random.Random(7)
    wide_open = {"crosslay_1": 169.75, "crosslay_2": 169.75, "bumper_line": 134.875}
    for _ in range(300 if FULL else 15):
        fire = Incident()
        fire.at("14:00", Benchmark("on_scene"))
        names = rng.sample(list(wide_open), rng.randint(1, 3))
        for name in names:
            fire.at("14:01", charge(name), "driver")
        for _ in range(6):
            change = LineChange(LineRef(name=rng.choice(names)), flowing=rng.random() < 0.5)
            fire.at("14:02", change, "driver")
            highest = max(line.pressure_psi for line in fire.pump.lines)
            assert highest == pytest.approx(max(wide_open[name] for name in names))
            flows = sum(not line.held for line in fire.pump.lines) * 150.0
            assert fire.pump.flow_gpm == flows


def test_charged_with_the_nozzle_shut_takes_the_hose_and_no_more() -> None:
    fire = Incident()
    told = fire.at("14:05", LineOn(ref=LineRef(name="crosslay_1"), held=True), "driver")
    assert told.lead == "170 psi, nothing flowing: Crosslay 1 charged, not flowing."
    assert told.how[0] == "Tank 475 gal, nothing flowing."
    assert "Pressure with nothing flowing heats the pump: recirculate (common practice)." in told.cautions
    assert fire.pump.gallons_at(fire.now + timedelta(minutes=10)) == pytest.approx(TANK_GAL - FILLS["crosslay_1"])
    assert fire.due("14:05", "tank_half", "tank_minute", "tank_empty") == []
    opened = fire.at("14:08", LineChange(LineRef(), flowing=True), "driver")
    assert opened.lead == "170 psi, 150 gpm: Crosslay 1 flowing again."


def test_nobodys_flowing_is_of_every_line_and_flowing_again_asks_which() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", charge("crosslay_2"), "driver")
    told = fire.at("14:06", LineChange(LineRef(all=True), flowing=False), "driver")
    assert told.answer_json["flow_gpm"] == 0
    assert [line["flow_gpm"] for line in told.answer_json["lines"]] == [0, 0]
    assert told.answer_json["pump_pressure_psi"] == pytest.approx(169.75)
    asked = fire.at("14:07", LineChange(LineRef(), flowing=True), "driver")
    assert asked.question is not None
    assert [choice.label for choice in asked.question.choices] == ["Crosslay 1", "Crosslay 2", "All of them"]


@pytest.mark.parametrize(
    "again",
    [
        LineChange(LineRef(), full_open=True),
        LineChange(LineRef(name="crosslay_1"), full_open=True),
        PumpPressure((SaidLay(lines=(SaidLine(name="crosslay_1", nozzle=SaidNozzle(flow_gpm=150)),)),)),
    ],
    ids=["open it back up", "crosslay 1 full open", "crosslay 1, 150 gpm"],
)
def test_a_gate_is_undone(again: Command) -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", LineChange(LineRef(name="crosslay_1"), gate=True, gate_to_gpm=100), "driver")
    assert fire.pump.flow_gpm == pytest.approx(100)
    told = fire.at("14:06:30", again, "driver")
    assert told.intent == "line_change"
    line = fire.pump.lines[0]
    assert (line.flow_gpm, line.pressure_psi, line.gated) == (pytest.approx(150), pytest.approx(169.75), False)


def test_a_bare_line_with_more_than_it_flows_only_asks() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    asked = PumpPressure((SaidLay(lines=(SaidLine(name="crosslay_1", nozzle=SaidNozzle(flow_gpm=125)),)),))
    assert fire.at("14:06", asked, "driver").intent == "pump_pressure"
    assert fire.pump.flow_gpm == 150


def test_opened_again_a_gate_that_was_not_spoken_of_stays() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", LineChange(LineRef(), gate=True, gate_to_gpm=100), "driver")
    fire.at("14:06", LineChange(LineRef(), flowing=False), "driver")
    told = fire.at("14:07", LineChange(LineRef(), flowing=True), "driver")
    assert fire.pump.flow_gpm == pytest.approx(100)
    assert "Crosslay 1 is still gated to 100 gpm: say “full open” when it isn't." in told.how


def test_the_leg_of_a_wye_whose_nozzle_is_shut_takes_nothing_through_the_feed() -> None:
    """400 ft of 3 in (C 0.8) to two 150 ft 1¾ in (C 15.5) legs, 150 gpm each, fog at 100 psi."""
    leg = SaidLine(count=2, hose=(SaidHose(1.75, 150),))
    fire = Incident()
    fire.at("14:05", LineOn(lay=SaidLay(feed=(SaidHose(3.0, 400),), split="wye", lines=(leg,))), "driver")
    own = 100 + 15.5 * 1.5**2 * 1.5
    both, one = own + 0.8 * 3**2 * 4, own + 0.8 * 1.5**2 * 4
    assert fire.pump.lines[0].pressure_psi == pytest.approx(both)
    fire.at("14:06", LineChange(LineRef(order=1), flowing=False), "driver")
    assert [line.pressure_psi for line in fire.pump.lines] == [pytest.approx(one)] * 2
    assert fire.pump.flow_gpm == 150
    fire.at("14:07", LineChange(LineRef(order=1), flowing=True), "driver")
    assert [line.pressure_psi for line in fire.pump.lines] == [pytest.approx(both)] * 2


def test_a_longer_stretch_of_a_line_that_was_shut_fills_only_what_was_added() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", LineOff(LineRef(name="crosslay_1")), "driver")
    before = fire.pump.tank_gal
    longer = SaidLay(lines=(SaidLine(name="crosslay_1", hose=(SaidHose(1.75, 300),)),))
    fire.at("14:05", LineOn(lay=longer), "driver")
    assert before - fire.pump.tank_gal == pytest.approx(_volume_gal(1.75, 100))


def test_a_drained_line_is_filled_anew_also_when_it_is_said_after_it_was_shut() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", LineOff(LineRef(name="crosslay_1")), "driver")
    told = fire.at("14:06", LineOff(LineRef(name="crosslay_1"), drained=True), "driver")
    assert told.lead == "Crosslay 1 drained: filled anew when charged."
    before = fire.pump.tank_gal
    fire.at("14:07", charge("crosslay_1"), "driver")
    assert before - fire.pump.tank_gal == pytest.approx(FILLS["crosslay_1"])


def test_a_length_is_the_rigs_own() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:05", LineChange(LineRef(), add_lengths=2), "driver")
    assert fire.pump.lines[0].length_ft == 300


def test_an_undo_brings_the_nozzle_back() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", LineChange(LineRef(), flowing=False), "driver")
    fire.at("14:07", Undo(), "driver")
    assert fire.pump.flow_gpm == 150
    assert fire.pump.gallons_at(fire.now) == pytest.approx(TANK_GAL - FILLS["crosslay_1"] - 2 * 150)


@pytest.mark.parametrize("gun", ["deck_gun"])
def test_the_tank_falls_by_no_more_than_its_piping_gives(gun: str) -> None:
    fire = Incident()
    told = fire.at("14:05", charge(gun), "driver")
    assert told.answer_json["flow_gpm"] > PIPING_GPM
    assert told.answer_json["tank_s"] == pytest.approx(60)
    assert fire.times("14:05", "tank_empty") == ["14:06:00"]
    assert any("tank-to-pump piping" in caution for caution in told.cautions)
