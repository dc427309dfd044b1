"""A Mayday keeps every part that is said of it, in any order, at once or later and by anyone."""

from __future__ import annotations

import random
from itertools import permutations

import msgspec
import pytest

from grammar.commands import Context, Mayday, Question
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

OFFICER = contexts()["officer"]
OPEN = msgspec.structs.replace(contexts()["mayday_open"], mayday_unit="engine 9")
CREW = msgspec.structs.replace(OPEN, role="crew", speaker_unit="engine 12")
ASKED = msgspec.structs.replace(OPEN, asked=Question("Mayday: where are they?", fills=Mayday(text=""), slot="location"))

PLACES = {
    "second floor, charlie side": ("second floor", "charlie side"),
    "basement, bravo charlie corner": ("basement", "bravo charlie corner"),
    "third floor alpha side": ("third floor", "alpha side"),
    "in the attic": ("attic",),
    "on the roof, delta side": ("roof", "delta side"),
    "in the stairwell on three": ("stairwell", "third floor"),
}
NAMES = {
    "firefighter Brandt": "Brandt",
    "captain Okafor": "Okafor",
    "it's firefighter Lund": "Lund",
    "lieutenant Vask": "Vask",
}
AIR = {
    "low on air": "low on air",
    "out of air": "out of air",
    "1,200 psi": "1200",
    "air at 900": "900",
    "half a bottle": "half",
}
NEEDS = {
    "need a saw": "saw",
    "need another bottle": "bottle",
    "need a ladder to the window": "ladder",
    "needs a line": "line",
}


def parts() -> list[tuple[tuple[str, ...], str, str, str, str]]:
    """(places, name, air, needs, message): drawn parts in every order."""
    rng = random.Random(5)
    made = []
    for order in permutations(range(5)):
        place, name, air, need = (rng.choice(list(kind)) for kind in (PLACES, NAMES, AIR, NEEDS))
        said = [place, name, air, need, "engine 9"]
        made.append((PLACES[place], NAMES[name], AIR[air], NEEDS[need], ", ".join(said[k] for k in order)))
    return made


def lacking(command: Mayday, case: tuple[tuple[str, ...], str, str, str, str]) -> list[str]:
    """The parts that the command doesn't hold."""
    places, name, air, need, _ = case
    location = (command.location or "").casefold()
    out = [place for place in places if place not in location]
    out += ["unit"] * (command.unit != "engine 9")
    out += [name] * (name not in (command.name or ""))
    out += [air] * (air not in (command.air or "").replace(",", ""))
    return out + [need] * (need not in (command.resources or ""))


@pytest.mark.parametrize(
    ("context", "opening"),
    [(OFFICER, "mayday mayday mayday, "), (OFFICER, "mayday "), (OPEN, ""), (CREW, ""), (ASKED, "")],
    ids=["called", "in a breath", "later by the officer", "later by the crew", "to its question"],
)
def test_every_part_is_kept(context: Context, opening: str) -> None:
    lost = []
    for case in parts():
        commands = read(opening + case[-1], context).commands
        mayday = next((c for c in commands if isinstance(c, Mayday)), Mayday())
        if missing := lacking(mayday, case):
            lost.append((opening + case[-1], missing))
    assert lost == []


@pytest.mark.parametrize("said", [*PLACES, *NAMES, *AIR, *NEEDS, "he's trapped", "we're out of air", "lost my partner"])
def test_more_of_an_open_one_is_added_without_asking_whether_it_is_one(said: str) -> None:
    for context in (OPEN, CREW, msgspec.structs.replace(CREW, group=True, addressed=False)):
        (command,) = read(said, context).commands
        assert command.intent in ("mayday", "air_reading")


@pytest.mark.parametrize(
    "said",
    [
        "truck 4 going in with 3, second floor, lowest 4200",
        "engine 12 par of three",
        "we're on the second floor",
        "what's his air",
    ],
)
def test_what_is_no_part_of_it_is_none(said: str) -> None:
    assert not any(isinstance(c, Mayday) for c in read(said, OPEN).commands)


OTHER_PARTS = {
    "location": ("second floor, charlie side", "basement, bravo charlie corner", "he's at the bravo side window"),
    "unit": ("engine 9",),
    "name": ("his name is cole", "name is Vask", "firefighter Lund"),
    "air": ("600 psi", "low on air"),
    "resources": ("need a ladder", "they need a saw"),
}
"""What says one part, whichever was asked for."""


def test_a_report_that_is_asked_about_is_no_place() -> None:
    reading = read("all clear", ASKED)
    assert reading.commands == ()
    assert reading.question is not None
    assert reading.question.text.startswith("All clear on the primary")


@pytest.mark.parametrize("asked", ["location", "unit", "name", "assignment", "air", "resources"])
@pytest.mark.parametrize("part", list(OTHER_PARTS))
def test_an_answer_is_put_where_it_belongs_whichever_part_was_asked_for(part: str, asked: str) -> None:
    context = msgspec.structs.replace(CREW, asked=Question("?", fills=Mayday(text=""), slot=asked))
    for said in OTHER_PARTS[part]:
        (command,) = read(said, context).commands
        if isinstance(command, Mayday):
            told = {slot for slot in ("location", "name", "assignment", "resources") if getattr(command, slot)}
            assert told <= {part}, (said, command)
            assert getattr(command, part), (said, command)
        else:
            assert part == "air", (said, command)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("mayday engine 9, cole, basement", "cole"),
        ("mayday, name is vask, engine 9, third floor", "vask"),
        ("mayday mayday engine 9 lost in the basement, disoriented", None),
        ("mayday maydya engine 9, bsement, trappd", None),
    ],
)
def test_a_name_is_one_that_can_be_nothing_else(said: str, name: str | None) -> None:
    (command,) = read(said, OFFICER).commands
    assert isinstance(command, Mayday)
    assert command.name == name
