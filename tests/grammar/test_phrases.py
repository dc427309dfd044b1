"""The word graph of what can be said, and the sentences drawn from it."""

import random
import time

import pytest

from grammar.patterns import parse
from grammar.phrases import Names, word_graph
from grammar.samples import groups, sample
from grammar.spoken import spoken, wordings

SAID = """
two lines two hundred feet one and three quarter second floor
two hundred feet of inch and three quarter with a fifteen sixteenths tip
what is the pressure for crosslay one third floor
deck gun one and a half inch tip
four hundred feet of three inch to a wye two lines of one hundred fifty feet of inch and three quarter
charge crosslay two
shut down the second line
we are on the hydrant
half a tank
static seventy two residual sixty five
pitot fifty two and a half
water on the fire
primary all clear on the second floor
not under control yet
waiting on water
engine nine par four
mayday mayday mayday engine nine trapped on the second floor
epi in two minutes ago
make that two hundred and fifty feet
no i said fifteen sixteenths
cancel that
say again
how long will the tank last at two oh five gpm
engine nine laying in from the hydrant four minutes out
forty by sixty house fifty percent involved
going defensive
evacuate the second floor
yes
""".strip().splitlines()

NOT_SAID = ["the birthday cake is in the kitchen", "two lines of cake", "charge", "water on the second hundred", ""]


@pytest.mark.parametrize("sentence", SAID)
def test_the_trade_can_say(sentence: str) -> None:
    assert word_graph().accepts(sentence)


@pytest.mark.parametrize("sentence", NOT_SAID)
def test_other_talk_is_not_in_the_graph(sentence: str) -> None:
    assert not word_graph().accepts(sentence)


def test_every_sampled_sentence_is_in_the_graph() -> None:
    rng, graph = random.Random(7), word_graph()
    assert [said for said in (sample(rng) for _ in range(2000)) if not graph.accepts(said.words)] == []


@pytest.mark.parametrize("group", groups())
def test_every_group_can_be_sampled(group: str) -> None:
    said = sample(random.Random(3), intent=group)
    assert said.intent == group
    assert said.words


def test_the_rigs_own_names_join_the_graph() -> None:
    names = Names(lines=("Blue Jumpline 3",), own_unit="Engine 41", places=("12 Harbor St",), people=("Ann Lee",))
    graph = word_graph(names)
    assert graph.accepts("charge the blue jumpline three")
    assert graph.accepts("engine forty one par three")
    assert graph.accepts("my name is ann lee")
    assert not graph.accepts("charge crosslay one")


def test_a_rig_without_people_or_places_still_has_a_graph() -> None:
    graph = word_graph(Names(lines=(), places=(), people=(), call_names=()))
    assert graph.accepts("water on the fire")
    assert not graph.accepts("my name is")


def test_equal_names_give_the_same_graph_at_once() -> None:
    first = word_graph(Names(lines=("green line",)))
    start = time.perf_counter()
    second = word_graph(Names(lines=("green line",)))
    assert second is first
    assert time.perf_counter() - start < 0.05
    assert word_graph(Names(lines=("red line",))).digest != first.digest


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (7, ["seven"]),
        (100, ["one hundred", "a hundred"]),
        (150, ["one fifty", "one hundred fifty", "one hundred and fifty", "a hundred and fifty", "one five zero"]),
        (205, ["two oh five", "two hundred five", "two hundred and five"]),
        (1000, ["one thousand", "a thousand"]),
        (1250, ["twelve fifty", "twelve hundred fifty", "one thousand two hundred fifty"]),
        (1500, ["fifteen hundred", "one thousand five hundred"]),
        (2000, ["two thousand"]),
    ],
)
def test_numbers_are_said_every_usual_way(value: int, said: list[str]) -> None:
    assert set(said) <= set(wordings(value))


def test_no_wording_stands_for_two_numbers() -> None:
    meaning: dict[str, int] = {}
    for value in range(3000):
        for words in wordings(value):
            assert meaning.setdefault(words, value) == value


def test_names_are_spoken_in_words() -> None:
    assert spoken("Crosslay 1") == "crosslay one"
    assert spoken("Engine 12") == "engine twelve"
    assert spoken("O'Neil's 2nd") == "oneils two nd"


@pytest.mark.parametrize("broken", ["(a | b", "a]", "<open", "a + b", "Two"])
def test_a_broken_pattern_is_named(broken: str) -> None:
    with pytest.raises(ValueError, match=r"pattern|brackets"):
        parse(broken)
