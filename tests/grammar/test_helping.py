"""The help: each topic has its own text, names this rig's lines, and every example is understood."""

import re

import msgspec
import pytest

from grammar.commands import Context
from grammar.helping import help_text
from grammar.reader import read
from grammar.vocabulary import vocabulary
from tests.grammar.corpus.loader import contexts

TOPICS = [topic.name for topic in vocabulary().topics]


def examples(topic: str, context: Context) -> list[str]:
    return [line.removeprefix("• ") for line in help_text(topic, context).splitlines() if line.startswith("• ")]


@pytest.mark.parametrize("topic", TOPICS)
def test_every_example_of_a_topic_is_understood(topic: str) -> None:
    incident = contexts()["medical" if topic == "medical" else "mayday_open" if topic == "mayday" else "fire_two_lines"]
    found = examples(topic, incident)
    assert found
    for example in found:
        reading = read(example, msgspec.structs.replace(incident, last=()))
        assert reading.commands or reading.question, example


@pytest.mark.parametrize("topic", TOPICS)
def test_every_metric_example_is_understood_and_none_names_another_unit(topic: str) -> None:
    metric = msgspec.structs.replace(contexts()["fire_two_lines"], units="metric", last=())
    if topic in ("medical", "mayday"):
        metric = msgspec.structs.replace(contexts()["mayday_open" if topic == "mayday" else topic], units="metric")
    for example in examples(topic, metric):
        reading = read(example, metric)
        assert reading.commands or reading.question, example
        assert not re.search(r"\b(gpm|psi|feet|gallons?|miles?)\b", example), example


def test_examples_name_the_lines_of_this_rig() -> None:
    rig = msgspec.structs.replace(contexts()["plain"], rig_lines=contexts()["plain"].rig_lines[2:3])
    assert "charge bumper line" in help_text("lines", rig)


def test_help_without_a_topic_has_a_line_for_every_topic() -> None:
    text = help_text(None, contexts()["plain"]).casefold()
    assert [topic for topic in TOPICS if f"{topic}:" not in text] == []


def test_an_unknown_topic_gets_the_whole_help() -> None:
    assert help_text("knitting", Context()) == help_text(None, Context())
