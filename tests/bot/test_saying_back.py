"""Spoken answers: the number first, then what it is for; pressures digit by digit."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from bot import rigs
from bot.asking import Asker
from bot.saying_back import said_back
from bot.settings import Settings
from bot.speech.voice import as_spoken
from grammar.commands import AirTime, Correction, OxygenTime, TankTime
from handlers.rig import Rig
from handlers.words import Words, digit_by_digit, said_aloud

SPELLED = {"0": "zero", "1": "one", "2": "two", "3": "three", "4": "four",
           "5": "five", "6": "six", "7": "seven", "8": "eight", "9": "nine"}  # fmt: skip


@pytest.fixture(scope="module")
def asker() -> Asker:
    return Asker(Settings())


@pytest.fixture
def rig() -> Rig:
    return rigs.load().own


@pytest.mark.parametrize(
    ("asked", "spoken"),
    [
        ("two lines, 200 feet, 1.75, second floor",
         "1 7 5, 2 lines of 200 ft of 1¾ inch, second floor. 300 gallons. Tank 1 minute 40."),
        ("crosslay 1", "1 7 0, crosslay 1. 150 gallons. Tank 3 minutes 20."),
        ("rear line third floor", "9 5, rear line, third floor. 266 gallons. Tank 1 minute 52."),
        ("what does the rear line flow at 120 psi", "315 gpm, 70 psi at the nozzle, at 120 psi through rear line."),
        ("how long does the tank last at 300 gpm", "Tank 1 minute 40, at 300 gpm."),
        ("hydrant static 70 residual 60", "The same flow twice more, hydrant: static 70 psi, residual 60 psi."),
        ("oxygen D cylinder 1500 psi at 15 liters",
         "Oxygen about 13 minutes, D cylinder, 1500 psi, at 15 litres."),
    ],
)  # fmt: skip
def test_the_number_comes_first_then_what_it_is_for(asker: Asker, asked: str, spoken: str) -> None:
    assert asker.answer(asked).spoken == spoken


LENGTHS, SIZES = (50, 100, 150, 200, 250, 400), ((1.5, "1½"), (1.75, "1¾"), (2.5, "2½"))


def test_every_spoken_pressure_names_its_lay(asker: Asker) -> None:
    """Law: lengths × sizes × floors: the digits of the pressure, then length, size and floor as they were said."""
    for length in LENGTHS:
        for size, called in SIZES:
            for floor, where in ((1, ""), (2, "second floor"), (6, "sixth floor")):
                handled = asker.answer(f"{length} feet of {size:g} flowing 125" + (f", {where}" if where else ""))
                number, _, rest = handled.spoken.partition(", ")
                psi = int(handled.answer["pump_pressure_psi"] + 0.5)
                assert number == " ".join(str(psi)), handled.spoken
                assert f"{length} ft of {called} inch" in rest, (floor, handled.spoken)
                assert where in rest


def test_every_pressure_is_said_digit_by_digit(rig: Rig) -> None:
    """Law: every whole pressure that a pump or a cylinder shows, with and without its unit."""
    for psi in (*range(1, 400), *range(400, 5600, 50)):
        digits = [SPELLED[sign] for sign in str(psi)]
        assert [SPELLED[sign] for sign in Words.of(rig).psi_said(psi).split()] == digits
        aloud = as_spoken(said_aloud(f"Gate Crosslay 1 to {psi:,} psi, 150 gpm.", rig))
        assert aloud == f"Gate Crosslay 1 to {' '.join(str(psi))} P S I, 1 50 gallons a minute."


@pytest.mark.parametrize(
    ("written", "said"),
    [("12.1", "1 2 point 1"), ("1,210", "1 2 1 0"), ("115", "1 1 5"), ("0.7", "0 point 7")],
)
def test_decimals_and_thousands(written: str, said: str) -> None:
    assert digit_by_digit(written) == said


def test_bar_and_kilopascals_too(rig: Rig) -> None:
    assert said_aloud("12.1 bar, 1,210 kPa, 300 gpm", rig) == "1 2 point 1 bar, 1 2 1 0 kPa, 300 gpm"


def test_a_department_may_have_them_said_as_numbers(rig: Rig, tmp_path: Path) -> None:
    demo = Path(rigs.__file__).with_name(rigs.DEMONSTRATION).read_text("utf-8")
    own = tmp_path / "rig.toml"
    own.write_text('spoken_pressures = "numbers"\n' + demo, "utf-8")
    assert Asker(Settings(rig=str(own))).answer("crosslay 1").spoken.startswith("170, crosslay 1.")
    assert as_spoken(said_aloud("115 psi", rigs.load(own).own)) == "1 15 P S I"
    assert Words.of(msgspec.structs.replace(rig, spoken_pressures="numbers")).psi_said(115) == "115"


@pytest.mark.parametrize(
    ("spoken", "command", "said"),
    [
        ("Tank 1 minute 40.", TankTime(), "Tank 1 minute 40."),
        ("Tank 1 minute 40.", Correction((TankTime(flow_gpm=300),)), "Tank 1 minute 40, at 300 gpm."),
        ("Alarm in about 6 minutes. Turn around by 2250.", AirTime(gauge_psi=3000),
         "Alarm in about 6 minutes, from 3000 psi. Turn around by 2250."),
        ("Oxygen about 9 minutes.", OxygenTime(), "Oxygen about 9 minutes."),
        ("", TankTime(flow_gpm=300), ""),
    ],
)  # fmt: skip
def test_nothing_is_said_back_that_was_not_said(spoken: str, command: TankTime, said: str) -> None:
    assert said_back(spoken, command) == said


def test_what_is_said_back_is_in_the_rigs_units() -> None:
    metric = Path(rigs.__file__).with_name("example_metric.toml")
    spoken = Asker(Settings(rig=str(metric))).answer("60 metres of 45 mm flowing 475").spoken
    assert re.match(r"9 point 3, 60 m of .*, 475 L/min\. 475 litres\.", spoken)
