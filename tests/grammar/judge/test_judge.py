"""The learned reader beside the rules: what it may change, and what it never does."""

from __future__ import annotations

import random
from pathlib import Path

import msgspec
import pytest

from grammar.bank import bank, draw
from grammar.commands import Choice, Exit, PumpPressure, Question, Reading
from grammar.judge import active
from grammar.judge.features import Scored
from grammar.judge.network import DATA, Network
from grammar.judge.pieces import Pieces, plain, words
from grammar.judge.settle import FEATURES, Settled, consulted, two_ways, weighed
from grammar.judge.words import said
from grammar.reader import read
from tests.grammar.corpus.loader import cases, contexts

PLAIN = contexts()["plain"]
SURE = Settled(
    tuple(1.0 if name == "right" else 0.0 for name in FEATURES), (0.0,) * len(FEATURES), 0.9, 0.9, 0.97, 0.3, 0.0, 0.99
)
OUT = (Exit("engine 9"),)
DOUBTFUL = Reading("engine 9 popped out", confidence=0.5, question=Question("?", (Choice("yes", OUT), Choice("no"))))


def proposal(
    commands: tuple[object, ...] = OUT, right: float = 8.0, *, numbers: bool = True, own: bool = False
) -> Scored:
    """A proposal that everything speaks for."""
    text = said(commands)  # type: ignore[arg-type]
    shape = "".join("#" if char.isdigit() else char for char in text)
    return Scored(commands, False, -0.5, 0.0, right, 9.0, 9.0, 5.0, -5.0, numbers, own, text, shape)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def network() -> Network:
    pytest.importorskip("onnxruntime")
    return Network()


def test_a_sure_proposal_with_its_numbers_is_taken() -> None:
    assert weighed(DOUBTFUL, [proposal()], PLAIN, SURE).commands == OUT


@pytest.mark.parametrize(
    "one",
    [proposal(right=1.0), proposal(numbers=False), proposal(right=3.0, own=True)],
    ids=["unsure", "number left", "only its own"],
)
def test_anything_less_stays_a_question(one: Scored) -> None:
    assert weighed(DOUBTFUL, [one], PLAIN, SURE).commands == ()


def test_numbers_read_in_two_ways_are_asked() -> None:
    lays = [draw(way, random.Random(3)).commands for way in bank() if way.wording == "<length> of <hose>"]
    assert lays[0]
    assert isinstance(lays[0][0], PumpPressure)
    one = proposal(lays[0])
    other = one._replace(words=one.words.replace(" ft", "0 ft"), commands=OUT, right=7.0)
    assert two_ways(one, [one, other])
    assert not two_ways(one, [one, other._replace(right=0.0)])


def test_what_is_certain_refused_or_answers_a_question_is_the_rules_alone() -> None:
    taken = Reading("engine 9 is out", OUT, 1.0)
    refused = Reading("we will be out", confidence=0.9, declined="not yet", intent="exit")
    answers = msgspec.structs.replace(PLAIN, asked=Question("who?"))
    assert not consulted(taken, PLAIN, SURE, unsure=False)
    assert not consulted(refused, PLAIN, SURE, unsure=False)
    assert not consulted(DOUBTFUL, answers, SURE, unsure=True)
    assert not consulted(Reading("good morning", ignored=True), PLAIN, SURE, unsure=True)


def test_every_number_of_a_command_is_in_its_words() -> None:
    for case in list(cases("pumping*"))[:150]:
        for command in case.expected.expect or ():
            if isinstance(command, PumpPressure):
                text = said((command,))
                for lay in command.lays:
                    for line in lay.lines:
                        for hose in line.hose:
                            assert hose.length_ft is None or f"length {hose.length_ft:g} ft" in text
                            assert hose.hose_in is None or f"hose {hose.hose_in:g} inch" in text


def test_any_word_can_be_spelled() -> None:
    pieces = Pieces.load(DATA / "pieces.txt")
    for word in words(plain("Zwölf qxjyk 1¾ (x9) 12,345")):
        assert pieces.unknown not in pieces.rows(word.text)


def test_what_is_shipped_is_small_and_says_where_it_comes_from() -> None:
    assert sum(path.stat().st_size for path in DATA.iterdir()) <= 20_000_000
    origin = (DATA / "ORIGIN.md").read_text(encoding="utf-8")
    assert "Apache" in origin


def test_the_same_words_are_read_the_same_every_time(network: Network) -> None:
    pairs = [
        ("fire's knocked down", "benchmark : benchmark knocked down"),
        ("two lines 200 feet", "exit"),
        ("", "nothing"),
    ]
    first = [network._right(*pair) for pair in pairs]
    again = Network()
    assert [again._right(*pair) for pair in reversed(pairs)] == first[::-1]


def test_it_knows_a_report_from_a_hope(network: Network) -> None:
    down = "benchmark : benchmark knocked down"
    assert network.right("fire's knocked down", down) > 2
    assert network.right("hoping for the fire to be knocked down soon", down) < 0


def test_mayday_and_chatter_stay_as_they_are(network: Network) -> None:
    active.use(network)
    try:
        assert read("mayday mayday mayday, engine 9, second floor", PLAIN).intent == "mayday"
        for talk in (
            "good morning",
            "who's cooking tonight",
            "we don't have it under control yet",
            "hope it's knocked down soon",
        ):
            assert read(talk, contexts()["officer"]).commands == ()
    finally:
        active.use(None)


def test_the_grammar_reads_without_it() -> None:
    assert active.active() is None
    assert read("engine 9 is out", contexts()["officer"]).commands


def test_no_training_library_is_needed() -> None:
    folder = Path(active.__file__).parent
    for path in folder.glob("*.py"):
        assert "torch" not in path.read_text(encoding="utf-8")
