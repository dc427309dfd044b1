"""The parts of a Mayday as they were said: location, unit, name, assignment, air, resources; all of each."""

from __future__ import annotations

import re
from itertools import chain

from rapidfuzz.distance import OSA

from grammar.commands import Context, Mayday, Reading
from grammar.confidence import KEPT
from grammar.costs import HARDLY
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


def lunar(text: str, context: Context, known: Names) -> Mayday:
    """Location, unit, name, assignment, air and resources as far as they were said."""
    spelled = spellings(tokens(text), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    span = Span(items, 0, len(items), context, text)
    take = Take(span)
    unit, location = take.unit(), _location(span)
    tasks = (name for concept, name in TASKS if span.has(concept) and concept in word_list("lunar_tasks"))
    return Mayday(
        location=location,
        unit=unit,
        name=_name(text, take) or (_name_alone(text, known) if unit or location else None),
        assignment=next(tasks, None),
        air=_air(" ".join(spelled.words), span),
        resources=_needs(text, context, known),
        text=text,
    )


def _location(span: Span) -> str | None:
    """All places that were said, each with what it is near: "second floor, charlie side", "basement by the boiler"."""
    places: dict[str, None] = {}
    for i in range(span.lo, span.hi):
        item = span.items[i]
        if item.kind in ("place", "floor"):
            places[" ".join([place_of(item), *_nearby(span, i + 1)])] = None
        elif _floor_by_number(span, i):
            places[floor_name(int(item.number))] = None
    return ", ".join(places) or None


def _nearby(span: Span, k: int) -> list[str]:
    """What a place is near, up to where another part begins; nothing before the next place."""
    end = next((n for n in range(k, span.hi) if _part_begins(span, n)), span.hi)
    nearby = k < end and span.items[k].text in word_list("lunar_near")
    next_place = end < span.hi and span.items[end].kind in ("place", "floor")
    return [item.text for item in span.items[k:end]] if nearby and not next_place else []


def _floor_by_number(span: Span, i: int) -> bool:
    """ "On three", and nothing is counted by it."""
    item, before = span.items[i], span.items[i - 1].text if i > span.lo else ""
    number = item.kind == "num" and item.unit is None and item.form == "int" and item.number in range(1, 30)
    ends = i + 1 >= span.hi or span.items[i + 1].kind in ("sep", "place", "unit")
    return number and before in word_list("lunar_on") and ends


def _part_begins(span: Span, k: int) -> bool:
    item = span.items[k]
    needs = item.text.split()[:1] and item.text.split()[0] in word_list("lunar_needs")
    return item.kind not in ("word", "term") or bool(needs) or bool(item.concepts & word_list("lunar_parts"))


def _any_of(name: str) -> str:
    """An expression for any word of a list; for none where the language has none."""
    return "|".join(sorted(word_list(name))) or "(?!)"


@by_language
def _names() -> dict[str, re.Pattern[str]]:
    """How people are named: with a title, called so, shown; by itself: a stretch of one word."""
    titles, called, shown, joins = map(_any_of, ("lunar_titles", "lunar_called", "lunar_shown", "lunar_joins"))
    return {
        "titled": re.compile(rf"\b((?:{titles})\.? ([a-z][a-z'-]+))", re.IGNORECASE),
        "called": re.compile(rf"\b(?:{called}) ([a-z][a-z'-]+)\b", re.IGNORECASE),
        "shown": re.compile(rf"\b(?:{shown}) ([A-Z][a-z'-]+)\b"),
        "alone": re.compile(
            rf"(?:^|[,.;])\s*(?:[a-z]+ \d+ )?([a-z][a-z'-]+)(?: (?:{joins})\b[^,.;]*)?\s*(?=$|[,.;])", re.IGNORECASE
        ),
    }


def _name(text: str, take: Take) -> str | None:
    """A person of the crew, "firefighter Brandt", "name's Cole": as it was said."""
    person = take.kind("person")
    if person is not None:
        return str(person.value)
    ways = _names()
    titled = (m.group(1) for m in ways["titled"].finditer(text) if is_no_word(m.group(2)))
    called = (m.group(1) for way in ("called", "shown") for m in ways[way].finditer(text) if is_no_word(m.group(1)))
    return next(chain(titled, called), None)


def is_name(word: str, known: Names) -> bool:
    """No word of ours, no ordinary one and no plain slip in one: somebody's name."""
    word = word.casefold()
    return len(word) > _SHORTEST_NAME and is_no_word(word) and not _a_slip(word, known)


def is_no_word(word: str) -> bool:
    """No ordinary word and no term."""
    return word.casefold() not in vocabulary().words


def _name_alone(text: str, known: Names) -> str | None:
    """ "engine 9, Cole": a stretch of one word that is no word of ours, no ordinary one and no plain slip in one."""
    said = (match.group(1) for match in _names()["alone"].finditer(text))
    return next((word for word in said if is_name(word, known)), None)


def _a_slip(word: str, known: Names) -> bool:
    """One slip in a longer word, or a slip in the name of a place. "Cole" is no slip in "code"."""
    spelled = spellings(tokens(word), known, False)[0]
    meant = " ".join(spelled.words)
    if meant == word:
        return False
    place = any(item.kind in ("place", "floor") for item in segmentations(spelled, known)[0][1])
    dropped = max(spelled.costs) <= HARDLY  # "goin"
    return place or dropped or (len(word) >= _LONGER and OSA.distance(word, meant) == 1)


_SHORTEST_NAME = 2
_LONGER = 6


@by_language
def _air_words() -> Search:
    data = wording_file("trouble")
    return search(data["talk"]["air"], data["said"])


def _air(words: str, span: Span) -> str | None:
    """What is left of it, as a number or in words."""
    for i in span.kinds("num"):
        item = span.items[i]
        beside = span.items[max(span.lo, i - 4) : min(span.hi, i + 3)]
        near = any(one.concepts & word_list("lunar_air") for one in beside)
        if item.unit == "psi" or (item.unit is None and round(item.number) in _GAUGES and near):
            return f"{item.number:g} psi"
    match = _air_words().search(f" {words} ")
    return match.group().strip() if match else None


_GAUGES = range(300, 6001)


@by_language
def _need() -> re.Pattern[str]:
    return re.compile(rf"\b(?:{_any_of('lunar_needs')})\b", re.IGNORECASE)


def _needs(text: str, context: Context, known: Names) -> str | None:
    """What is needed, in the speaker's words, up to where another part begins."""
    match = _need().search(text)
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


_SAID_MORE = 2
"""Words beside a single part that say nothing of it; with more of them it is something else."""


def read_more_of_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """A part of an open Mayday, said by anyone: "firefighter Brandt, charlie side", "he's in the attic"."""
    if not context.mayday_open or len(text) > _LONGEST:
        return None
    parts = lunar(text, context, known)
    if _of_somebody_else(parts, [t.text for t in tokens(text)], context):
        return None
    said = [part for part in LUNAR if part != "assignment" and getattr(parts, part)]
    answers = context.asked is not None and isinstance(context.asked.fills, Mayday)
    if answers and len(said) < 2 and not _another_part(said, parts, context, text, known):
        return None  # the answer to what was asked, in its own words
    if not said or (said == ["unit"] and not answers):
        return None
    if len(said) == 1 and _else_said(text, context, known) > _SAID_MORE:
        return None
    return Reading(text, (parts,), KEPT, intent=Mayday.intent)


def _of_somebody_else(parts: Mayday, words: list[str], context: Context) -> bool:
    """A question, another company, or somebody who speaks of themselves."""
    if words[-1:] == ["?"] or (words[:1] and words[0] in word_list("mayday_asks") | word_list("polarity_aux")):
        return True
    own = context.mayday_unit is not None and context.speaker_unit == context.mayday_unit
    other = parts.unit is not None and context.mayday_unit not in (None, parts.unit)
    return other or (not own and not word_list("lunar_theirs").isdisjoint(words))


def _another_part(said: list[str], parts: Mayday, context: Context, text: str, known: Names) -> bool:
    """Where one part was asked for, another was said, and nothing beside it: "charlie side" to "how much air?".

    A name that is called one, "his name is Cole", is taken without the words around it.
    """
    asked = context.asked.slot if context.asked is not None else None
    if said == ["name"]:
        if _names()["titled"].fullmatch(text.strip(" .,!")):
            return asked not in ("location", "name")  # there a name alone is taken as it was said
        return _names()["called"].search(text) is not None or (asked != "name" and not _else_said(text, context, known))
    if not said or (asked == "assignment" and parts.assignment) or asked in said:
        return False
    if said == ["resources"]:
        return _need().match(re.sub(r"^(?:they|he|she) ", "", text.strip(), flags=re.IGNORECASE)) is not None
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
    return Reading(text, (Mayday(text=text),), KEPT, intent=Mayday.intent)


def answers_no_part(text: str, context: Context, known: Names) -> bool:
    """Another company or the rescuers are spoken of: no answer to what was asked about the unit in trouble."""
    words = {t.text for t in tokens(text)}
    unit = lunar(text, context, known).unit
    return not words.isdisjoint(word_list("lunar_rescuers")) or unit not in (None, context.mayday_unit)


def _else_said(text: str, context: Context, known: Names) -> int:
    """How many words are no part of it."""
    items = segmentations(spellings(tokens(text), known, False)[0], known)[0][1]
    parts = ("place", "floor", "unit", "person", "num", "sep")
    words = word_list("lunar_needs") | word_list("lunar_near")
    rest = (i for i in items if i.kind not in parts and not i.free and not i.concepts & word_list("lunar_known"))
    return sum(item.text.split()[0] not in words for item in rest)
