"""What is said among people and can't be read: what may be a report is asked about, never passed over."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.commands import Benchmark, Choice, Command, Context, Entry, Evacuate, Exit, Question, Reading
from grammar.describe import several
from grammar.items import Item
from grammar.polarity import mark_polarity
from grammar.readers.benchmarks import RULES
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names, word_list

_LONGEST = 30
"""Most words of what may be a report."""
_MOST = 3
"""Choices of one question, besides “no report”."""


def ask_about(text: str, context: Context, known: Names) -> Reading | None:
    """A closed question on what may be a report of a benchmark, of people in or out, an evacuation or air."""
    found = tokens(text)
    if not context.incident_open or not found or len(found) > _LONGEST:
        return None
    items = segmentations(spellings(found, known, True)[0], known)[0][1]
    if mark_polarity(items) or any(token.text in word_list("overheard_chatter") for token in found):
        return None
    commands = list(dict.fromkeys(_reports(items)))[:_MOST]
    if commands:
        choices = tuple(Choice(several((command,), context.wording), (command,)) for command in commands)
        if len({choice.label for choice in choices}) == len(choices):
            question = Question(f"“{text.strip()}”: is that a report?", (*choices, Choice("no report")))
            return Reading(text, question=question, confidence=0.5, intent=commands[0].intent)
    if any(_said(item) and not item.concepts.isdisjoint(word_list("overheard_air")) for item in items):
        question = Question(f"“{text.strip()}”: whose air, and how much? Say it like “engine 9 lowest 3000”.", ())
        return Reading(text, question=question, confidence=0.5)
    return None


def _said(item: Item) -> bool:
    return not item.polarity


def _reports(items: list[Item]) -> Iterator[Command]:
    unit = next((str(i.value) for i in items if i.kind == "unit" and "crew:everyone" not in i.concepts), None)
    concepts = frozenset(concept for item in items if _said(item) for concept in item.concepts)
    for rule in RULES:
        subject = rule.subject[0]
        if subject not in concepts or subject not in word_list("overheard_benchmarks"):
            continue
        if not rule.states or not concepts.isdisjoint(rule.states) or subject in word_list("overheard_alone"):
            yield Benchmark(rule.benchmark, unit)
    if "all_clear" in concepts and concepts.isdisjoint(("primary", "secondary")):
        yield Benchmark("primary_search_complete", unit)
        yield Benchmark("secondary_search_complete", unit)
    if unit is not None and not concepts.isdisjoint(("exit", "exit_firm")):
        yield Exit(unit)
    if unit is not None and not concepts.isdisjoint(("entry", "entry_firm")):
        yield Entry(unit)
    everyone = any("crew:everyone" in item.concepts for item in items)
    if "evacuate" in concepts or (everyone and not concepts.isdisjoint(("exit", "exit_firm"))):
        yield Evacuate()
