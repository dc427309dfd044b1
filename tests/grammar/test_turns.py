"""Whether more may follow what was said, and whether it answers what was asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from grammar.commands import (
    Benchmark,
    Choice,
    Confirm,
    Context,
    LineOn,
    LineRef,
    Mayday,
    Par,
    PumpPressure,
    Question,
    Reading,
    SaidLay,
    SaidLine,
)
from grammar.phrases import Names, word_graph
from grammar.reader import read
from grammar.turns import answers_question, could_go_on, is_urgent
from tests.grammar.corpus.loader import contexts

GRAPH = word_graph(Names())
"""What can be said on the demonstration rig."""
BREATHS = Path(__file__).parents[1] / "bot" / "breaths.txt"


@pytest.fixture
def context() -> Context:
    return contexts()["plain"]


def goes_on(words: str, context: Context) -> bool:
    return could_go_on(words, read(words, context), context, GRAPH)


def halves() -> list[str]:
    """What stands before each likely breath of the commands that are said in two breaths."""
    found = []
    for line in BREATHS.read_text("utf-8").splitlines():
        parts = [part.strip() for part in line.split("|")] if not line.startswith("#") else []
        found += [" ".join(parts[:end]) for end in range(1, len(parts))]
    return found


@pytest.mark.parametrize("words", halves())
def test_a_command_that_is_not_over_may_go_on(words: str, context: Context) -> None:
    assert goes_on(words, context)


@pytest.mark.parametrize("words", ["say again", "say again please", "repeat that over", "come again"])
def test_what_nothing_can_follow_is_answered_at_once(words: str, context: Context) -> None:
    assert not goes_on(words, context)


@pytest.mark.parametrize(
    "words", ["mayday mayday mayday", "everybody out of the building", "engine nine mayday", "emergency traffic"]
)
def test_an_alert_never_waits(words: str, context: Context) -> None:
    assert is_urgent(read(words, context))
    assert not goes_on(words, context)


def lines(*names: str) -> Question:
    """A question of which line is to be charged."""
    choices = tuple(Choice(name, (LineOn(ref=LineRef(name=name.casefold().replace(" ", "_"))),)) for name in names)
    return Question("Charge which line?", choices)


YES_OR_NO = Question(
    "Did you mean: knocked down?", (Choice("yes", (LineOn(ref=LineRef(name="rear_line")),)), Choice("no"))
)
FLOOR = Question(
    "Which floor?", fills=PumpPressure(lays=(SaidLay(lines=(SaidLine(name="crosslay_1"),)),)), slot="floor"
)
ANSWERS = [
    (lines("Crosslay 1", "Crosslay 2"), ("crosslay one", "the crosslay two", "crosslay 2")),
    (lines("Bumper line", "Rear line"), ("the bumper", "rear line", "bumper line please")),
    (YES_OR_NO, ("yes", "no", "affirmative", "negative", "yes sir")),
    (FLOOR, ("second floor", "floor three", "third floor")),
]
OTHERS = (
    "shut down the deck gun",
    "water on the fire",
    "engine nine on scene",
    "under control",
    "how long will the tank last",
    "two hundred feet of one and three quarter",
    "the pump at the gas station",
)


@pytest.mark.parametrize(("question", "words"), [(q, words) for q, all_words in ANSWERS for words in all_words])
def test_an_answer_is_taken_as_one(question: Question, words: str, context: Context) -> None:
    asked = replace(context, asked=question)
    assert answers_question(words, asked)
    if question is not FLOOR:
        assert not goes_on(words, asked)


@pytest.mark.parametrize("words", OTHERS)
@pytest.mark.parametrize("question", [question for question, _ in ANSWERS], ids=lambda question: question.text)
def test_other_words_answer_nothing(question: Question, words: str, context: Context) -> None:
    fills_it = question is FLOOR and "feet" in words  # another value of the same lay
    assert answers_question(words, replace(context, asked=question)) == fills_it


SEARCH = Question(
    "All clear on which search?",
    (
        Choice("primary", (Benchmark("primary_search_complete"),)),
        Choice("secondary", (Benchmark("secondary_search_complete"),)),
    ),
)
AGAIN = Question("PAR asked 2 min ago.", (Choice("Ask again", (Par(request=True),)), Choice("Not now")))
PLACES = ("the first one", "number one", "option 1", "1", "one", "uh the first"), ("the second one", "number two", "2")


def test_a_choice_is_taken_by_its_place(context: Context) -> None:
    for choice, said in zip(SEARCH.choices, PLACES, strict=True):
        for words in said:
            assert read(words, replace(context, asked=SEARCH)).commands == choice.commands, words


def test_a_bare_number_is_no_place_where_a_number_is_asked_for(context: Context) -> None:
    lengths = (Choice("2 × 100 ft", (Par(request=True),)), Choice("200 ft", (Benchmark("on_scene"),)))
    asked = replace(context, asked=Question("Two hundred-foot bundles?", lengths))
    assert read("one", asked).commands == ()
    assert read("number two", asked).commands == lengths[1].commands


def test_what_was_asked_before_can_still_be_answered_but_for_yes_and_no(context: Context) -> None:
    """A reminder with a question of its own comes between "all clear" and "primary"."""
    both = replace(context, asked=AGAIN, asked_before=SEARCH)
    assert read("primary", both).commands == SEARCH.choices[0].commands
    assert answers_question("secondary", both)
    assert read("ask again", both).commands == (Par(request=True),)
    assert read("the second one", both).commands == (Confirm(yes=False),)
    assert read("no", both).commands == (Confirm(yes=False),)
    assert read("yes", both).commands == (Par(request=True),)


def test_whatever_is_said_to_a_question_about_a_mayday_answers_it(context: Context) -> None:
    asked = replace(context, asked=Question("Mayday: where are they?", fills=Mayday(), slot="location"))
    assert answers_question("up the back stairs I think", asked)


def test_without_a_question_nothing_is_an_answer(context: Context) -> None:
    assert not answers_question("yes", context)


def test_only_a_closing_word_may_follow_a_whole_sentence_of_the_graph() -> None:
    assert not GRAPH.goes_on("say again")
    assert GRAPH.goes_on("crosslay one")
    assert GRAPH.goes_on("two lines two hundred feet of")
    assert GRAPH.goes_on("words that nobody expects")
    assert not is_urgent(Reading("nothing"))
