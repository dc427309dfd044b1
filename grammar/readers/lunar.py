"""The parts of a Mayday as they were said: location, unit, name, assignment, air, resources; all of each."""

from __future__ import annotations

import re

from grammar.commands import Context, Mayday
from grammar.readers.base import Span, Take, place_of
from grammar.readers.tasks import TASKS
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names, vocabulary, word_list

_NEEDS = frozenset(("need", "needs", "send", "requesting", "bring", "needing", "require", "request"))
_STOPS = frozenset(".;!?\n")


def lunar(text: str, context: Context, known: Names) -> Mayday:
    """Location, unit, name, assignment, air and resources as far as they were said."""
    spelled = spellings(tokens(text), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    span = Span(items, 0, len(items), context, text)
    take = Take(span)
    unit = take.unit()
    places = [place_of(item) for item in items if item.kind in ("place", "floor")]
    assignment = next(
        (
            name
            for concept, name in TASKS
            if span.has(concept) and concept in ("task_search", "task_vent", "task_attack", "task_overhaul")
        ),
        None,
    )
    return Mayday(
        location=", ".join(dict.fromkeys(places)) or None,
        unit=unit,
        name=_name(text, take),
        assignment=assignment,
        air=_air(" ".join(spelled.words), span),
        resources=_needs(span),
        text=text,
    )


_TITLE = r"(?:fire ?fighter|ff|captain|capt|lieutenant|lt|driver|engineer|probie|rookie|nozzleman|partner)"
_TITLED = re.compile(rf"\b({_TITLE}\.? ([a-z][a-z'-]+))", re.IGNORECASE)
_NAMED = re.compile(r"\b(?:his name is|her name is|name is|name's|named|it's|this is) ([A-Z][a-z'-]+)\b")


def _name(text: str, take: Take) -> str | None:
    """A person of the crew, "firefighter Brandt", "name's Cole": as it was said."""
    person = take.kind("person")
    if person is not None:
        return str(person.value)
    for match in _TITLED.finditer(text):
        if _no_word(match.group(2)):
            return match.group(1)
    named = _NAMED.search(text)
    return named.group(1) if named is not None and _no_word(named.group(1)) else None


def _no_word(word: str) -> bool:
    """No ordinary word and no term."""
    return word.casefold() not in vocabulary().words


_AIR_WORDS = re.compile(
    r"\b(?:(?:running |ran |run )?out of air|low on air|low air|no (?:more )?air(?: left)?|air is (?:low|gone|out)|"
    r"(?:half|quarter|third|three quarters?)(?: of)? (?:a )?(?:bottle|cylinder|tank)|"
    r"(?:\w+ )?(?:minutes|min) of air|(?:bell|alarm|vibralert) is (?:ringing|going off|going))\b"
)


def _air(words: str, span: Span) -> str | None:
    for i in span.kinds("num"):
        item = span.items[i]
        near = any(not span.items[k].concepts.isdisjoint(("air_word", "air_firm", "lowest_word", "low_air")) for k in range(max(span.lo, i - 4), min(span.hi, i + 3)))
        if item.unit == "psi" or (item.unit is None and 300 <= item.number <= 6000 and near):
            return f"{item.number:g} psi"
    match = _AIR_WORDS.search(words)
    return match.group() if match else None


def _needs(span: Span) -> str | None:
    """What is needed, up to where another part begins."""
    at = next((i for i in range(span.lo, span.hi) if span.items[i].text.split()[0] in _NEEDS), None)
    if at is None:
        return None
    said: list[str] = []
    for i in range(at, span.hi):
        item = span.items[i]
        if item.text in _STOPS or (item.kind == "sep" and _another(span, i + 1)):
            break
        said.append(item.text)
    while said and (said[-1] in word_list("reader_govern") or said[-1] == ","):
        said.pop()
    return " ".join(said).replace(" ,", ",") or None


def _another(span: Span, i: int) -> bool:
    """At i another part begins: a place, a unit, air."""
    while i < span.hi and span.items[i].free:
        i += 1
    return i < span.hi and (
        span.items[i].kind in ("place", "floor", "unit", "person")
        or not span.items[i].concepts.isdisjoint(("low_air", "no_air", "air_word", "lowest_word"))
    )
