"""A rig's own lines, units, streets and slang are words at once; slang that already means something is refused."""

from __future__ import annotations

import pytest

from grammar import commands as c
from grammar.commands import Context, RigLine
from grammar.reader import read
from grammar.vocabulary import SlangError, check_slang

RIG = Context(
    rig_lines=(
        RigLine(key="blue_line", names=("blue line", "the bluebell"), hose_in=1.75, length_ft=150),
        RigLine(key="trash_line", names=("trash line", "jumper line"), hose_in=1.5, length_ft=100),
    ),
    own_unit="engine 71",
    units_known=("engine 71", "quint 3"),
    crews=("bravo crew",),
    people=("mina sorvik",),
    streets=("larkspur lane",),
    slang=(("the noodle", "inch and three quarter"), ("squirt", "charge")),
    addressed=True,
    incident_open=True,
)


def asked_line(said: str) -> c.SaidLine:
    (command,) = read(said, RIG).commands
    assert isinstance(command, c.PumpPressure)
    return command.lays[0].lines[0]


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("blue line second floor", "blue_line"),
        ("bluebell, second floor", "blue_line"),
        ("jumper line second floor", "trash_line"),
    ],
)
def test_a_line_by_its_name_or_nickname(said: str, key: str) -> None:
    line = asked_line(said)
    assert (line.name, line.floor) == (key, 2)


def test_a_misspelt_nickname() -> None:
    assert asked_line("blubell second floor").name == "blue_line"


def test_another_rigs_line_is_asked_about() -> None:
    assert read("crosslay one", RIG).question is not None


def test_slang_means_what_the_rig_file_says() -> None:
    assert asked_line("200 feet of the noodle").hose[0].hose_in == 1.75
    assert read("squirt the blue line", RIG).commands == (c.LineOn(c.LineRef(name="blue_line")),)


def test_units_and_crews_of_the_incident() -> None:
    assert read("quint 3 on scene", RIG).commands == (c.Benchmark("on_scene", unit="quint 3"),)


@pytest.mark.parametrize(
    ("said", "means", "told"),
    [
        ("crosslay", "deck gun", "crosslay"),
        ("mayday", "status", "Mayday"),
        ("fifty", "crosslay", "fifty"),
        ("wiggly", "qwrtz", "qwrtz"),
        ("...", "crosslay", "..."),
    ],
)
def test_slang_that_clashes_names_the_word(said: str, means: str, told: str) -> None:
    with pytest.raises(SlangError, match=told):
        check_slang([(said, means)])


def test_slang_of_its_own_is_fine() -> None:
    check_slang([("the noodle", "inch and three quarter"), ("squirt", "charge")])


@pytest.mark.parametrize(
    ("said", "unit"),
    [
        ("71's on scene", "engine 71"),
        ("71 is en route", "engine 71"),
        ("loss stopped, 71's available", "engine 71"),
        ("with 71 on scene", None),
        ("at 71 available", None),
    ],
)
def test_the_own_unit_by_its_bare_number(said: str, unit: str | None) -> None:
    reports = [command for command in read(said, RIG).commands if isinstance(command, c.Benchmark)]
    assert [report.unit for report in reports if report.unit is not None] == ([unit] if unit else [])
