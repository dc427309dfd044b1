"""Trouble of a crew's own, said without the word Mayday: found wherever it is said, and asked about at once.

"We're out of air", "lost my partner", "he's not answering" are never made a Mayday by the program, and never passed
over either: whatever else the message holds, and whoever it was said to, the question comes first. A member down is
told to everyone as that emergency, whose reply asks for the Mayday. The wordings are data: grammar/trouble.toml.
"""

from __future__ import annotations

import re
from typing import Any, Literal, NamedTuple, TypeAlias

from grammar.commands import AirReading, Choice, Context, Emergency, Mayday, Question, Reading
from grammar.lexicon import by_language
from grammar.patterns import Search, expression, search
from grammar.readers.lunar import lunar
from grammar.spelling import spellings
from grammar.tales import is_exercise, is_tale
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, vocabulary, wording_file

Kind: TypeAlias = Literal["own", "other", "down", "bare", "even_asked"]
_MARKS = frozenset(".,;:!?\n")
_CLAUSE = re.compile(r"[.,;:!?\n]")
_NEAR = 3
"""Words right before it in which a "no" denies it."""


class Found(NamedTuple):
    """Where trouble stands in the words, and what kind it is."""

    kind: Kind
    start: int
    end: int
    words: str


def read_trouble(text: str, context: Context, known: Names) -> Reading | None:
    """The question, or the emergency that asks it; a part of a Mayday that is open already; None for other words."""
    ways = dict.fromkeys((spaced(_NAME.sub(_somebody, text)), _put_right(text, known)))
    found = next((found for words in ways if (found := find_trouble(words, context)) is not None), None)
    if found is None:
        return None
    parts = lunar(text, context, known)
    if context.mayday_open:
        return Reading(text, (parts,), 0.9, intent=Mayday.intent)
    unit = parts.unit
    if is_exercise(spaced(text)):
        choices = (Choice("Mayday", (parts,)), Choice("no, an exercise"))
        question = Question("That is said to be an exercise: is there a real Mayday?", choices)
        return Reading(text, confidence=0.5, question=question, intent=Mayday.intent)
    if found.kind != "down" and re.search(r" (?:collapse|collapsed|flashover|flashed over) ", spaced(text)):
        kind: Literal["collapse", "flashover"] = "flashover" if " flash" in spaced(text) else "collapse"
        return Reading(text, (Emergency(kind, unit, text.strip(), parts=parts),), 0.9, intent=Emergency.intent)
    if found.kind == "down":
        told = Emergency("downed_member", unit, text.strip(), parts=parts)
        return Reading(text, (told,), 0.9, intent=Emergency.intent)
    if "out of air" in found.words or "no air" in found.words:
        second = Choice("low air only", (AirReading(None, unit, low_air_alarm=True),))
        question = Question("Out of air: is it a Mayday?", (Choice("Mayday", (parts,)), second, Choice("no")))
    else:
        missing = Choice("emergency, no Mayday", (Emergency("missing_member", unit, text.strip()),))
        question = Question("Is that a Mayday?", (Choice("Mayday", (parts,)), missing, Choice("no")))
    return Reading(text, confidence=0.9, question=question, intent=Mayday.intent)


_NAME = re.compile(r"(?<=[a-z0-9,] )[A-Z][a-z]{2,}\b|^[A-Z][a-z]{2,}\b")


def _somebody(match: re.Match[str]) -> str:
    """A word with a capital that is no word of ours is somebody's name."""
    return match.group() if match.group().casefold() in vocabulary().words else "namedperson"


def find_trouble(words: str, context: Context) -> Found | None:
    """The first wording of trouble that nothing around it makes something else."""
    for kind, wordings in _patterns():
        for match in wordings.finditer(words):
            found = Found(kind, match.start(), match.end(), match.group().strip())
            if not _otherwise(words, found, context):
                return found
    return None


def _put_right(text: str, known: Names) -> str:
    """The words as they are meant to be spelled."""
    return " " + " ".join(spellings(tokens(text), known, False)[0].words) + " "


def _otherwise(words: str, found: Found, context: Context) -> bool:
    """Denied, asked, a condition, a story, somebody else's: what stands around it says so."""
    around = _around()
    starts = [m.end() for m in _CLAUSE.finditer(words, 0, found.start)]
    clause = words[starts[-1] if starts else 0 : found.start].split()
    ends = _CLAUSE.search(words, found.end)
    after = words[found.end : ends.start() if ends else len(words)].strip()
    if any(f" {one} " in words for one in around["others_work"]) or (is_tale(words) and not is_exercise(words)):
        return True
    if any(word in clause[-_NEAR:] for word in around["not_before"]):
        return True
    if any(f" {one} " in f" {' '.join(clause)} " for one in around["clause"]):
        return True
    if any(f" {one} " in f" {' '.join(clause)} {found.words} " for one in around["others"]):
        return True
    if any(re.match(rf"{expression(one, {})}(?: |$)", after) for one in around["after"]):
        return True
    if found.kind == "down" and any(re.match(rf"{one}(?: |$)", after) for one in around["down_after"]):
        return bool(re.search(r" down$", f" {found.words}")) and not re.match(r"(?:in|on) ", after)
    if context.incident_kind == "medical" and re.match(r"(?:he|she|they|him|her|them) ", f"{found.words} "):
        return True
    if found.kind == "bare" and any(f" {' '.join(clause)}".endswith(f" {one}") for one in around["bare_before"]):
        return True
    return found.kind != "even_asked" and _asked(clause, ends is not None and ends.group() == "?")


def _asked(clause: list[str], marked: bool) -> bool:
    """ "Are you out of air", "is engine 9 lost", "who is down"."""
    around = _around()
    inverted = bool(clause) and clause[-1] in around["asking"] and all(w in around["openers"] for w in clause[:-1])
    spoken_to = any(
        w in around["asking"] and clause[k + 1 : k + 2] in (["you"], ["they"], ["we"]) for k, w in enumerate(clause)
    )
    opened = next((k for k, w in enumerate(clause) if w not in around["openers"]), 0)
    whether = clause[opened : opened + 2] in (["is", "there"], ["are", "there"], ["was", "there"])
    return marked or inverted or spoken_to or whether or any(word in around["asking_word"] for word in clause[:3])


# ------------------------------------------------------------------------------------------------------------ wordings


def _data() -> dict[str, Any]:
    return wording_file("trouble")


def _around() -> dict[str, tuple[str, ...]]:
    around: dict[str, tuple[str, ...]] = _data()["around"]
    return around


@by_language
def _patterns() -> tuple[tuple[Kind, Search], ...]:
    """Each kind's wordings as one expression, what tells more first."""
    kinds: tuple[Kind, ...] = ("even_asked", "down", "other", "own", "bare")
    return tuple((kind, search(_data()["wordings"][kind], _data()["said"])) for kind in kinds)


@by_language
def _talk() -> dict[str, Search]:
    return {
        kind: search(_data()["talk"][kind], _data()["said"]) for kind in ("asked", "planned", "told", "past", "present")
    }


def mayday_talk(kind: Literal["asked", "planned", "told", "past", "present"]) -> Search:
    """How the word Mayday stands in what is said about one."""
    return _talk()[kind]
