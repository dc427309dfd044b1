"""Reads the answer to an open question or to the check-list item that is being asked for."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.amend import amendments
from grammar.commands import Benchmark, Choice, Command, Confirm, Context, Mayday, Question, Readiness, Reading
from grammar.lexicon import by_language, language, sentence
from grammar.numbers import NumberAt, numbers_at
from grammar.polarity import mark_polarity
from grammar.readers.base import Span
from grammar.spelling import spellings
from grammar.spoken import spoken
from grammar.stretch import left_over
from grammar.tagger import segmentations
from grammar.text import Token, tokens
from grammar.vocabulary import Names, vocabulary, word_list

MAYDAY_SLOTS = ("location", "name", "assignment", "air", "resources")
_LONGEST, _LONGEST_PART = 120, 80
"""Most letters of an answer, and of one that is a part of a Mayday in free words."""
_PLAIN = 0.8
"""A command read this surely is itself, and no answer."""
_DEAREST = 0.4
"""What filling a slot may cost at most."""


def read_answer(text: str, context: Context, known: Names) -> Reading | None:
    """The answer to a question that is open to this speaker: a choice, yes or no, or the missing slot.

    A bare yes or no, and a choice by its place, answer the newest one.
    """
    asked, before = context.asked, context.asked_before
    if asked is None or len(text) > _LONGEST:
        return None
    found = tokens(text)
    answer = _answer_to(asked, text, found, context, known)
    if answer is None and before is not None and not {t.text for t in found} & (_no() | word_list("first_yes")):
        answer = _answer_to(before, text, found, context, known)
    return answer or _taken(text, _by_place(found, asked))


def _no() -> frozenset[str]:
    return word_list("answer_no")


def _answer_to(asked: Question, text: str, found: Sequence[Token], context: Context, known: Names) -> Reading | None:
    words = [t.text for t in found if t.text not in ".,!?;:"]
    chosen = None if _asks_back(words) or not words or not asked.choices else _choice(words, asked)
    if chosen is None and asked.fills is not None:
        return _filled(text, found, asked, asked.fills, context, known)
    return _taken(text, chosen)


def _taken(text: str, chosen: Choice | None) -> Reading | None:
    if chosen is None:
        return None
    commands = chosen.commands or (Confirm(False),)
    return Reading(text, commands, 0.97, intent=commands[0].intent)


def _asks_back(words: list[str]) -> bool:
    """ "Is it knocked down?" to "fire knocked down?" asks, and chooses nothing."""
    return len(words) > 2 and words[0] in word_list("answer_asks") and words[1] in word_list("answer_subjects")


# --------------------------------------------------------------------------------------------------- in free words


def read_free_answer(text: str, context: Context, reading: Reading) -> Reading | None:
    """The answer in free words to a question about a Mayday or a number of the daily check, where nothing else was
    read.

    What is said to "Mayday: where are they?" is never lost: unless it is plainly something else, it answers that.
    """
    asked = context.asked
    if reading.question is not None and reading.intent == Benchmark.intent:
        return None  # "all clear" is a report, asked about in its own words
    if asked is None or asked.fills is None:
        unread = bool(reading.declined) and reading.intent is None
        return _part_of_mayday(text) if unread and context.mayday_open and context.role == "officer" else None
    if reading.commands and reading.confidence >= _PLAIN:
        return None
    if isinstance(asked.fills, Mayday) and asked.slot in MAYDAY_SLOTS:
        who = rf"(?:{'|'.join(word_list('answer_ranks'))}) [a-z]+[.!]?"  # said where a place was asked for: who it is
        named = asked.slot == "location" and re.fullmatch(who, text.strip(), re.IGNORECASE)
        told = replace(asked.fills, **{"name" if named else asked.slot: text.strip(" .,!")})
        return Reading(text, (told,), 0.75, rivals=reading.rivals, intent=Mayday.intent)
    return _check_value(text, asked.fills) if isinstance(asked.fills, Readiness) and asked.slot == "value" else None


def _part_of_mayday(text: str) -> Reading | None:
    """What the officer says in an open Mayday and can't be read may be a part of LUNAR: asked which, never guessed."""
    words = text.strip(" .,!")
    if not words or len(words) > _LONGEST_PART:
        return None
    parts = language()["mayday_parts"].items()
    choices = tuple(Choice(label, (replace(Mayday(text=""), **{slot: words}),)) for slot, label in parts)
    question = Question(sentence("mayday_part", words=words), (*choices, Choice(sentence("none_of_these"))))
    return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)


def _check_value(text: str, item: Readiness) -> Reading | None:
    """ "85", "85 percent", "nine hundred psi": one number and nothing else that counts."""
    core = _core([t.text for t in tokens(text) if t.text not in ".,!;:"])
    number = _number(core)
    if number is None or any(word not in word_list("check_units") for word in core[number.end :]):
        return None
    return Reading(text, (replace(item, value=float(number.value)),), 0.95, intent=Readiness.intent)


# --------------------------------------------------------------------------------------------------- choices


def _core(words: Sequence[str]) -> list[str]:
    return [word for word in words if word not in word_list("first_fluff")]


def _number(core: Sequence[str]) -> NumberAt | None:
    """The longest number that the words begin with."""
    found = [n for n in numbers_at(core, 0) if n.form not in ("time", "ordinal")] if core else []
    return max(found, key=lambda n: n.end, default=None)


def _choice(words: list[str], asked: Question) -> Choice | None:
    """The choice that the words name: all of them are in its label, and in no other's."""
    labels = [[t.text for t in tokens(choice.label)] for choice in asked.choices]
    if words in labels:
        return asked.choices[labels.index(words)]
    said = _after_not(words)
    core = _core(said) or [word for word in said if word not in word_list("answer_idle")]
    chosen = _yes_no(words, asked)
    if chosen is not None:
        return chosen
    ways = (
        lambda choice, label: bool(core) and all(_in(word, label) for word in core),
        lambda choice, label: spoken(choice.label) == spoken(" ".join(words)),
        lambda choice, label: spoken(choice.label) == spoken(" ".join(core)),
        _of_number(core),
        _of_meaning("total", words),
        _of_meaning("each", words),
    )
    return next((hit for way in ways if (hit := _only(asked, labels, way)) is not None), None)


Way = Callable[[Choice, list[str]], bool]


def _only(asked: Question, labels: list[list[str]], way: Way) -> Choice | None:
    hits = [choice for choice, label in zip(asked.choices, labels, strict=True) if way(choice, label)]
    return hits[0] if len(hits) == 1 else None


def _of_number(core: list[str]) -> Way:
    """ "fifteen" for "15 gpm"."""
    number = _number(core)

    def names(_: Choice, label: list[str]) -> bool:
        values = {n.value for i in range(len(label)) for n in numbers_at(label, i)}
        return number is not None and number.value in values and all(_in(w, label) for w in core[number.end :])

    return names


def _of_meaning(concept: str, words: list[str]) -> Way:
    """ "all together" for "in all", "apiece" for "each"."""
    ways = {*vocabulary().concepts.get(concept, ()), *word_list(f"answer_{concept}")}
    said = not ways.isdisjoint((" ".join(words), " ".join(_core(words))))
    return lambda _, label: said and any(way in " ".join(label) for way in ways)


@by_language
def _places() -> dict[str, int]:
    return {
        word: place
        for place, words in enumerate(language().get("answer_places", {}).get("words", ()), 1)
        for word in words
    }


def _by_place(found: Sequence[Token], asked: Question) -> Choice | None:
    """ "The first one", "number two"; a bare "two" where no choice has a number in it and none is asked for."""
    core = [t.text for t in found if t.text.isalnum() and t.text not in word_list("answer_idle")]
    called = bool(core) and core[0] in word_list("answer_called")
    core = core[1:] if called else core
    if not core or core[0] not in _places() or core[1:] not in ([], ["one"]):
        return None
    labels = [[t.text for t in tokens(choice.label)] for choice in asked.choices]
    numbered = asked.fills is not None or any(numbers_at(label, i) for label in labels for i in range(len(label)))
    cardinal = not called and core[0] in word_list("answer_cardinals")
    place = _places()[core[0]]
    return asked.choices[place - 1] if place <= len(labels) and not (cardinal and numbered) else None


def _after_not(words: list[str]) -> list[str]:
    """ "not the primary, the secondary" → "the secondary"."""
    last = max((k for k, word in enumerate(words) if word in word_list("answer_the")), default=0)
    return words[last:] if words[0] in word_list("answer_not") and last > 1 else words


def _in(word: str, label: list[str]) -> bool:
    return any(word == w or (len(word) > 4 and len(w) > 4 and OSA.distance(word, w) <= 1 + (len(w) > 7)) for w in label)


def _yes_or_no(word: str) -> str:
    """A long yes or no, put right."""
    known = (w for w in word_list("first_yes") | _no() if len(w) > 4 and OSA.distance(w, word) <= 1 + (len(w) > 8))
    return next(known, word) if len(word) > 4 else word


def _yes_no(words: list[str], asked: Question) -> Choice | None:
    """Yes and no, where one choice is a yes or there is only one."""
    said = {_yes_or_no(w) for w in words}
    idle = word_list("first_fluff") | word_list("answer_beside")
    if said & _no() and said <= _no() | idle:
        empty = [choice for choice in asked.choices if not choice.commands]
        return empty[0] if len(empty) == 1 else None
    if said & word_list("first_yes") and said <= word_list("first_yes") | idle:
        doing = [choice for choice in asked.choices if choice.commands]
        return doing[0] if len(doing) == 1 or asks_of_mayday(asked) else None
    return asked.choices[0] if asks_of_mayday(asked) and " ".join(words) in word_list("answer_it_is") else None


def asks_of_mayday(asked: Question | None) -> bool:
    """ "Is that a Mayday?": the first choice says that it is."""
    first = asked.choices[0].commands if asked is not None and asked.choices else ()
    return any(isinstance(command, Mayday) and not command.cleared for command in first)


# --------------------------------------------------------------------------------------------------- a slot filled


def _filled(
    text: str, found: Sequence[Token], asked: Question, fills: Command, context: Context, known: Names
) -> Reading | None:
    """The slot that was asked for, filled."""
    best: tuple[float, Command] | None = None
    for spelled in spellings(found, known, False)[:3]:
        cuts = segmentations(spelled, known)
        for extra, items in cuts[:3]:
            copies = [i.again() for i in items]
            mark_polarity(copies)
            if any(not item.concepts.isdisjoint(word_list("answer_elsewhere")) for item in copies):
                continue
            around = sum(spelled.costs) + extra - cuts[0][0]
            span = Span(copies, 0, len(copies), context, text)
            for command, cost, used in amendments(span, fills, asked.slot):
                total = cost + around + left_over(copies, 0, len(copies), used)
                best = min((total, command), best or (total, command), key=lambda one: one[0])
    if best is None or best[0] > _DEAREST:
        return None
    return Reading(text, (best[1],), round(max(0.62, 0.97 - best[0]), 3), intent=best[1].intent)
