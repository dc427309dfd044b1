"""Reads the text after the reserved word "dispatch:"."""

from __future__ import annotations

import re

from rapidfuzz.distance import OSA

from grammar.commands import Choice, Context, Dispatch, Question, Reading, SaidTime
from grammar.spelling import spellings
from grammar.tagger import segmentations
from grammar.text import tokens
from grammar.vocabulary import Names

_DISPATCH = re.compile(r"^\s*(\w{6,10})\s*:(.*)$", re.DOTALL)


_ROAD = (
    r"(?:street|st|avenue|ave|road|rd|lane|ln|drive|dr|court|ct|boulevard|blvd|way|place|pl|circle|highway|hwy|route|"
    r"terrace|square)"
)


_ADDRESS = re.compile(rf"\b\d{{1,6}}[a-z]?\s+(?:[a-z][\w'.]*\s+){{1,4}}?{_ROAD}\b\.?", re.IGNORECASE)


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
    address = _ADDRESS.search(said) or _CROSS.search(said)
    spelled = spellings(tokens(said), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    units = tuple(dict.fromkeys(str(i.value) for i in items if i.kind == "unit" and "crew:everyone" not in i.concepts))
    time = next((i.value for i in items if i.kind == "time" and isinstance(i.value, SaidTime)), None)
    kind = "medical" if _MEDICAL.search(said) else "fire" if _FIRE.search(said) else None
    nature = _nature(said, address.start() if address else len(said))
    command = Dispatch(said, nature, address.group().rstrip(".") if address else None, units, kind, time)  # type: ignore[arg-type]
    return Reading(text, (command,), 0.98, intent=Dispatch.intent)


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


def _nature(said: str, stop: int) -> str | None:
    """What is said before the address, to the first comma that ends a phrase of words."""
    head = said[:stop].strip(" ,;.-")
    head = re.sub(r"\s+(?:at|on|in)$", "", head)
    return head or None
