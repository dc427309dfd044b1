"""Only "out" is out; on the way out is a state of its own; an order to get out with its reason alerts everyone."""

from __future__ import annotations

import os
import random
import tomllib
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import msgspec
import pytest

from grammar.commands import Benchmark, ComingOut, Command, Emergency, Evacuate, Exit, Mayday, Reading
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

HERE = Path(__file__)
OUT = tomllib.loads(HERE.with_name("ways_out.toml").read_text(encoding="utf-8"))
ORDERS = tomllib.loads(HERE.with_name("evacuations.toml").read_text(encoding="utf-8"))
INSIDE = contexts()["inside"]
OFFICER = contexts()["officer"]
ROOMS = (INSIDE, OFFICER, msgspec.structs.replace(INSIDE, group=True, addressed=False))
UNITS = ("engine 9", "truck 4", "rescue 7", "ladder 2")
FULL = os.environ.get("CROSSLAY_LAWS") == "full"


def said(kind: str) -> Iterator[tuple[str, str]]:
    """(words, unit): every wording of a kind with every unit."""
    for wording, unit, few in product(OUT[kind], UNITS, ("two", "three", "five") if FULL else ("two", "five")):
        for number in ("2", "three"):
            if ("{few}" in wording or few == "two") and ("{n}" in wording or number == "2"):
                yield wording.replace("{unit}", unit).replace("{few}", few).replace("{n}", number), unit


def everything(reading: Reading) -> tuple[Command, ...]:
    """What was taken and what is offered."""
    offered = reading.question.choices if reading.question is not None else ()
    return (*reading.commands, *(c for choice in offered for c in choice.commands))


def of(reading: Reading, intent: str, unit: str) -> bool:
    return any(c.intent == intent and getattr(c, "unit", None) == unit for c in reading.commands)


def test_heading_out_is_on_the_way_out_for_a_crew_that_is_inside() -> None:
    for words, unit in said("heading"):
        assert of(read(words, INSIDE), "coming_out", unit) == (unit in INSIDE.inside), words


def failed(kind: str, intent: str) -> list[str]:
    return [words for words, unit in said(kind) if not of(read(words, INSIDE), intent, unit)]


def test_out_is_an_exit() -> None:
    assert failed("out", "exit") == []


@pytest.mark.parametrize("kind", ["coming", "ordered"])
def test_coming_out_or_told_to_is_a_state_of_its_own(kind: str) -> None:
    assert failed(kind, "coming_out") == []
    for context in ROOMS:
        assert [w for w, _ in said(kind) if any(isinstance(c, Exit) for c in read(w, context).commands)] == []


def test_the_bare_order_is_for_who_is_inside() -> None:
    for words in ("come out", "come on out", "come out now"):
        asked = read(words, INSIDE).question
        assert asked is not None
        assert [c.commands for c in asked.choices] == [(ComingOut(unit, True),) for unit in INSIDE.inside]
        alone = msgspec.structs.replace(INSIDE, inside=("engine 9",))
        assert read(words, alone).commands == (ComingOut("engine 9", True),)


@pytest.mark.parametrize("kind", ["unclear", "minutes", "neither"])
def test_what_says_no_exit_logs_none(kind: str) -> None:
    for context in ROOMS:
        assert [
            w for w, _ in said(kind) if any(isinstance(c, Exit | Benchmark) for c in read(w, context).commands)
        ] == []


def test_a_bare_number_beside_out_is_asked() -> None:
    assert [w for w, _ in said("unclear") if read(w, INSIDE).question is None] == []


def test_the_two_out_team_and_the_own_units_two_out() -> None:
    for words, _ in said("team"):
        assert "two_out_in_place" in {c.benchmark for c in read(words, OFFICER).commands if isinstance(c, Benchmark)}, (
            words
        )
    assert read("engine 12 two out", OFFICER).commands == (Benchmark("two_out_in_place", unit="engine 12"),)


def test_out_and_to_rehab_is_both() -> None:
    for words in (
        "{} is out, send them to rehab",
        "{} out, to rehab",
        "{} is out and going to rehab",
        "{}'s out, rehab",
        "{} is out with 2, send them to rehab",
        "{} out of the building, headed to rehab",
    ):
        for unit in UNITS:
            assert {c.intent for c in read(words.format(unit), INSIDE).commands} == {"exit", "rehab"}, words


@pytest.mark.parametrize(
    ("way", "intent"),
    [("are out", "exit"), ("out", "exit"), ("coming out", "coming_out"), ("are backing out", "coming_out")],
)
def test_two_companies_in_one_breath(way: str, intent: str) -> None:
    for one, two in (("engine 9", "truck 4"), ("ladder 2", "engine 12")):
        commands = read(f"{one} and {two} {way}", INSIDE).commands
        assert [(c.intent, getattr(c, "unit", None)) for c in commands] == [(intent, one), (intent, two)], way


def orders() -> Iterator[str]:
    rng = random.Random(3)
    for reason, order, way in product(ORDERS["reasons"], ORDERS["orders"], ORDERS["joins"]):
        if FULL or rng.random() < SHORT:
            place = rng.choice(("second floor", "roof", "third floor"))
            yield way.replace("{reason}", reason).replace("{order}", order).replace("{place}", place)


SHORT = 0.025


def test_an_order_out_with_its_reason_alerts_everyone() -> None:
    def raised(words: str) -> bool:
        return all(
            any(isinstance(c, Evacuate) and not c.over for c in read(words, room).commands) for room in ROOMS[1:]
        )

    assert [words for words in (*orders(), *ORDERS["whole"]) if not raised(words)] == []


def of_everyone(words: str) -> Evacuate | None:
    return next((c for c in read(words, INSIDE).commands if isinstance(c, Evacuate)), None)


def plain_orders() -> list[str]:
    """Orders that name no place."""
    return [order for order in ORDERS["orders"] if "{place}" not in order]


def test_what_is_said_with_an_order_out_is_kept() -> None:
    """A report or an order beside it is taken, its reason is told with it, in whatever order they are said."""
    rng = random.Random(5)
    for order, (words, intent), reason in product(plain_orders(), ORDERS["beside"], ("roof's sagging", "floor's soft")):
        if not FULL and rng.random() > SHORT * 4:
            continue
        ways = (f"{order}, {words}, {reason}", f"{words}, {reason}, {order}", f"{reason}, {order}, {words}")
        for said in ways if FULL else (rng.choice(ways),):
            reading = read(said, INSIDE)
            told = of_everyone(said)
            assert told is not None, said
            assert intent in {c.intent for c in reading.commands}, said
            assert reason.split("'")[0] in (told.text or ""), (said, told)


def test_the_place_that_is_to_be_left_is_kept_in_a_clause_of_its_own_too() -> None:
    orders = [o for o in plain_orders() if "building" not in o]
    for way, order, place in product(ORDERS["left"], orders, ("second floor", "basement", "roof")):
        said = way.replace("{order}", order).replace("{place}", place)
        told = of_everyone(said)
        assert told is not None, said
        assert (told.place, told.text) == (place, None), said


def test_an_order_to_one_company_is_not_everyones() -> None:
    for words, unit in said("to_one"):
        commands = read(words, INSIDE).commands
        assert ComingOut(unit, ordered=True) in commands, words
        assert not any(isinstance(c, Evacuate | Exit) for c in commands), words
    for words, _ in said("not_ordered"):
        assert not any(isinstance(c, Evacuate | Exit | ComingOut) for c in read(words, INSIDE).commands), words


def test_a_company_that_is_named_before_evacuate_is_asked_about() -> None:
    question = read("engine 9, evacuate", INSIDE).question
    assert question is not None
    assert [c.commands for c in question.choices] == [(Evacuate(),), (ComingOut("engine 9", ordered=True),)]


def test_no_order_is_made_of_anything_else() -> None:
    assert [w for w in ORDERS["none"] if any(isinstance(c, Evacuate) for c in read(w, OFFICER).commands)] == []


@pytest.mark.parametrize(
    "trouble",
    ["engine 9 is trapped", "lost my partner", "we're out of air", "firefighter down", "mayday mayday engine 9"],
)
def test_an_order_out_waits_for_no_answer_about_a_mayday(trouble: str) -> None:
    for said in (f"{trouble}, everybody out", f"everybody out, {trouble}", f"{trouble}, get everyone out of there"):
        taken = {type(command) for command in read(said, OFFICER).commands}
        assert Evacuate in taken, said
        assert taken & {Emergency, Mayday}, said
