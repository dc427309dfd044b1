"""Reads the text after the reserved word "dispatch:"."""

from __future__ import annotations

import re
from typing import NamedTuple

from rapidfuzz.distance import OSA

from grammar.commands import Benchmark, Choice, Context, Dispatch, Question, Reading, SaidTime
from grammar.items import Item
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names

_DISPATCH = re.compile(r"^\s*(\w{6,10})\s*:(.*)$", re.DOTALL)


_ROAD = (
    r"(?:street|st|avenue|ave|road|rd|lane|ln|drive|dr|court|ct|boulevard|blvd|way|place|pl|circle|highway|hwy|route|"
    r"terrace|square)"
)


_NO = r"(?:\s+\d{1,4}[a-z]?(?=\s*(?:[,;.]|$)))"
"""The number that a road goes by: "County Road 12"."""
_ADDRESS = re.compile(rf"\b\d{{1,6}}[a-z]?\s+(?:[a-z][\w'.]*\s+){{1,4}}?{_ROAD}\b\.?{_NO}?", re.IGNORECASE)


_CROSS = re.compile(rf"\b[a-z][\w']*\s+{_ROAD}\s+(?:and|at|&)\s+[a-z][\w']*\s+{_ROAD}\b", re.IGNORECASE)


_MEDICAL = re.compile(
    r"\b(?:medical|cardiac|arrest|chest pain|unconscious|breathing|patient|fall|fallen|injur\w*|"
    r"overdose|stroke|seizure|"
    r"bleeding|sick|diabetic|"
    r"unresponsive|allergic|choking|pregnan\w*|ems|fainted|syncope|mva with injuries|year old)\b",
    re.IGNORECASE,
)


_FIRE = re.compile(r"\b(?:fire|smoke|structure|alarm|burning|flames?|explosion|gas leak|chimney)\b", re.IGNORECASE)


def read_dispatch(text: str, context: Context, known: Names) -> Reading | None:
    """The text after the reserved word, with what of it can be told: nature, address, units, kind."""
    match = _DISPATCH.match(text)
    if match is None or OSA.distance(match.group(1).lower(), "dispatch") > 2:
        return _without_colon(text, context, known)
    said = " ".join(match.group(2).split())
    if not said:
        question = Question("What is the dispatch? Paste or type it after “dispatch:”.", (), Dispatch(""), "text")
        return Reading(text, question=question, confidence=0.6, intent=Dispatch.intent)
    parts = [
        _Part(words, _items(words, known)) for part in re.split(r"[,;\n]|\. ", said) if (words := part.strip(" .;-"))
    ]
    own = [part for part in parts if _reports(part.items)]
    rest = [part for part in parts if part not in own]
    time = next((i.value for p in rest for i in p.items if i.kind == "time" and isinstance(i.value, SaidTime)), None)
    kind = "medical" if _MEDICAL.search(said) else "fire" if _FIRE.search(said) else None
    nature, address = _nature_and_address(said, rest)
    command = Dispatch(said, nature, address, _units(rest), kind, time)  # type: ignore[arg-type]
    return Reading(text, (command, *(_of_the_road(part.items) for part in own)), 0.98, intent=Dispatch.intent)


class _Part(NamedTuple):
    """What stands between two commas, with its items."""

    words: str
    items: list[Item]


_NUMBERED = re.compile(r"[a-z]+(?: [a-z]+)? \d{1,4}", re.IGNORECASE)
"""Behind the first unit: one of a kind that the vocabulary doesn't know ("foam 1")."""


def _units(parts: list[_Part]) -> tuple[str, ...]:
    units: list[str] = []
    for part in parts:
        found = [str(i.value) for i in part.items if i.kind == "unit" and "crew:everyone" not in i.concepts]
        if not found and units and _NUMBERED.fullmatch(part.words):
            found = [part.words.lower()]
        units += found
    return tuple(dict.fromkeys(units))


_PLAIN_DISPATCH = re.compile(r"^\s*dispatch\b[\s,]*(.*)$", re.IGNORECASE | re.DOTALL)


def _without_colon(text: str, context: Context, known: Names) -> Reading | None:
    """ "Dispatch structure fire 214 Harbor Street": spoken, there is no colon; asked, since it may call the
    dispatcher.
    """
    match = _PLAIN_DISPATCH.match(text)
    if match is None or context.incident_open or not (_ADDRESS.search(match.group(1)) or _CROSS.search(match.group(1))):
        return None
    if not (_FIRE.search(match.group(1)) or _MEDICAL.search(match.group(1))):
        return None
    reading = read_dispatch(f"dispatch: {match.group(1)}", context, known)
    if reading is None or not reading.commands:
        return None
    question = Question("Is that a dispatch?", (Choice("dispatch", reading.commands), Choice("no")))
    return Reading(text, question=question, confidence=0.6, intent=Dispatch.intent)


_NAMED_PLACE = re.compile(
    r"(?:\d{1,6} )?(?:[A-Z][\w']+ ){1,3}(?:Towers?|Plaza|Mall|Apartments|Manor|Estates|Terrace|School|Church|"
    r"Center|Hospital|Hotel|Motel|Arms|Village|Park|Mills?|Building|Square)"
)
_HOUSE_NUMBER = re.compile(r"\d{1,6} [A-Z][\w']+(?: [A-Z][\w']+){0,3}")


def bare_dispatch(text: str, context: Context, known: Names) -> Reading | None:
    """An address without the reserved word, where no incident is open: asked whether it is a dispatch.

    Among people only where companies or what it is stand with it.
    """
    said = " ".join(text.split()).strip(" .,;")
    if context.incident_open or "?" in text or len(said.split()) > _LONGEST:
        return None
    parts = [part.strip() for part in re.split(r"[,;]", said)]
    first = _items(parts[0], known)
    measured = any(item.kind == "unit" or (item.kind == "num" and item.unit is not None) for item in first)
    whole = bool(_NAMED_PLACE.fullmatch(parts[0]) or (_HOUSE_NUMBER.fullmatch(parts[0]) and not measured))
    address = _ADDRESS.search(said) or _CROSS.search(said) or (whole or any(map(_NAMED_PLACE.fullmatch, parts)))
    units = any(item.kind == "unit" for item in _items(said, known))
    told = units or bool(_FIRE.search(said) or _MEDICAL.search(said))
    by_itself = whole or bool(_ADDRESS.fullmatch(said))
    if (
        any(item.kind == "num" and item.unit is not None for item in first)
        or not address
        or not (told or (by_itself and (context.addressed or not context.group)))
    ):
        return None
    reading = read_dispatch(f"dispatch: {said}", context, known)
    if reading is None or not reading.commands:
        return None
    question = Question("Is that a dispatch?", (Choice("dispatch", reading.commands), Choice("no")))
    return Reading(text, question=question, confidence=0.6, intent=Dispatch.intent)


_LONGEST = 25
"""Most words of a dispatch that isn't called one."""


def _items(part: str, known: Names) -> list[Item]:
    """One part between commas, tagged."""
    found = tokens(part)
    return segmentations(spellings(found, known, False)[0], known)[0][1] if found else []


def _reports(items: list[Item]) -> bool:
    """ "En route at 14:00" behind the dispatch: a report of one's own."""
    said = [item for item in items if not item.free and item.kind != "sep"]
    return bool(said) and "en_route" in said[0].concepts and all(i.kind == "time" for i in said[1:])


def _of_the_road(items: list[Item]) -> Benchmark:
    time = next((i.value for i in items if i.kind == "time" and isinstance(i.value, SaidTime)), None)
    return Benchmark("en_route", time=time)


def _only_units(part: _Part) -> bool:
    """ "Engine 9 and ladder 3"."""
    said = [item for item in part.items if not item.free and item.kind != "sep" and "and" not in item.concepts]
    return bool(said) and all(item.kind in ("unit", "time") for item in said)


_HOUSE = re.compile(
    r"^\d{1,6}[a-z]?\s+(?!(?:year|yr|car|story|stories|alarm|patients?|victims?|vehicles?|people)\b)[a-z]", re.I
)
"""A part that begins with a house number: "1200 Beacon Tower"."""
_ON_A_ROAD = re.compile(
    rf"\b(?:{_ROAD}|exit|mile|mm|milepost|interstate|junction|intersection|block of|corner of)\b|\bi-?\d", re.I
)


def _nature_and_address(said: str, parts: list[_Part]) -> tuple[str | None, str | None]:
    """What it is and where: a street in the words says where; without one, the part that begins with a house number or
    names a road, else the part behind the nature.
    """
    found = _ADDRESS.search(said) or _CROSS.search(said)
    if found is not None:
        nature = re.sub(r"\s+(?:at|on|in)$", "", said[: found.start()].strip(" ,;.-"))
        return nature or None, found.group().rstrip(".")
    units = [k for k, part in enumerate(parts) if _only_units(part)]
    after = units[0] if units and units[0] > 0 else -1
    plain = [
        part.words
        for k, part in enumerate(parts)
        if not _only_units(part) and not (0 <= after < k and _NUMBERED.fullmatch(part.words))
    ]
    if not plain:
        return None, None
    ways = (_HOUSE.search, _ON_A_ROAD.search, _NAMED_PLACE.fullmatch)
    where = next((part for way in ways for part in plain if way(part)), None)
    if where is None and len(plain) > 1:
        where = plain[1]
    if where is not None and where != plain[0]:
        return ", ".join(plain[: plain.index(where)]), where
    what, at, place = plain[0].partition(" at ")
    if at and not _HOUSE.search(plain[0]):
        return what, place  # "car fire at the old mill"
    return (None, plain[0]) if where else (plain[0], None)
