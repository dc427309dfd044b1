"""Spoken answers: the number first, then what it is for; pressures digit by digit."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from bot import rigs
from bot.api import Crosslay
from bot.message.aloud import asked_aloud, said_back
from bot.settings import Settings
from bot.speech.voice import EspeakVoice, as_spoken
from grammar.commands import AirTime, Choice, Correction, OxygenTime, Question, TankTime
from handlers.rig import Rig
from handlers.words import Words, digit_by_digit, said_aloud

SPELLED = {"0": "zero", "1": "one", "2": "two", "3": "three", "4": "four",
           "5": "five", "6": "six", "7": "seven", "8": "eight", "9": "nine"}  # fmt: skip


@pytest.fixture(scope="module")
def asker() -> Crosslay:
    return Crosslay.of(Settings())


@pytest.fixture
def rig() -> Rig:
    return rigs.load().own


@pytest.mark.parametrize(
    ("asked", "spoken"),
    [
        ("two lines, 200 feet, 1.75, second floor",
         "1 7 5, 2 lines of 200 ft of 1¾, second floor. 300 gallons. Tank 1 minute 40."),
        ("crosslay 1", "1 7 0, crosslay 1. 150 gallons. Tank 3 minutes 20."),
        ("rear line third floor", "9 5, rear line, third floor. 266 gallons. Tank 1 minute 52."),
        ("what does the rear line flow at 120 psi", "315 gpm, 70 psi at the nozzle, at 120 psi through rear line."),
        ("how long does the tank last at 300 gpm", "Tank 1 minute 40, at 300 gpm."),
        ("hydrant static 70 residual 60", "The same flow twice more, static 70 psi, residual 60 psi."),
        ("150 feet of 2.5 flowing 250 on the tenth floor",
         "1 6 4, 150 ft of 2½, tenth floor. 250 gallons. Tank 2 minutes."),
        ("supplying engine 9, 500 feet of 5 inch, 1000 gpm", "6 0, supply to engine 9, 500 ft of 5 inch, 1000 gpm."),
        ("5 inch, 600 feet, 1000 gpm, friction loss", "48 psi friction, 1,000 gpm, supply, 600 ft of 5 inch."),
        ("how far can I stretch inch and three quarter at 200 psi flowing 150",
         "286 ft, 1¾ hose, 150 gpm at 200 psi."),
        ("can I draft 15 feet", "15.0 ft: yes, 22.5 ft at most"),
        ("how many tenders for 500 gpm, 2000 gallons, two miles", "4 tenders for 500 gpm"),
        ("needed fire flow 40 by 30", "400 gpm by L × W / 3, 40 ft by 30 ft."),
        ("what tip for 250 gpm", "1⅛ in tip, 266 gpm, tip for 250 gpm."),
        ("oxygen D cylinder 1500 psi at 15 liters",
         "Oxygen about 13 minutes, D cylinder, 1500 psi, at 15 litres."),
    ],
)  # fmt: skip
def test_the_number_comes_first_then_what_it_is_for(asker: Crosslay, asked: str, spoken: str) -> None:
    assert asker.answer(asked).spoken == spoken


LENGTHS, SIZES = (50, 100, 150, 200, 250, 400), ((1.5, "1½"), (1.75, "1¾"), (2.5, "2½"))


def test_every_spoken_pressure_names_its_lay(asker: Crosslay) -> None:
    """Law: lengths × sizes × floors: the digits of the pressure, then length, size and floor as they were said."""
    for length in LENGTHS:
        for size, called in SIZES:
            for floor, where in ((1, ""), (2, "second floor"), (6, "sixth floor")):
                handled = asker.answer(f"{length} feet of {size:g} flowing 125" + (f", {where}" if where else ""))
                number, _, rest = handled.spoken.partition(", ")
                psi = int(handled.answer["pump_pressure_psi"] + 0.5)
                assert number == " ".join(str(psi)), handled.spoken
                assert f"{length} ft of {called}" in rest, (floor, handled.spoken)
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
    assert Crosslay.of(Settings(rig=str(own))).answer("crosslay 1").spoken.startswith("170, crosslay 1.")
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
    assert said_back(spoken, command, {}) == said


def test_what_is_said_back_is_in_the_rigs_units() -> None:
    metric = Path(rigs.__file__).with_name("example_metric.toml")
    spoken = Crosslay.of(Settings(rig=str(metric))).answer("60 metres of 45 mm flowing 475").spoken
    assert re.match(r"9 point 3, 60 m of [^.]*mm\. 475 litres\.", spoken)


def test_of_several_lines_the_highest_is_said_whatever_their_order(asker: Crosslay) -> None:
    lines = ["250 feet of 1.75 flowing 150 ninth floor", "150 feet of 2.5 flowing 250", "150 feet of 1.75 flowing 125"]
    for turn in range(len(lines)):
        spoken = asker.answer(", ".join(lines[turn:] + lines[:turn])).spoken
        assert spoken.startswith("2 2 7, 3 lines, the highest 250 ft of 1¾, 150 gpm, ninth floor. 525 gallons."), turn


@pytest.mark.parametrize(
    ("asked", "limit"),
    [
        ("150 feet of 2.5 flowing 250, 150 feet of 2.5 flowing 300", "550 gpm is above what the tank-to-pump piping"),
        ("300 feet of 1.75 flowing 200", "is above the operating pressure of 1.75 in attack hose"),
    ],
)
def test_a_limit_that_is_passed_is_said_aloud(asker: Crosslay, asked: str, limit: str) -> None:
    number, _, rest = asker.answer(asked).spoken.partition(", ")
    assert re.fullmatch(r"(\d )*\d", number)
    assert limit in rest


class Doing(dict[str, Choice]):
    """Choices that do something, by their label."""

    def __missing__(self, label: str) -> Choice:
        return Choice(label, (TankTime(flow_gpm=100 + len(label)),))


WORKED, NOTHING = Doing(), Choice("none of these")


@pytest.mark.parametrize(
    ("question", "aloud"),
    [
        (Question("All clear on the primary or the secondary search?", (WORKED["primary"], WORKED["secondary"])),
         "All clear on the primary or the secondary search?"),
        (Question("Which is meant?", (WORKED["pressure for 2 × 200 ft of 1¾ in"], WORKED["tank time"], NOTHING)),
         "Which is meant? Number 1: 2 lines of 200 ft of 1¾. Number 2: tank time."),
        (Question("Terminate command?", (WORKED["Terminate anyway"], Choice("Not yet"))), "Terminate command?"),
        (Question("At what flow?", (WORKED["500 gpm"], WORKED["750 gpm"]), TankTime(), "flow_gpm"), "At what flow?"),
        (Question("Which?", tuple(WORKED[str(place)] for place in range(9))),
         "Which? The choices are on the screen."),
    ],
)  # fmt: skip
def test_a_question_tells_its_choices_where_it_doesnt_name_them(question: Question, aloud: str) -> None:
    assert asked_aloud(question) == aloud


LONGEST_S = 4.0
"""Of the first sentence; a lay with count and floor takes five."""


@pytest.mark.parametrize(
    "asked",
    ["crosslay 1", "rear line, third floor", "200 feet of 1.75", "150 feet of 2.5 flowing 250", "deck gun",
     "how long will the tank last at 300 gpm"],
)  # fmt: skip
def test_the_number_and_what_it_is_for_take_four_seconds_at_most(asker: Crosslay, rig: Rig, asked: str) -> None:
    first, *_ = re.split(r"\. ", said_aloud(asker.answer(asked).spoken, rig))
    assert EspeakVoice().speak(first).seconds <= LONGEST_S, first
