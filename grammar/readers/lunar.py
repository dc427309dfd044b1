"""The parts of a Mayday as they were said: location, unit, name, assignment, air, resources; all of each."""

from __future__ import annotations

import re

from rapidfuzz.distance import OSA

from grammar.commands import Context, Mayday, Reading
from grammar.items import floor_name
from grammar.lexicon import by_language
from grammar.patterns import Search, search
from grammar.readers.base import Span, Take, place_of
from grammar.readers.tasks import TASKS
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, vocabulary, word_list, wording_file

LUNAR = ("location", "unit", "name", "assignment", "air", "resources")
_NEEDS = frozenset(("need", "needs", "send", "requesting", "bring", "needing", "require", "request"))


def lunar(text: str, context: Context, known: Names) -> Mayday:
    """Location, unit, name, assignment, air and resources as far as they were said."""
    spelled = spellings(tokens(text), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    span = Span(items, 0, len(items), context, text)
    take = Take(span)
    unit = take.unit()
    assignment = next(
        (
            name
            for concept, name in TASKS
            if span.has(concept) and concept in ("task_search", "task_vent", "task_attack", "task_overhaul")
        ),
        None,
    )
    location = _location(span)
    return Mayday(
        location=location,
        unit=unit,
        name=_name(text, take) or (_name_alone(text, known) if unit or location else None),
        assignment=assignment,
        air=_air(" ".join(spelled.words), span),
        resources=_needs(text, context, known),
        text=text,
    )


_NEARBY = frozenset(
    (
        "near",
        "by",
        "behind",
        "beside",
        "next",
        "under",
        "close",
        "inside",
        "against",
        "past",
        "above",
        "below",
        "at",
        "in",
        "off",
    )
)


def _location(span: Span) -> str | None:
    """All places that were said, each with what it is near: "second floor, charlie side", "basement by the boiler"."""
    places: dict[str, None] = {}
    i = span.lo
    while i < span.hi:
        item = span.items[i]
        i += 1
        if _floor_by_number(span, i - 1):
            places[floor_name(int(item.number))] = None
        if item.kind not in ("place", "floor"):
            continue
        more: list[str] = []
        if i < span.hi and span.items[i].text in _NEARBY:
            k = i
            while k < span.hi and span.items[k].kind in ("word", "term") and not _part_begins(span, k):
                more.append(span.items[k].text)
                k += 1
            if k < span.hi and span.items[k].kind in ("place", "floor"):
                more = []  # "in" before the next place
        places[" ".join([place_of(item), *more])] = None
    return ", ".join(places) or None


def _floor_by_number(span: Span, i: int) -> bool:
    """ "On three", and nothing is counted by it."""
    item, before = span.items[i], span.items[i - 1].text if i > span.lo else ""
    number = item.kind == "num" and item.unit is None and item.form == "int" and item.number in range(1, 30)
    ends = i + 1 >= span.hi or span.items[i + 1].kind in ("sep", "place", "unit")
    return number and before in ("on", "up on", "to", "in on") and ends


def _part_begins(span: Span, k: int) -> bool:
    item = span.items[k]
    return item.text.split()[0] in _NEEDS or not item.concepts.isdisjoint(
        ("low_air", "no_air", "air_word", "mayday", "and")
    )


_TITLE = r"(?:fire ?fighter|ff|captain|capt|lieutenant|lt|driver|engineer|probie|rookie|nozzleman|partner)"
_TITLED = re.compile(rf"\b({_TITLE}\.? ([a-z][a-z'-]+))", re.IGNORECASE)
_NAMED = re.compile(r"\b(?:name is|names? are|name's|named|called) ([a-z][a-z'-]+)\b", re.IGNORECASE)
_SHOWN = re.compile(r"\b(?:it's|this is) ([A-Z][a-z'-]+)\b")
_BY_ITSELF = re.compile(
    r"(?:^|[,.;])\s*(?:[a-z]+ \d+ )?([a-z][a-z'-]+)(?: (?:and|from|of|with)\b[^,.;]*)?\s*(?=$|[,.;])", re.IGNORECASE
)
"""A stretch of one word: a name, where it is no word of ours and no ordinary one."""


def _name(text: str, take: Take) -> str | None:
    """A person of the crew, "firefighter Brandt", "name's Cole": as it was said."""
    person = take.kind("person")
    if person is not None:
        return str(person.value)
    for match in _TITLED.finditer(text):
        if is_no_word(match.group(2)):
            return match.group(1)
    for named in (*_NAMED.finditer(text), *_SHOWN.finditer(text)):
        if is_no_word(named.group(1)):
            return named.group(1)
    return None


def is_name(word: str, known: Names) -> bool:
    """No word of ours, no ordinary one and no plain slip in one: somebody's name."""
    word = word.casefold()
    return len(word) > _SHORTEST_NAME and is_no_word(word) and not _a_slip(word, known)


def is_no_word(word: str) -> bool:
    """No ordinary word and no term."""
    return word.casefold() not in vocabulary().words


def _name_alone(text: str, known: Names) -> str | None:
    """ "engine 9, Cole": a stretch of one word that is no word of ours, no ordinary one and no plain slip in one."""
    for match in _BY_ITSELF.finditer(text):
        if is_name(match.group(1), known):
            return match.group(1)
    return None


def _a_slip(word: str, known: Names) -> bool:
    """One slip in a longer word, or a slip in the name of a place. "Cole" is no slip in "code"."""
    spelled = spellings(tokens(word), known, False)[0]
    meant = " ".join(spelled.words)
    if meant == word:
        return False
    place = any(item.kind in ("place", "floor") for item in segmentations(spelled, known)[0][1])
    return place or (len(word) >= _LONGER and OSA.distance(word, meant) == 1)


_SHORTEST_NAME = 2
_LONGER = 6


_AIR_WORDS = re.compile(
    r"\b(?:(?:running |ran |run )?out of air|low on air|low air|no (?:more )?air(?: left)?|air is (?:low|gone|out)|"
    r"(?:half|quarter|third|three quarters?)(?: of)? (?:a )?(?:bottle|cylinder|tank)|"
    r"(?:\w+ )?(?:minutes|min) of air|(?:bell|alarm|vibralert) is (?:ringing|going off|going))\b"
)


def _air(words: str, span: Span) -> str | None:
    for i in span.kinds("num"):
        item = span.items[i]
        near = any(
            not span.items[k].concepts.isdisjoint(("air_word", "air_firm", "lowest_word", "low_air"))
            for k in range(max(span.lo, i - 4), min(span.hi, i + 3))
        )
        if item.unit == "psi" or (item.unit is None and 300 <= item.number <= 6000 and near):
            return f"{item.number:g} psi"
    match = _AIR_WORDS.search(words)
    return match.group() if match else None


_NEED = re.compile(rf"\b(?:{'|'.join(sorted(_NEEDS))})\b", re.IGNORECASE)


def _needs(text: str, context: Context, known: Names) -> str | None:
    """What is needed, in the speaker's words, up to where another part begins."""
    match = _NEED.search(text)
    if match is None:
        return None
    first, *rest = re.split(r"\s*,\s*", re.split(r"[.;!?\n]", text[match.start() :])[0])
    said = [first]
    for clause in rest:
        if not clause or _another(clause, context, known):
            break
        said.append(clause)
    return ", ".join(said).strip().casefold() or None


def _another(clause: str, context: Context, known: Names) -> bool:
    """Another part: a place, a unit, a name, air."""
    items = segmentations(spellings(tokens(clause), known, False)[0], known)[0][1]
    span = Span(items, 0, len(items), context, clause)
    parts = any(item.kind in ("place", "floor", "unit", "person") for item in items)
    return parts or _name(clause, Take(span)) is not None or _air(spaced(clause), span) is not None


_THEIRS = frozenset(("we", "i", "us", "our", "my", "rit", "ric"))
_SAID_MORE = 2
"""Words beside a single part that say nothing of it; with more of them it is something else."""
_KNOWN = (
    "low_air",
    "no_air",
    "air_word",
    "air_firm",
    "lowest_word",
    "own_trouble",
    "people_word",
    "crew_word",
    "into",
    "downed_member",
)


def read_more_of_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """A part of an open Mayday, said by anyone: "firefighter Brandt, charlie side", "he's in the attic"."""
    if not context.mayday_open or len(text) > _LONGEST:
        return None
    words = [t.text for t in tokens(text)]
    asked = bool(words) and (words[-1] == "?" or words[0] in word_list("mayday_asks") | word_list("polarity_aux"))
    own = context.mayday_unit is not None and context.speaker_unit == context.mayday_unit
    parts = lunar(text, context, known)
    other = parts.unit is not None and context.mayday_unit not in (None, parts.unit)
    if asked or other or (not own and not _THEIRS.isdisjoint(words)):
        return None
    said = [part for part in LUNAR if part != "assignment" and getattr(parts, part)]
    answers = context.asked is not None and isinstance(context.asked.fills, Mayday)
    if answers and len(said) < 2 and not _another_part(said, parts, context, text, known):
        return None  # the answer to what was asked, in its own words
    if (
        not said
        or (said == ["unit"] and not answers)
        or (len(said) == 1 and _else_said(text, context, known) > _SAID_MORE)
    ):
        return None
    return Reading(text, (parts,), 0.85, intent=Mayday.intent)


def _another_part(said: list[str], parts: Mayday, context: Context, text: str, known: Names) -> bool:
    """Where one part was asked for, another was said, and nothing beside it: "charlie side" to "how much air?".

    A name that is called one, "his name is Cole", is taken without the words around it.
    """
    asked = context.asked.slot if context.asked is not None else None
    if said == ["name"]:
        if _TITLED.fullmatch(text.strip(" .,!")):
            return asked not in ("location", "name")  # there a name alone is taken as it was said
        return _NAMED.search(text) is not None or (asked != "name" and not _else_said(text, context, known))
    if not said or (asked == "assignment" and parts.assignment) or asked in said:
        return False
    if said == ["resources"]:
        return _NEED.match(re.sub(r"^(?:they|he|she) ", "", text.strip(), flags=re.IGNORECASE)) is not None
    return (said == ["location"] and _IS_AT.match(spaced(text)) is not None) or not _else_said(text, context, known)


_IS_AT = re.compile(r" (?:he|she|they|i|we) (?:is|are|am) (?:still )?(?:in|at|on|by|near|behind|under|inside) ")
_LONGEST = 200


@by_language
def _news() -> Search:
    data = wording_file("trouble")
    return search(data["talk"]["news"], data["said"])


def news_of_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """What is told about it and is no part: "they've got him". Kept as said, and nothing is cleared by it."""
    words = spaced(text)
    if not context.mayday_open or " ? " in words or " not " in words or not _news().search(words):
        return None
    return Reading(text, (Mayday(text=text),), 0.85, intent=Mayday.intent)


def answers_no_part(text: str, context: Context, known: Names) -> bool:
    """Another company or the rescuers are spoken of: no answer to what was asked about the unit in trouble."""
    words = {t.text for t in tokens(text)}
    unit = lunar(text, context, known).unit
    return not words.isdisjoint(("rit", "ric", "par")) or unit not in (None, context.mayday_unit)


def _else_said(text: str, context: Context, known: Names) -> int:
    """How many words are no part of it."""
    spelled = spellings(tokens(text), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    parts = ("place", "floor", "unit", "person", "num", "sep")
    return sum(
        1
        for i in items
        if i.kind not in parts
        and not i.free
        and i.concepts.isdisjoint(_KNOWN)
        and i.text.split()[0] not in _NEEDS | _NEARBY
    )
