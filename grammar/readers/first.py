"""Reads what comes before everything else: Mayday, the reserved word "dispatch:", and the answer to an open question."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rapidfuzz.distance import OSA

from grammar.amend import amendments
from grammar.commands import Choice, Command, Confirm, Context, Dispatch, Mayday, Question, Readiness, Reading, SaidTime
from grammar.items import Item
from grammar.numbers import numbers_at
from grammar.polarity import mark_polarity
from grammar.readers.base import Span, Take
from grammar.readers.people import _TASKS
from grammar.spelling import spellings
from grammar.stretch import left_over
from grammar.tagger import segmentations
from grammar.text import Token, tokens
from grammar.vocabulary import Names, names, vocabulary, word_list

# --------------------------------------------------------------------------------------------------------------------- Mayday

_QUESTION = frozenset(["is", "was", "are", "did", "any", "does", "was"])


def read_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """Mayday, whatever surrounds it; never out of other words. A doubtful one is asked about at once."""
    found = tokens(text)
    words = [t.text for t in found]
    at = _maydays(words)
    if not at:
        return None
    cleared = _cleared(words, at, context)
    if cleared is not None:
        return cleared
    real = [a for a in at if not _otherwise(words, *a)]
    if not real:
        joined = any(end - start == 1 for start, end in at)
        if joined and context.addressed:
            return Reading(
                text, declined="Not taken as a Mayday. If there is one, say Mayday by itself.", intent=Mayday.intent
            )
        return None
    command = lunar(text, context, known)
    doubtful = len(real) == 1 and _asked_or_denied(words, real[0][0])
    if doubtful:
        question = Question("Is there a Mayday?", (Choice("Mayday", (command,)), Choice("no Mayday")))
        return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)
    return Reading(text, (command,), 0.99, intent=Mayday.intent)


def _maydays(words: list[str]) -> list[tuple[int, int]]:
    """Where the word stands: (start, end)."""
    found = []
    i = 0
    while i < len(words):
        word = words[i]
        if _like_mayday(word):
            found.append((i, i + 1))
        elif word == "may" and words[i + 1 : i + 2] == ["day"]:
            found.append((i, i + 2))
            i += 1
        i += 1
    return found


def _like_mayday(word: str) -> bool:
    """The word, run together, or within one slip of it."""
    if word in ("mayday", "maydays", "mayday's", "m'aidez", "maidez"):
        return True
    if word in word_list("first_not_it") or len(word) < 5:
        return False
    if "mayday" in word or re.sub(r"(.)\1+", r"\1", word) == "mayday":
        return True
    return (
        word[0] == "m"
        and OSA.distance(word, "mayday") <= 1
        and word[-1] in "ya"
        and "d" in word
        and word.count("y") + word.count("a") >= 2
    )


def _near(word: str, known: frozenset[str]) -> bool:
    """One of the words, or one slip from a longer one."""
    return word in known or (len(word) > 3 and any(len(w) > 4 and OSA.distance(word, w) <= 1 for w in known))


def _otherwise(words: list[str], start: int, end: int) -> bool:
    """A drill, a holiday, a day off."""
    after = words[end : end + 2]
    before = words[max(start - 3, 0) : start]
    drill = any(_near(w, word_list("first_drill")) for w in after[:1]) or (
        len(after) > 1 and after[1] in word_list("first_drill") and after[0] in ("radio", "call", "team")
    )
    if drill:
        return True
    if "drill" in words and "not" not in words and "mayday" not in words[end:]:
        return True
    two = end - start == 2
    if after[:1] == ["off"] and (
        len(words) == end + 1
        or words[end + 1] in ("for", "on", "this", "next", "please", "tomorrow", "from", "work", "request", "?", ".")
    ):
        return True
    if (
        two
        and before
        and before[-1] in word_list("first_day_before")
        and (start, end) == (start, end)
        and words.count("may") == 1
    ):
        return before[-1] != "is" or "holiday" in words
    return two and any(_near(w, frozenset(("holiday", "parade"))) for w in words)


def _asked_or_denied(words: list[str], start: int) -> bool:
    before = words[:start]
    if (
        before[-1:] == ["no"]
        or before[-2:] in (["not", "a"], ["no", "a"])
        or "was" in before[-3:]
        or ("not" in before[-3:] and "drill" not in before)
    ):
        return True
    return bool(before[:1]) and before[0] in _QUESTION


_CLEARING = frozenset("clear cancel terminate clearing cancelling canceling".split())


def _cleared(words: list[str], at: list[tuple[int, int]], context: Context) -> Reading | None:
    """ "mayday cleared", "cancel the mayday"; "mayday not cleared" is answered with a question."""
    if len(at) > 1:
        return None
    start, end = at[0]
    after = [w for w in words[end : end + 4] if w not in ("is", "has", "been", "the", "now", "was")]
    before = words[max(start - 3, 0) : start]
    text = " ".join(words)
    if after[:1] and (_near(after[0], word_list("first_clear")) or after[0] == "clear"):
        rest = after[1:] + words[end + 4 :]
        if any(w in ("not", "?") for w in words):
            return _ask_mayday(text, context)
        if {"trapped", "lost", "down", "need", "air"} & set(rest):
            return None
        return Reading(text, (Mayday(cleared=True, text=text),), 0.97, intent=Mayday.intent)
    if after[:2] == ["not", "cleared"] or after[:2] == ["not", "clear"]:
        return _ask_mayday(text, context)
    clears = [] if before[-2:] == ["all", "clear"] else [w for w in before if w == "end" or _near(w, _CLEARING)]
    if clears and not set(words) & word_list("first_drill"):
        command = Mayday(cleared=True, text=text)
        if context.mayday_open:
            return Reading(text, (command,), 0.9, intent=Mayday.intent)
        question = Question("Is the Mayday cleared?", (Choice("cleared", (command,)), Choice("no")))
        return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)
    return None


def _ask_mayday(text: str, context: Context) -> Reading:
    del context
    question = Question(
        "Is the Mayday still on?", (Choice("still on"), Choice("cleared", (Mayday(cleared=True, text=text),)))
    )
    return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)


_NEEDS = frozenset(("need", "needs", "send", "requesting", "bring"))


def lunar(text: str, context: Context, known: Names) -> Mayday:
    """Location, unit, name, assignment, air and resources as far as they were said."""
    spelled = spellings(tokens(text), known, False)[0]
    items = segmentations(spelled, known)[0][1]
    span = Span(items, 0, len(items), context, text)
    take = Take(span)
    unit = take.unit()
    place = take.place()
    person = take.kind("person")
    words = " ".join(spelled.words)
    air = _air(words, span)
    resources = next((" ".join(spelled.words[i:]) for i, w in enumerate(spelled.words) if w in _NEEDS), None)
    assignment = next(
        (
            name
            for concept, name in _TASKS
            if span.has(concept) and concept in ("task_search", "task_vent", "task_attack", "task_overhaul")
        ),
        None,
    )
    return Mayday(
        location=place,
        unit=unit,
        name=str(person.value) if person is not None else None,
        assignment=assignment,
        air=air,
        resources=resources,
        text=text,
    )


_AIR_WORDS = re.compile(
    r"\b(?:out of air|low on air|low air|no air|air is low|(?:half|quarter) (?:a )?(?:bottle|cylinder))\b"
)


def _air(words: str, span: Span) -> str | None:
    match = _AIR_WORDS.search(words)
    if match:
        return match.group()
    for i in span.kinds("num"):
        item = span.items[i]
        if item.unit == "psi" or (
            item.unit is None and 300 <= item.number <= 6000 and span.has("air_word", "lowest_word")
        ):
            return f"{item.number:g} psi"
    return None


# ------------------------------------------------------------------------------------------------------------------- dispatch

_DISPATCH = re.compile(r"^\s*(\w{6,10})\s*:(.*)$", re.DOTALL)
_ROAD = r"(?:street|st|avenue|ave|road|rd|lane|ln|drive|dr|court|ct|boulevard|blvd|way|place|pl|circle|highway|hwy|route|terrace|square)"
_ADDRESS = re.compile(rf"\b\d{{1,6}}[a-z]?\s+(?:[a-z][\w'.]*\s+){{1,4}}?{_ROAD}\b\.?", re.IGNORECASE)
_CROSS = re.compile(rf"\b[a-z][\w']*\s+{_ROAD}\s+(?:and|at|&)\s+[a-z][\w']*\s+{_ROAD}\b", re.IGNORECASE)
_MEDICAL = re.compile(
    r"\b(?:medical|cardiac|arrest|chest pain|unconscious|breathing|patient|fall|fallen|injur\w*|overdose|stroke|seizure|bleeding|sick|diabetic|"
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
    """ "Dispatch structure fire 214 Harbor Street": spoken, there is no colon; asked, since it may call the dispatcher."""
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


# ---------------------------------------------------------------------------------------------------------- an open question


def read_answer(text: str, context: Context, known: Names) -> Reading | None:
    """The answer to the question that is open to this speaker: a choice, yes or no, or the missing slot."""
    asked = context.asked
    if asked is None or len(text) > 120:
        return None
    found = tokens(text)
    words = [t.text for t in found if t.text not in ".,!?;:"]
    chosen = _choice(words, asked)
    if chosen is not None:
        if not chosen.commands:
            return Reading(text, (Confirm(False),), 0.97, intent=Confirm.intent)
        return Reading(text, chosen.commands, 0.97, intent=chosen.commands[0].intent)
    if asked.fills is not None:
        return _filled(text, found, asked, context, known)
    return None


_NO = frozenset(["no", "nope", "negative", "nah", "n"])


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
    return _by_number(core, asked, labels) or _by_meaning(words, asked, labels)


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
        return doing[0] if len(doing) == 1 else None
    return None


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


_VALUE = re.compile(r"-?\d+(?:\.\d+)?")


def read_check(text: str, context: Context) -> Reading | None:
    """The answer to the check-list item that is being asked for: good, bad, or a value."""
    item = context.readiness_item
    words = [t.text for t in tokens(text) if t.text not in ".,!;:"]
    if item is None or not words:
        return None
    core = [
        w
        for w in words
        if w not in word_list("first_fluff") and w not in ("all", "to", "go", "looks", "there", "checks", "sir", "not")
    ] or words
    if (
        not core
        or core[0] not in word_list("first_good") | word_list("first_bad")
        or (
            len(core) > 1
            and core[0] not in word_list("first_bad")
            and any(w not in word_list("first_good") for w in core[1:])
        )
    ):
        return None
    good = core[0] in word_list("first_good") and "not" not in words
    value = _VALUE.search(text)
    remark = text.strip() if not good and len(words) > 1 else None
    command = Readiness("answer", item, good, float(value.group()) if value else None, remark)
    return Reading(text, (command,), 0.97, intent=Readiness.intent)


def first_of_all(text: str, context: Context) -> Reading | None:
    """Mayday before anything, then "dispatch:", then the answer to what was asked."""
    known = names(context)
    dispatch = read_dispatch(text, context, known)
    if dispatch is not None:
        return dispatch
    return read_mayday(text, context, known) or read_check(text, context) or read_answer(text, context, known)
