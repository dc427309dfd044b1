"""The help comes from what declares the language: every line is read as what says it, and names this rig's lines."""

from __future__ import annotations

import re

import msgspec
import pytest

from grammar.commands import Context
from grammar.frames import frames
from grammar.helping import help_text, said_of
from grammar.phrases import patterns
from grammar.reader import read
from grammar.vocabulary import vocabulary
from tests.grammar.corpus.loader import contexts

TOPICS = [topic.name for topic in vocabulary().topics]
WITHOUT = {"follow_up", "no_report", "confirm", "answer"}
"""Answers, and what says that nothing happened: said after something else."""


def examples(topic: str, context: Context) -> list[str]:
    return [line.removeprefix("• ") for line in help_text(topic, context).splitlines() if line.startswith("• ")]


def _incident(topic: str) -> Context:
    named = {"medical": "medical", "mayday": "mayday_open"}.get(topic, "fire_two_lines")
    return msgspec.structs.replace(contexts()[named], last=())


@pytest.mark.parametrize("topic", TOPICS)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_line_of_the_help_is_read_as_what_says_it(topic: str, units: str) -> None:
    context = msgspec.structs.replace(_incident(topic), units=units)
    said = list(said_of(topic, units == "metric"))
    assert said
    for intent, example in said:
        words = example.replace("{line}", context.rig_lines[0].names[0]).replace("{unit}", "engine 12")
        reading = read(words, context)
        assert reading.intent == intent, f"{words}: {reading.intent}"
        assert reading.commands or reading.question, words


@pytest.mark.parametrize("topic", TOPICS)
def test_a_metric_example_names_no_other_unit(topic: str) -> None:
    for example in examples(topic, msgspec.structs.replace(_incident(topic), units="metric")):
        assert not re.search(r"\b(gpm|psi|feet|gallons?|miles?)\b", example), example


@pytest.mark.parametrize("group", patterns().sentences)
def test_every_group_of_patterns_has_an_example(group: str) -> None:
    helped = {intent for topic in TOPICS for intent, _ in said_of(topic, False)}
    assert group in helped | WITHOUT


def test_every_topic_that_is_named_is_declared() -> None:
    named = {topic for usual, metric in patterns().helped.values() for topic in (*usual, *metric)}
    named |= {topic for frame in frames() for topic in ([frame.help] if isinstance(frame.help, str) else frame.help)}
    assert named <= {*TOPICS}


def test_examples_name_the_lines_of_this_rig() -> None:
    rig = msgspec.structs.replace(contexts()["plain"], rig_lines=contexts()["plain"].rig_lines[2:3])
    assert "charge bumper line" in help_text("lines", rig)


def test_help_without_a_topic_has_a_line_for_every_topic() -> None:
    text = help_text(None, contexts()["plain"]).casefold()
    assert [topic for topic in TOPICS if f"{topic}:" not in text] == []


def test_an_unknown_topic_gets_the_whole_help() -> None:
    assert help_text("knitting", Context()) == help_text(None, Context())
