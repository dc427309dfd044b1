"""What is said of a line that is charged: flowing, nozzle shut, gated, open in full; what is only asked of the pump."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from grammar.commands import (
    Context,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    LineSeen,
    Request,
    RigLine,
    Role,
    WaterSource,
)
from grammar.reader import read

SAID: dict[str, list[str]] = tomllib.loads(Path(__file__).with_name("line_states.toml").read_text("utf-8"))
LINES = {"crosslay_1": "crosslay 1", "rear_line": "rear line"}


def context(*on: LineSeen, role: Role = "driver") -> Context:
    """An incident in which these lines are on."""
    carried = tuple(RigLine(key, (name,), 1.75, 200) for key, name in LINES.items())
    return Context(rig_lines=carried, own_unit="engine 12", role=role, incident_open=True, lines=on)


def seen(name: str, number: int = 1, *, held: bool = False, gated: bool = False) -> LineSeen:
    return LineSeen(number, name, 1.75, 200, 150, held=held, gated=gated)


ONE = LineRef(), LineRef(name="crosslay_1"), LineRef(seq=1)
"""The only line that is on, however the reader points at it; the handler finds it."""
STATES = [
    *((words, LineChange(LineRef(), flowing=False)) for words in SAID["held"]),
    *((words, LineChange(LineRef(), flowing=True)) for words in SAID["flowing"]),
    *((words, LineChange(LineRef(), full_open=True)) for words in SAID["full"]),
]


def _without_ref(command: object) -> tuple[object, ...]:
    assert isinstance(command, LineChange), command
    return command.flowing, command.full_open, command.gate, command.nozzle_psi_change, command.add_ft


@pytest.mark.parametrize(("words", "change"), STATES, ids=[words for words, _ in STATES])
def test_said_by_itself_it_is_of_the_line_that_can_be_meant(words: str, change: LineChange) -> None:
    on = seen("crosslay_1", held=bool(change.flowing), gated=change.full_open)
    reading = read(words, context(on))
    assert len(reading.commands) == 1, (reading.question, reading.declined)
    command = reading.commands[0]
    assert _without_ref(command) == _without_ref(change)
    assert isinstance(command, LineChange)
    assert command.ref in ONE


NAMED = [
    (pattern.format(line=name, words=words), key, change)
    for words, change in STATES
    if not words.startswith(("charged", "they", "the ", "is "))
    for key, name in LINES.items()
    for pattern in ("{line} {words}", "{line}, {words}", "{line} is {words}")
    if not (
        pattern.startswith("{line} is") and words.split()[0] in ("nozzle's", "nozzle", "bail's", "gate's", "no", "shut")
    )
]


def test_said_with_its_name_it_is_of_that_line() -> None:
    """Every wording with every line's name before it, while two lines are on."""
    wrong, asked = [], []
    for words, key, change in NAMED:
        held, gated = bool(change.flowing), change.full_open
        both = (seen("crosslay_1", 1, held=held, gated=gated), seen("rear_line", 2, held=held, gated=gated))
        reading = read(words, context(*both))
        got = [c for c in reading.commands if not isinstance(c, LineOn) or c.held]
        if not reading.commands:
            asked.append(words)
        elif [(c.ref.name, *_without_ref(c)) for c in got if isinstance(c, LineChange)] != [
            (key, *_without_ref(change))
        ]:
            wrong.append((words, reading.commands))
    assert wrong == []
    assert len(asked) <= 0.03 * len(NAMED), asked


@pytest.mark.parametrize("words", SAID["nobody"])
def test_nobody_flows_is_of_all_lines(words: str) -> None:
    reading = read(words, context(seen("crosslay_1", 1), seen("rear_line", 2)))
    assert reading.commands == (LineChange(LineRef(all=True), flowing=False),)


NOT_SO = ["is {line} flowing?", "is the nozzle shut on {line}?", "is {line} full open?", "is {line} flowing again"]
LATER = ["{line} flowing again in two minutes", "{line} will be flowing again soon", "almost full open on {line}"]


@pytest.mark.parametrize("words", [*NOT_SO, *LATER])
@pytest.mark.parametrize("key", LINES)
def test_what_is_asked_or_still_to_come_changes_nothing(words: str, key: str) -> None:
    on = seen(key, held="shut" not in words, gated=True)
    reading = read(words.format(line=LINES[key]), context(on))
    assert not [c for c in reading.commands if isinstance(c, LineChange | LineOn | LineOff)]


@pytest.mark.parametrize("words", SAID["charged_held"])
def test_charged_with_its_nozzle_shut(words: str) -> None:
    for key, name in LINES.items():
        other = seen(next(other for other in LINES if other != key))
        reading = read(words.format(line=name), context(other))
        assert reading.commands == (LineOn(ref=LineRef(name=key), held=True),), (words, reading)


@pytest.mark.parametrize("words", SAID["orders"])
def test_what_the_crew_orders_of_the_pump_is_a_request(words: str) -> None:
    for key, name in LINES.items():
        reading = read(words.format(line=name), context(seen(key), role="crew"))
        assert [type(c) for c in reading.commands] == [Request], reading
        wants = reading.commands[0].wants  # type: ignore[union-attr]
        assert [w.ref.name for w in wants] == [key]  # type: ignore[union-attr]
        by_driver = read(words.format(line=name), context(seen(key), role="driver"))
        assert not any(isinstance(c, Request) for c in by_driver.commands)


@pytest.mark.parametrize("words", SAID["reports"])
def test_what_the_crew_reports_is_taken(words: str) -> None:
    for key, name in LINES.items():
        on = seen(key, held="again" in words)
        crew, driver = (read(words.format(line=name), context(on, role=r)).commands for r in ("crew", "driver"))
        assert crew == driver
        assert crew
        assert not any(isinstance(c, Request) for c in crew)


@pytest.mark.parametrize("words", SAID["ready"])
@pytest.mark.parametrize("role", ["crew", "officer", "driver"])
def test_ready_for_water_is_asked_for_and_starts_nothing(words: str, role: Role) -> None:
    for key, name in LINES.items():
        reading = read(words.format(line=name), context(role=role))
        assert [type(c) for c in reading.commands] == [Request], reading
        assert reading.commands[0].wants == (LineOn(ref=LineRef(name=key)),)  # type: ignore[union-attr]


@pytest.mark.parametrize("words", ["more pressure please", "we need more pressure", "start water", "charge it"])
def test_with_no_line_named_the_crew_still_only_asks(words: str) -> None:
    reading = read(words, context(role="crew"))
    assert [type(c) for c in reading.commands] == [Request], reading


@pytest.mark.parametrize(
    "words", ["stand by", "standby", "engine 9 stand by", "stand by for a report", "standby for par"]
)
def test_stand_by_in_a_room_of_many_is_no_report_of_a_line(words: str) -> None:
    group = Context(own_unit="engine 12", role="officer", group=True, incident_open=True, lines=(seen("crosslay_1"),))
    assert not any(isinstance(c, LineChange) for c in read(words, group).commands)


@pytest.mark.parametrize("words", SAID["again"])
def test_back_on_by_itself_is_of_what_does_not_flow(words: str) -> None:
    for line in (seen("crosslay_1", held=True), LineSeen(1, "crosslay_1", 1.75, 200, on=False)):
        assert read(words, context(line)).commands == (LineChange(LineRef(), flowing=True),)


@pytest.mark.parametrize("words", SAID["off"])
def test_off_by_itself_is_the_line_that_is_on(words: str) -> None:
    assert read(words, context(seen("crosslay_1"))).commands == (LineOff(LineRef()),)


@pytest.mark.parametrize("words", SAID["all_off"])
def test_all_of_it_is_every_line(words: str) -> None:
    assert read(words, context(seen("crosslay_1", 1), seen("rear_line", 2))).commands == (LineOff(LineRef(all=True)),)


@pytest.mark.parametrize("words", SAID["wanted"])
def test_what_the_officer_says_is_wanted_is_told_to_the_driver(words: str) -> None:
    for key, name in LINES.items():
        reading = read(words.format(line=name), context(seen(key), role="officer"))
        assert [type(c) for c in reading.commands] == [Request], reading


@pytest.mark.parametrize(("words", "flowing"), [("flowing again", True), ("nozzles shut", False)])
def test_two_lines_in_one_breath(words: str, flowing: bool) -> None:
    both = tuple(RigLine(f"crosslay_{n}", (f"crosslay {n}",), 1.75, 200) for n in (1, 2))
    on = tuple(seen(line.key, n, held=flowing) for n, line in enumerate(both, 1))
    at_work = Context(rig_lines=both, role="driver", incident_open=True, lines=on)
    wanted = tuple(LineChange(LineRef(name=line.key), flowing=flowing) for line in both)
    for lines in ("crosslay 1 and 2", "crosslay 1 and crosslay 2"):
        assert read(f"{lines} {words}", at_work).commands == wanted


def test_a_bare_number_to_gate_to_is_asked_about_and_never_taken_for_a_length() -> None:
    for words in ("gate it to 100", "gate it down to 100", "gate down to 120"):
        for lines in ((seen("crosslay_1"),), (seen("crosslay_1"), seen("rear_line", 2))):
            reading = read(words, context(*lines))
            assert reading.question is not None, reading
            changes = [c for choice in reading.question.choices for c in choice.commands]
            assert {type(c) for c in changes} == {LineChange}


def test_a_line_without_a_name_is_meant_by_its_number_not_by_its_place_in_the_list() -> None:
    """Line 1 was shut: of lines 2 and 3, neither has a name; "add 50 feet" asks which, and each choice is exact."""
    lines = (
        LineSeen(1, None, 1.75, 150, 150, on=False),
        LineSeen(2, None, 1.75, 200, 150),
        LineSeen(3, None, 2.5, 250, 250),
    )
    question = read("add 50 feet", context(*lines)).question
    assert question is not None
    assert [c.commands[0].ref for c in question.choices] == [LineRef(seq=2), LineRef(seq=3)]  # type: ignore[union-attr]
    assert [c.label for c in question.choices] == ["1¾ in line, 200 ft", "2½ in line, 250 ft"]


@pytest.mark.parametrize("words", SAID["kept_so"])
def test_what_is_to_be_kept_starts_nothing(words: str) -> None:
    for name in LINES.values():
        assert read(words.format(line=name), context()).commands == ()


@pytest.mark.parametrize("words", SAID["burst"])
def test_a_burst_is_of_the_line_that_is_named(words: str) -> None:
    both = context(seen("crosslay_1", 1), seen("rear_line", 2))
    for key, name in LINES.items():
        assert read(words.format(line=name), both).commands == (LineChange(LineRef(name=key), burst=True),)


@pytest.mark.parametrize("words", ["{line} is full of water", "filling up {line} now", "holding forty on {line}"])
def test_a_line_that_fills_is_no_tank_and_a_number_held_is_no_nozzle(words: str) -> None:
    for name in LINES.values():
        reading = read(words.format(line=name), context(seen("crosslay_1")))
        assert not any(isinstance(c, WaterSource | LineChange) for c in reading.commands)
