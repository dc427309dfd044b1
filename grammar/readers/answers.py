"""Reads the answer to an open question or to the check-list item that is being asked for."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.amend import amendments
from grammar.commands import Benchmark, Choice, Command, Confirm, Context, Mayday, Question, Readiness, Reading
from grammar.items import Item
from grammar.numbers import numbers_at
from grammar.polarity import mark_polarity
from grammar.readers.base import Span
from grammar.spelling import spellings
from grammar.spoken import spoken
from grammar.stretch import left_over
from grammar.tagger import segmentations
from grammar.text import Token, tokens
from grammar.vocabulary import Names, vocabulary, word_list

MAYDAY_SLOTS = ("location", "name", "assignment", "air", "resources")
_PARTS = {
    "location": "where they are",
    "unit": "their unit",
    "name": "who it is",
    "assignment": "their assignment",
    "air": "their air",
    "resources": "what they need",
}
_LONGEST_PART = 80
_PLAIN = 0.8
"""A command read this surely is itself, and no answer."""
_CHECK_UNITS = frozenset(("percent", "%", "psi", "pounds", "gallons", "gal", "bar", "full"))
_NO = frozenset(("no", "nope", "negative", "nah", "n"))


def read_answer(text: str, context: Context, known: Names) -> Reading | None:
    """The answer to a question that is open to this speaker: a choice, yes or no, or the missing slot.

    A bare yes or no, and a choice by its place, answer the newest one.
    """
    asked, before = context.asked, context.asked_before
    if asked is None or len(text) > 120:
        return None
    found = tokens(text)
    answer = _answer_to(asked, text, found, context, known)
    if answer is None and before is not None and not {t.text for t in found} & _YES_OR_NO:
        answer = _answer_to(before, text, found, context, known)
    chosen = _by_place(found, asked) if answer is None else None
    return _taken(text, chosen) if chosen is not None else answer


_YES_OR_NO = _NO | word_list("first_yes")


def _answer_to(asked: Question, text: str, found: Sequence[Token], context: Context, known: Names) -> Reading | None:
    words = [t.text for t in found if t.text not in ".,!?;:"]
    chosen = None if _asks_back(words) else _choice(words, asked)
    if chosen is not None:
        return _taken(text, chosen)
    if asked.fills is not None:
        return _filled(text, found, asked, context, known)
    return None


def _taken(text: str, chosen: Choice) -> Reading:
    commands = chosen.commands or (Confirm(False),)
    return Reading(text, commands, 0.97, intent=commands[0].intent)


_AUXILIARY = frozenset(("is", "was", "are", "were", "did", "does", "do", "has", "have", "had", "isn't", "aren't"))
_SUBJECT = frozenset(("it", "that", "this", "the", "they", "we", "he", "she", "there", "you", "i"))


def _asks_back(words: list[str]) -> bool:
    """ "Is it knocked down?" to "fire knocked down?" asks, and chooses nothing."""
    return len(words) > 2 and words[0] in _AUXILIARY and words[1] in _SUBJECT


def read_free_answer(text: str, context: Context, reading: Reading) -> Reading | None:
    """The answer in free words to a question about a Mayday or a number of the daily check, where nothing else was
    read.

    What is said to "Mayday: where are they?" is never lost: unless it is plainly something else, it answers that.
    """
    asked = context.asked
    if reading.question is not None and reading.intent == Benchmark.intent:
        return None  # "all clear" is a report, asked about in its own words
    unread = bool(reading.declined) and reading.intent is None
    if (asked is None or asked.fills is None) and unread and context.mayday_open and context.role == "officer":
        return _part_of_mayday(text)
    if asked is None or (reading.commands and reading.confidence >= _PLAIN):
        return None
    if isinstance(asked.fills, Mayday) and asked.slot in MAYDAY_SLOTS:
        named = _A_PERSON.match(text.strip()) is not None and asked.slot == "location"
        told = replace(asked.fills, **{"name" if named else asked.slot: text.strip(" .,!")})
        return Reading(text, (told,), 0.75, rivals=reading.rivals, intent=Mayday.intent)
    if isinstance(asked.fills, Readiness) and asked.slot == "value":
        return _check_value(text, asked.fills)
    return None


_A_PERSON = re.compile(r"(?:firefighter|ff|captain|lieutenant|officer|driver) [a-z]+[.!]?$", re.IGNORECASE)
"""Said where a place was asked for: who it is."""


def _part_of_mayday(text: str) -> Reading | None:
    """What the officer says in an open Mayday and can't be read may be a part of LUNAR: asked which, never guessed."""
    words = text.strip(" .,!")
    if not words or len(words) > _LONGEST_PART:
        return None
    choices = tuple(Choice(label, (replace(Mayday(text=""), **{slot: words}),)) for slot, label in _PARTS.items())
    question = Question(f"Mayday: what is “{words}”?", (*choices, Choice("none of these")))
    return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)


def _check_value(text: str, item: Readiness) -> Reading | None:
    """ "85", "85 percent", "nine hundred psi": one number and nothing else that counts."""
    words = [t.text for t in tokens(text) if t.text not in ".,!;:"]
    core = [w for w in words if w not in word_list("first_fluff")]
    found = [n for n in numbers_at(core, 0) if n.form not in ("time", "ordinal")] if core else []
    if not found:
        return None
    number = max(found, key=lambda n: n.end)
    if any(word not in _CHECK_UNITS for word in core[number.end :]):
        return None
    return Reading(text, (replace(item, value=float(number.value)),), 0.95, intent=Readiness.intent)


def _choice(words: list[str], asked: Question) -> Choice | None:
    """The choice that the words name: all of them are in its label, and in no other's."""
    if not words or not asked.choices:
        return None
    labels = [[t.text for t in tokens(choice.label)] for choice in asked.choices]
    for choice, label in zip(asked.choices, labels, strict=True):
        if words == label:
            return choice
    denied = _after_not(words)
    core = [w for w in denied if w not in word_list("first_fluff")] or [
        w for w in denied if w not in ("uh", "um", "please")
    ]
    yes_no = _yes_no(words, asked, labels)
    if yes_no is not None:
        return yes_no
    hits = [
        choice for choice, label in zip(asked.choices, labels, strict=True) if core and all(_in(w, label) for w in core)
    ]
    if len(hits) == 1:
        return hits[0]
    return (
        _as_spoken(words, asked)
        or _as_spoken(core, asked)
        or _by_number(core, asked, labels)
        or _by_meaning(words, asked, labels)
    )


_PLACES = {"first": 1, "second": 2, "third": 3, "fourth": 4, "1": 1, "2": 2, "3": 3, "4": 4,
           "one": 1, "two": 2, "three": 3, "four": 4}  # fmt: skip
_CALLED = frozenset(("number", "option", "choice", "answer"))


def _by_place(found: Sequence[Token], asked: Question) -> Choice | None:
    """ "The first one", "number two"; a bare "two" where no choice has a number in it and none is asked for."""
    labels = [[t.text for t in tokens(choice.label)] for choice in asked.choices]
    core = [t.text for t in found if t.text.isalnum() and t.text not in ("the", "uh", "um")]
    called = bool(core) and core[0] in _CALLED
    match core[1:] if called else core:
        case [word] | [word, "one"] if word in _PLACES:
            bare = not called and not word.endswith(("st", "nd", "rd", "th"))
            numbered = asked.fills is not None or any(
                numbers_at(label, i) for label in labels for i in range(len(label))
            )
            if not (bare and numbered) and _PLACES[word] <= len(asked.choices):
                return asked.choices[_PLACES[word] - 1]
    return None


def _as_spoken(words: list[str], asked: Question) -> Choice | None:
    """ "crosslay one" for "Crosslay 1": how it is said, and heard."""
    said = spoken(" ".join(words))
    hits = [choice for choice in asked.choices if spoken(choice.label) == said]
    return hits[0] if len(hits) == 1 else None


def _by_number(core: list[str], asked: Question, labels: list[list[str]]) -> Choice | None:
    """ "fifteen" for "15 gpm"."""
    if not core or not (found := [n for n in numbers_at(core, 0) if n.form not in ("time", "ordinal")]):
        return None
    number = max(found, key=lambda n: n.end)
    rest = core[number.end :]
    hits = []
    for choice, label in zip(asked.choices, labels, strict=True):
        values = {n.value for i in range(len(label)) for n in numbers_at(label, i)}
        if number.value in values and all(_in(w, label) for w in rest):
            hits.append(choice)
    return hits[0] if len(hits) == 1 else None


def _by_meaning(words: list[str], asked: Question, labels: list[list[str]]) -> Choice | None:
    """ "all together" for "in all", "apiece" for "each"."""
    for concept in ("total", "each"):
        ways = {tuple(way.split()) for way in vocabulary().concepts[concept]} | {("all",), ("in", "all")}
        said = any(
            tuple(words) == way or tuple(w for w in words if w not in word_list("first_fluff")) == way for way in ways
        )
        if said and (concept == "total" or tuple(words) != ("all",)):
            hits = [
                c
                for c, label in zip(asked.choices, labels, strict=True)
                if any(" ".join(way) in " ".join(label) for way in ways)
            ]
            if len(hits) == 1:
                return hits[0]
    return None


def _after_not(words: list[str]) -> list[str]:
    """ "not the primary, the secondary" → "the secondary"."""
    if words[:1] == ["not"] and "the" in words[2:]:
        last = len(words) - 1 - words[::-1].index("the")
        return words[last:] if last > 1 else words
    return words


def _in(word: str, label: list[str]) -> bool:
    return any(word == w or (len(word) > 4 and len(w) > 4 and OSA.distance(word, w) <= 1 + (len(w) > 7)) for w in label)


def _yes_or_no(word: str) -> str:
    """A long yes or no, put right."""
    if len(word) < 5:
        return word
    return next(
        (w for w in word_list("first_yes") | _NO if len(w) > 4 and OSA.distance(w, word) <= 1 + (len(w) > 8)), word
    )


def _yes_no(words: list[str], asked: Question, labels: list[list[str]]) -> Choice | None:
    """Yes and no, where one choice is a yes or there is only one."""
    said = {_yes_or_no(w) for w in words}
    if said & _NO and said <= _NO | word_list("first_fluff") | {"not", "thanks", "sir", "yet"}:
        empty = [choice for choice in asked.choices if not choice.commands]
        return empty[0] if len(empty) == 1 else None
    if said & word_list("first_yes") and said <= word_list("first_yes") | word_list("first_fluff") | {"sir", "do"}:
        doing = [choice for choice in asked.choices if choice.commands]
        return doing[0] if len(doing) == 1 or asks_of_mayday(asked) else None
    if asks_of_mayday(asked) and words in (["it", "is"], ["that", "is", "right"], ["that", "is", "a", "yes"]):
        return asked.choices[0]
    return None


def asks_of_mayday(asked: Question | None) -> bool:
    """ "Is that a Mayday?": the first choice says that it is."""
    first = asked.choices[0].commands if asked is not None and asked.choices else ()
    return any(isinstance(command, Mayday) and not command.cleared for command in first)


def _filled(text: str, found: Sequence[Token], asked: Question, context: Context, known: Names) -> Reading | None:
    """The slot that was asked for, filled."""
    assert asked.fills is not None
    best: tuple[float, Command] | None = None
    for spelled in spellings(found, known, False)[:3]:
        for extra, items in segmentations(spelled, known)[:3]:
            copies = [i.again() for i in items]
            mark_polarity(copies)
            if _leads_elsewhere(copies):
                continue
            span = Span(copies, 0, len(copies), context, text)
            for command, cost, used in amendments(span, asked.fills, asked.slot):
                total = (
                    cost
                    + sum(spelled.costs)
                    + left_over(copies, 0, len(copies), used)
                    + extra
                    - segmentations(spelled, known)[0][0]
                )
                if best is None or total < best[0]:
                    best = (total, command)
    if best is None or best[0] > 0.4:
        return None
    return Reading(text, (best[1],), round(max(0.62, 0.97 - best[0]), 3), intent=best[1].intent)


_ELSEWHERE = frozenset(
    [
        "charge",
        "shut",
        "open",
        "gate",
        "flow_again",
        "all_flow",
        "full_open",
        "nozzle_shut",
        "nobody_flows",
        "hold_water",
        "ready_for_water",
        "undo",
        "correction",
        "help",
        "repeat",
        "on_hydrant",
        "par",
        "under_control",
        "on_scene",
        "water_on_fire",
        "knocked_down",
        "evacuate",
    ]
)


def _leads_elsewhere(items: list[Item]) -> bool:
    return any(i.concepts & _ELSEWHERE for i in items)
