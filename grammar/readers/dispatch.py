"""Reads the text after the reserved word "dispatch:"."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

from rapidfuzz.distance import OSA

from grammar.beside import items_of
from grammar.commands import Benchmark, Choice, Command, Context, Dispatch, Question, Reading, SaidTime
from grammar.confidence import ASKED, CERTAIN
from grammar.items import Item
from grammar.lexicon import by_language
from grammar.vocabulary import Names, word_list

_DISPATCH = re.compile(r"^\s*(\w{6,10})\s*:(.*)$", re.DOTALL)
_PLAIN_DISPATCH = re.compile(r"^\s*dispatch\b[\s,]*(.*)$", re.IGNORECASE | re.DOTALL)
_NUMBERED = re.compile(r"[a-z]+(?: [a-z]+)? \d{1,4}", re.IGNORECASE)
"""Behind the first unit: one of a kind that the vocabulary doesn't know ("foam 1")."""
_HOUSE_NUMBER = re.compile(r"\d{1,6} [A-Z][\w']+(?: [A-Z][\w']+){0,3}")
_LONGEST = 25
"""Most words of a dispatch that isn't called one."""


@by_language
def _ways() -> dict[str, re.Pattern[str]]:
    """How what it is and where it is are written; the words are lists of the language."""

    def said(name: str) -> str:
        return "|".join(sorted(word_list(name), key=len, reverse=True)) or "(?!)"

    road = f"(?:{said('dispatch_roads')})"
    number = r"(?:\s+\d{1,4}[a-z]?(?=\s*(?:[,;.]|$)))?"  # that a road goes by: "County Road 12"
    return {
        "address": re.compile(rf"\b\d{{1,6}}[a-z]?\s+(?:[a-z][\w'.]*\s+){{1,4}}?{road}\b\.?{number}", re.IGNORECASE),
        "cross": re.compile(rf"\b[a-z][\w']*\s+{road}\s+(?:and|at|&)\s+[a-z][\w']*\s+{road}\b", re.IGNORECASE),
        "road": re.compile(rf"\b(?:{road}|{said('dispatch_on_a_road')})\b|\bi-?\d", re.IGNORECASE),
        "house": re.compile(rf"^\d{{1,6}}[a-z]?\s+(?!(?:{said('dispatch_counted')})\b)[a-z]", re.IGNORECASE),
        "place": re.compile(rf"(?:\d{{1,6}} )?(?:[A-Z][\w']+ ){{1,3}}(?:{said('dispatch_places').title()})"),
        "medical": re.compile(rf"\b(?:{said('dispatch_medical')})\b", re.IGNORECASE),
        "fire": re.compile(rf"\b(?:{said('dispatch_fire')})\b", re.IGNORECASE),
    }


def _kind(said: str) -> Literal["fire", "medical"] | None:
    return "medical" if _ways()["medical"].search(said) else "fire" if _ways()["fire"].search(said) else None


def _street(said: str) -> re.Match[str] | None:
    return _ways()["address"].search(said) or _ways()["cross"].search(said)


class _Part(NamedTuple):
    """What stands between two commas, with its items."""

    words: str
    items: list[Item]

    @property
    def said(self) -> list[Item]:
        return [item for item in self.items if not item.free and item.kind != "sep" and "and" not in item.concepts]

    @property
    def only_units(self) -> bool:
        """ "Engine 9 and ladder 3"."""
        return bool(self.said) and all(item.kind in ("unit", "time") for item in self.said)

    @property
    def reports(self) -> bool:
        """ "En route at 14:00" behind the dispatch: a report of one's own."""
        first = bool(self.said) and "en_route" in self.said[0].concepts
        return first and all(item.kind == "time" for item in self.said[1:])


def read_dispatch(text: str, context: Context, known: Names) -> Reading | None:
    """The text after the reserved word, with what of it can be told: nature, address, units, kind."""
    match = _DISPATCH.match(text)
    if match is None or OSA.distance(match.group(1).lower(), "dispatch") > 2:
        return _without_colon(text, context, known)
    said = " ".join(match.group(2).split())
    if said:
        commands = _dispatched(said, known)
        return Reading(text, commands, CERTAIN, intent=Dispatch.intent)
    question = Question("What is the dispatch? Paste or type it after “dispatch:”.", (), Dispatch(""), "text")
    return Reading(text, question=question, confidence=ASKED, intent=Dispatch.intent)


def _dispatched(said: str, known: Names) -> tuple[Command, ...]:
    words = (part.strip(" .;-") for part in re.split(r"[,;\n]|\. ", said))
    parts = [_Part(part, items_of(part, known)) for part in words if part]
    own = [Benchmark("en_route", time=_time(part.items)) for part in parts if part.reports]
    rest = [part for part in parts if not part.reports]
    nature, address = _nature_and_address(said, rest)
    time = _time([item for part in rest for item in part.items])
    return Dispatch(said, nature, address, _units(rest), _kind(said), time), *own


def _time(items: list[Item]) -> SaidTime | None:
    return next((item.value for item in items if item.kind == "time" and isinstance(item.value, SaidTime)), None)


def _units(parts: list[_Part]) -> tuple[str, ...]:
    units: list[str] = []
    for part in parts:
        found = [str(i.value) for i in part.items if i.kind == "unit" and "crew:everyone" not in i.concepts]
        more = not found and units and _NUMBERED.fullmatch(part.words)
        units += [part.words.lower()] if more else found
    return tuple(dict.fromkeys(units))


def _without_colon(text: str, context: Context, known: Names) -> Reading | None:
    """ "Dispatch structure fire 214 Harbor Street": spoken, there is no colon; asked, since it may call the
    dispatcher.
    """
    match = _PLAIN_DISPATCH.match(text)
    said = match.group(1) if match is not None and not context.incident_open else ""
    return _is_it_one(text, said, known) if _street(said) and _kind(said) else None


def _is_it_one(text: str, said: str, known: Names) -> Reading:
    choices = (Choice("dispatch", _dispatched(" ".join(said.split()), known)), Choice("no"))
    return Reading(text, question=Question("Is that a dispatch?", choices), confidence=ASKED, intent=Dispatch.intent)


def bare_dispatch(text: str, context: Context, known: Names) -> Reading | None:
    """An address without the reserved word, where no incident is open: asked whether it is a dispatch.

    Among people only where companies or what it is stand with it.
    """
    said = " ".join(text.split()).strip(" .,;")
    if context.incident_open or "?" in text or len(said.split()) > _LONGEST:
        return None
    parts = [part.strip() for part in re.split(r"[,;]", said)]
    first = items_of(parts[0], known)
    if any(item.kind == "num" and item.unit is not None for item in first):
        return None
    place = _ways()["place"].fullmatch
    plain = _HOUSE_NUMBER.fullmatch(parts[0]) and not any(item.kind == "unit" for item in first)
    whole = bool(place(parts[0]) or plain)
    street = _street(said)
    told = _kind(said) is not None or any(item.kind == "unit" for item in items_of(said, known))
    by_itself = (whole or (street is not None and street.group() == said)) and (context.addressed or not context.group)
    where = whole or street is not None or any(map(place, parts))
    return _is_it_one(text, said, known) if where and (told or by_itself) else None


def _nature_and_address(said: str, parts: list[_Part]) -> tuple[str | None, str | None]:
    """What it is and where: a street in the words says where; without one, the part that begins with a house number or
    names a road, else the part behind the nature.
    """
    found = _street(said)
    if found is not None:
        nature = re.sub(r"\s+(?:at|on|in)$", "", said[: found.start()].strip(" ,;.-"))
        return nature or None, found.group().rstrip(".")
    units = next((k for k, part in enumerate(parts) if k and part.only_units), len(parts))
    rest = [p.words for k, p in enumerate(parts) if not (p.only_units or (k > units and _NUMBERED.fullmatch(p.words)))]
    if not rest:
        return None, None
    ways = _ways()
    searched = (ways["house"].search, ways["road"].search, ways["place"].fullmatch)
    where = next((part for way in searched for part in rest if way(part)), None) or next(iter(rest[1:]), None)
    if where is not None and where != rest[0]:
        return ", ".join(rest[: rest.index(where)]), where
    what, at, place = rest[0].partition(" at ")
    if at and not ways["house"].search(rest[0]):
        return what, place  # "car fire at the old mill"
    return (None, rest[0]) if where else (rest[0], None)
