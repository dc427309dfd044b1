"""Trouble of a crew's own, said without the word Mayday: found wherever it is said, and asked about at once.

"We're out of air", "lost my partner", "he's not answering" are never made a Mayday by the program, and never passed
over either: whatever else the message holds, and whoever it was said to, the question comes first. A member down is
told to everyone as that emergency, whose reply asks for the Mayday. The wordings are data: grammar/trouble.toml.
"""

from __future__ import annotations

import itertools
import re
from typing import Any, Literal, NamedTuple, TypeAlias

from grammar.around_wording import begins, ends, near, something_else
from grammar.commands import AirReading, Choice, Context, Emergency, Mayday, Question, Reading
from grammar.confidence import ASKED, FIRM
from grammar.lexicon import by_language
from grammar.patterns import Search, search
from grammar.readers.lunar import lunar
from grammar.spelling import spellings
from grammar.tales import is_exercise, is_tale
from grammar.text import spaced, tokens
from grammar.vocabulary import Names, vocabulary, wording_file

Kind: TypeAlias = Literal["own", "other", "down", "bare", "even_asked"]


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
        return Reading(text, (parts,), FIRM, intent=Mayday.intent)
    called = Choice("Mayday", (parts,))
    if is_exercise(spaced(text)):
        asked = "That is said to be an exercise: is there a real Mayday?"
        question = Question(asked, (called, Choice("no, an exercise")))
        return Reading(text, confidence=ASKED, question=question, intent=Mayday.intent)
    kind = _emergency(found, text)
    if kind is not None:
        told = Emergency(kind, parts.unit, text.strip(), parts=parts)
        return Reading(text, (told,), FIRM, intent=Emergency.intent)
    if "out of air" in found.words or "no air" in found.words:
        second = Choice("low air only", (AirReading(None, parts.unit, low_air_alarm=True),))
        question = Question("Out of air: is it a Mayday?", (called, second, Choice("no")))
    else:
        missing = Choice("emergency, no Mayday", (Emergency("missing_member", parts.unit, text.strip()),))
        question = Question("Is that a Mayday?", (called, missing, Choice("no")))
    return Reading(text, confidence=FIRM, question=question, intent=Mayday.intent)


def _emergency(found: Found, text: str) -> Literal["downed_member", "collapse", "flashover"] | None:
    """A member down, or people in what fell or flashed: told to everyone at once."""
    if found.kind == "down":
        return "downed_member"
    said = re.search(r" (collapse|collapsed|flashover|flashed over) ", spaced(text))
    return None if said is None else "flashover" if said.group(1).startswith("flash") else "collapse"


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
    here = near(words, found.start, found.end)
    if something_else(here, around) or (is_tale(words) and not is_exercise(words)):
        return True
    if any(f" {one} " in f" {here.clause} {found.words} " for one in around["others"]):
        return True
    if found.kind == "down" and begins(here.after, around["down_after"]):
        return f" {found.words}".endswith(" down") and not re.match(r"(?:in|on) ", here.after)
    medical = context.incident_kind == "medical" and found.words.split()[0] in around["them"]
    if medical or (found.kind == "bare" and ends(here.clause, around["bare_before"])):
        return True
    return found.kind != "even_asked" and _asked(here.before, here.mark == "?")


def _asked(clause: list[str], marked: bool) -> bool:
    """ "Are you out of air", "is engine 9 lost", "who is down"."""
    around = _around()
    opened = next((k for k, w in enumerate(clause) if w not in around["openers"]), len(clause))
    inverted = clause[-1:] == clause[opened:] and clause[-1:] and clause[-1] in around["asking"]
    pairs = list(itertools.pairwise(clause))
    spoken_to = any(a in around["asking"] and b in around["spoken_to"] for a, b in pairs)
    whether = any(a in around["asking"] and b == "there" for a, b in pairs[opened : opened + 1])
    return bool(marked or inverted or spoken_to or whether or any(word in around["asking_word"] for word in clause[:3]))


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
