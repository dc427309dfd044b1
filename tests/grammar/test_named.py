"""Names of people in an entry or an assignment are kept as said, and nothing else is lost or made of them."""

from __future__ import annotations

from itertools import product

import pytest

from grammar.commands import Assign, Command, Entry, Report
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

INSIDE = contexts()["inside"]
NAMES = ("Jones and Smith", "smith", "Kowalski and Rivera", "smith and jones", "Brandt, Okafor and Lindqvist")


@pytest.mark.parametrize(
    ("said", "command"),
    [
        ("{names} going in with 4200", Entry(gauge_psi=4200)),
        ("engine 9 going in, {names}, 4200", Entry("engine 9", gauge_psi=4200)),
        ("engine 9 with {names} going in basement 3800", Entry("engine 9", gauge_psi=3800, place="basement")),
        ("{names} entering charlie side, lowest 4100", Entry(gauge_psi=4100, place="charlie side")),
        ("truck 4 {names} to the roof", Assign("truck 4", "roof")),
        ("engine 9, {names}, second floor search", Assign("engine 9", "second floor", "search")),
    ],
)
def test_names_are_kept_beside_what_their_crew_does(said: str, command: Command) -> None:
    for names in NAMES:
        if said.startswith("{names}") and names == "smith":
            continue  # by itself before "going in" it may be a slip: "crwe going in"
        commands = read(said.replace("{names}", names), INSIDE).commands
        count = names.count(" and ") + names.count(",") + 1
        told = Entry(command.unit, count, command.gauge_psi, command.place) if isinstance(command, Entry) else command
        assert commands[0] == told, names
        assert [c.text for c in commands if isinstance(c, Report)] == [names]


def test_a_slip_is_no_name() -> None:
    for said in (
        "enigne 9 gonig in 4200",
        "serch tem going in 4100",
        "engine 9 baesment",
        "Gonig in with 4200",
        "crrwe going in, 4500",
        "rukc 4 is RIT",
    ):
        assert not any(isinstance(c, Report) for c in read(said, INSIDE).commands), said


def test_who_is_out_by_name_alone_moves_no_crew() -> None:
    for name, way in product(("smith", "Jones", "Rivera"), ("is out", "coming out", "is inside", "out with 2000")):
        assert read(f"{name} {way}", INSIDE).commands == (), name
