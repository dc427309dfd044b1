"""Hose counted in lengths, floors said by their number, and places that change no number."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from grammar.commands import Context, Evacuate, LineChange, PumpPressure, SaidLine
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

PLAIN = contexts()["plain"]
COUNTS = {"two": 2, "3": 3, "four": 4, "six": 6, "10": 10}
SIZES = {"inch and three quarter": 1.75, "2 1/2": 2.5, "three inch": 3.0}


def line(said: str, context: Context = PLAIN) -> SaidLine:
    """The one line of a lay that was asked for."""
    (command,) = read(said, context).commands
    assert isinstance(command, PumpPressure)
    return command.lays[0].lines[0]


@pytest.mark.parametrize("word", ["lengths", "sections", "lenghts"])
@pytest.mark.parametrize(("said", "count"), COUNTS.items())
def test_a_number_of_lengths_is_so_many_times_fifty_feet(said: str, count: int, word: str) -> None:
    for size, inches in SIZES.items():
        hose = line(f"{said} {word} of {size} with a 1 1/8 tip, second floor").hose[0]
        assert (hose.hose_in, hose.length_ft) == (inches, 50.0 * count)


def test_the_rigs_own_length_counts() -> None:
    hundreds = replace(PLAIN, pieces=((2.5, 100.0),))
    assert line("three lengths of 2 1/2 with a 1 1/8 tip", hundreds).hose[0].length_ft == 300
    assert line("three lengths of inch and three quarter", hundreds).hose[0].length_ft == 150


def test_pieces_said_with_their_own_length() -> None:
    assert line("four fifty foot lengths of inch and three quarter").hose[0].length_ft == 200


def test_lengths_that_are_added_stay_lengths() -> None:
    (command,) = read("add two lengths to crosslay 1", PLAIN).commands
    assert isinstance(command, LineChange)
    assert command.add_lengths == 2


@pytest.mark.parametrize(("said", "floor"), [("on three", 3), ("up to four", 4), ("on the sixth", 6), ("on 12", 12)])
def test_a_floor_by_its_number(said: str, floor: int) -> None:
    assert line(f"what do I pump, crosslay 2 {said}").floor == floor


@pytest.mark.parametrize("said", ["top floor of a three story", "top floor of the three decker"])
def test_the_top_floor_is_the_last(said: str) -> None:
    assert line(f"crosslay 2, {said}").floor == 3


def test_a_buck_fifty() -> None:
    assert line("a buck fifty of inch and three quarter, second floor").hose[0].length_ft == 150


def test_why_all_get_out_is_no_place_to_leave() -> None:
    for said in ("everybody out, roof's going", "sound the evac, cockloft ties all three buildings together"):
        orders = [command for command in read(said, contexts()["officer"]).commands if isinstance(command, Evacuate)]
        assert [order.place for order in orders] == [None], said
