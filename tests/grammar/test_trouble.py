"""Trouble in other words is asked about as a Mayday wherever it is said; talk about Maydays isn't one."""

from __future__ import annotations

import os
import random
import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import msgspec
import pytest

from grammar.commands import Confirm, Context, Emergency, Mayday, Reading
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

SAID = tomllib.loads(Path(__file__).with_name("trouble.toml").read_text(encoding="utf-8"))
KNOWN = contexts()
OFFICER = KNOWN["officer"]
ROOMS: dict[str, Context] = {
    "officer": OFFICER,
    "driver": KNOWN["fire"],
    "crew inside": KNOWN["crew_inside"],
    "outside any incident": KNOWN["plain"],
    "a group, not said to it": msgspec.structs.replace(OFFICER, group=True, addressed=False),
}
UNITS, PLACES = ("engine 9", "truck 4", "ladder 2"), ("second floor", "basement", "charlie side")
FULL = os.environ.get("CROSSLAY_LAWS") == "full"


def asked_or_taken(reading: Reading) -> bool:
    """A Mayday is taken or offered, or everyone is told of a member in trouble (whose reply asks for the Mayday)."""
    offered = (
        reading.commands if reading.question is None else [c for ch in reading.question.choices for c in ch.commands]
    )
    return any(
        (isinstance(c, Mayday) and not c.cleared)
        or (
            isinstance(c, Emergency)
            and not c.over
            and (c.parts is not None or c.kind in ("missing_member", "downed_member"))
        )
        for c in offered
    )


def taken(reading: Reading) -> bool:
    return any(isinstance(c, Mayday | Emergency) for c in reading.commands)


def table(wordings: list[str], openings: list[str]) -> Iterator[tuple[str, str]]:
    """(words, room): every wording after every opening in every room; a part of it unless all is asked for."""
    rng = random.Random(7)
    for wording, opening in product(wordings, openings):
        said = (
            opening.replace("{said}", wording)
            .replace("{unit}", rng.choice(UNITS))
            .replace("{place}", rng.choice(PLACES))
        )
        for room in ROOMS if FULL else [rng.choice(list(ROOMS))]:
            if FULL or rng.random() < SHORT:
                yield said, room


SHORT = 0.15


@pytest.mark.parametrize("kind", ["own", "other", "wilder"])
def test_trouble_is_asked_about_wherever_and_however_it_is_said(kind: str) -> None:
    missed = [
        (room, said)
        for said, room in table(SAID[kind], SAID["openings"])
        if not asked_or_taken(read(said, ROOMS[room]))
    ]
    assert missed == []


def test_talk_about_maydays_is_not_one() -> None:
    openings = ["{said}", "hey {said}", "captain {said}", "so {said}", "{unit} {said}"]
    made = [(room, said) for said, room in table(SAID["talk"], openings) if taken(read(said, ROOMS[room]))]
    assert made == []


def test_what_is_no_trouble_is_not_asked_about_as_a_mayday() -> None:
    openings = ["{said}", "command, {said}", "hey {said}"]
    asked = [
        (room, said) for said, room in table(SAID["harmless"], openings) if asked_or_taken(read(said, ROOMS[room]))
    ]
    assert asked == []


@pytest.mark.parametrize("said", ["lost my partner", "we're out of air", "engine 9 is lost", "he's not answering"])
def test_the_answer_to_the_question(said: str) -> None:
    asked = msgspec.structs.replace(OFFICER, asked=read(said, OFFICER).question)
    for yes in ("yes", "yeah", "affirmative", "yes it is", "it is", "mayday", "yes mayday", "it's a mayday"):
        assert any(isinstance(c, Mayday) for c in read(yes, asked).commands), yes
    for no in ("no", "negative", "no mayday", "not a mayday", "no it's not a mayday"):
        assert read(no, asked).commands == (Confirm(False),), no


def test_trouble_in_what_is_said_to_be_an_exercise_is_asked_about_never_told_as_one() -> None:
    for stamp, trouble, room in product(
        ("this is a drill", "exercise exercise exercise", "this is just a training drill"),
        ("we're trapped on the second floor", "firefighter down", "lost my partner", "we're out of air"),
        ROOMS.values(),
    ):
        for said in (f"{stamp}, {trouble}", f"{trouble}, {stamp}"):
            reading = read(said, room)
            assert reading.question is not None, said
            assert asked_or_taken(reading), said


@pytest.mark.parametrize(
    ("said", "beside"),
    [
        ("Mayday cleared, {unit} is out", "exit"),
        ("mayday cleared {unit} is out", "exit"),
        ("{unit} is out, the mayday is cleared", "exit"),
        ("mayday is terminated, PAR check", "par"),
        ("cancel the mayday, {unit} to rehab", "rehab"),
        ("Mayday cleared. Fire's under control, {unit} to the roof", "benchmark assign"),
        ("mayday cleared, going defensive, everybody out", "strategy evacuate"),
        ("{unit}'s mayday is cleared", ""),
        ("mayday cleared, all clear", ""),
    ],
)
def test_what_is_said_with_mayday_cleared_is_taken_or_named(said: str, beside: str) -> None:
    for unit in UNITS:
        reading = read(said.replace("{unit}", unit), KNOWN["mayday_open"])
        assert [c.intent for c in reading.commands] == ["mayday", *beside.split()], said
        assert beside or "'s" in said or reading.assumed
