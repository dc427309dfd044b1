"""Reads the answer to the item of the daily check that is being asked for: in order, or a fault with its text.

A fault is never taken for "in order": "no good", "primer's bad", "no, primer leaking" are faults.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal, TypeAlias

from grammar.commands import Choice, Context, Question, Readiness, Reading
from grammar.text import tokens
from grammar.vocabulary import vocabulary, word_list

Verdict: TypeAlias = Literal["good", "fault", "either"]

_LOOSE = 12
"""Most words of a fault told in free words."""
_PLAIN = 0.8
"""A command read this surely is itself, and no answer."""
_VALUE = re.compile(r"-?\d+(?:\.\d+)?")
_NO = frozenset(("no", "nope", "negative", "nah", "n"))
_DENIES = frozenset(("not", "never", "without", "nothing", "none", "neither", "hardly", "barely"))
_MARKS = frozenset(".,!;:")


def read_check(text: str, context: Context) -> Reading | None:
    """The answer where every word belongs to one, or where it begins as a fault does."""
    item = context.readiness_item
    words = [token.text for token in tokens(text)]
    if (
        item is None
        or _else_asked(context)
        or "?" in words
        or not (said := [word for word in words if word not in _MARKS])
    ):
        return None
    names = {form for word in item.replace("_", " ").split() for form in (word, word + "s", word.rstrip("s"))}
    named = bool(names & {*said}) and not names & word_list("first_good")
    good = word_list("first_good") | (word_list("check_good_of_a_thing") if named else frozenset())
    rest = [word for word in said if not (named and word in names)]
    verdict = judged(words, good)
    if verdict is None or not (_all_known(rest, good) or (verdict == "fault" and rest[0] in word_list("check_begins"))):
        return None
    if verdict == "fault" and not named and _another(words, item) is not None:
        return None  # "no good on the AED": of another thing (`read_fault`)
    return _read(text, item, verdict)


def read_fault(text: str, context: Context, reading: Reading) -> Reading | None:
    """A fault in free words, "primer leaking", where nothing else was read."""
    item = context.readiness_item
    if item is None or _else_asked(context) or (reading.commands and reading.confidence >= _PLAIN):
        return None
    words = [token.text for token in tokens(text)]
    if len(words) > _LOOSE or "?" in words:
        return None
    verdict, another = judged(words, word_list("first_good")), _another(words, item)
    if another is not None:  # "primer's bad" while the compartments are asked for
        fault = Readiness("answer", another, ok=False, remark=text.strip())
        return Reading(text, (fault,), 0.9, intent=Readiness.intent) if verdict == "fault" else None
    return None if verdict in (None, "good") else _read(text, item, verdict)


def _else_asked(context: Context) -> bool:
    """Something else was asked since, "is it a Mayday?": a no answers that."""
    asked = context.asked
    if asked is None:
        return False
    offered = [command for choice in asked.choices for command in choice.commands]
    return not isinstance(asked.fills, Readiness) and not any(isinstance(command, Readiness) for command in offered)


def _another(words: Sequence[str], item: str) -> str | None:
    """Another thing of the check that is spoken of: "hose not loaded" is no answer about compartments."""
    own = {form for word in item.replace("_", " ").split() for form in (word, word + "s", word.rstrip("s"))}
    said = f" {' '.join(words)} "
    for concept, ways in vocabulary().concepts.beginning("item_"):
        named = not any(own & {*way.split()} for way in ways)
        if named and any(f" {way} " in said for way in ways):
            return concept.removeprefix("item_")
    return None


def judged(words: Sequence[str], good: frozenset[str]) -> Verdict | None:
    """What the words say of the thing; None: nothing.

    What denies a fault is none ("no leaks", "nothing missing"); what denies a good thing is one ("no good").
    """
    found = {_said(word, _denied_by(words[:k]), good) for k, word in enumerate(words)}
    if _bare_no(words):
        found.add("fault")
    return next((verdict for verdict in ("fault", "either", "good") if verdict in found), None)


def _said(word: str, denied_by: str, good: frozenset[str]) -> Verdict | None:
    if word in word_list("check_but"):
        return "fault"
    if word in word_list("check_faults"):
        return "good" if denied_by else "fault"
    if bad(word):
        return "fault" if not denied_by else "either" if denied_by in _NO else "good"
    if word in good and word not in _NO:
        return "fault" if denied_by else "good"
    return None


def _denied_by(before: Sequence[str]) -> str:
    """The word right before that denies, past words that say nothing."""
    for word in reversed(before):
        if word in _NO or word in _DENIES:
            return word
        if word in _MARKS or not _idle(word):
            return ""
    return ""


def _bare_no(words: Sequence[str]) -> bool:
    """A no or a not that stands alone or before a thing: "no, …", "no primer", "not yet"."""
    for k, word in enumerate(words):
        if word not in _NO and word not in _DENIES:
            continue
        after = next((w for w in words[k + 1 :] if w in _MARKS or not _idle(w)), "")
        if not bad(after) and after not in word_list("check_faults") | word_list("first_good"):
            return True
    return False


def bad(word: str) -> bool:
    """A word that says that something is wrong."""
    if word in _NO:
        return False
    return word in word_list("first_bad") or any(word.startswith(stem) for stem in word_list("check_bad_stems"))


def _idle(word: str) -> bool:
    return word in word_list("first_fluff") - _NO or word in word_list("check_fluff")


def _all_known(words: Sequence[str], good: frozenset[str]) -> bool:
    return all(
        word in good or bad(word) or word in _NO | _DENIES or word in word_list("check_faults") or _idle(word)
        for word in words
    )


def _read(text: str, item: str, verdict: Verdict) -> Reading:
    value = _VALUE.search(text)
    several = len(text.split()) > 1
    number = float(value.group()) if value else None
    fault = Readiness("answer", item, ok=False, value=number, remark=text.strip() if several else None)
    fine = Readiness("answer", item, ok=True, value=number)
    if verdict == "either":  # "no leaking": nothing leaks, or no, it leaks?
        question = Question(
            f"“{text.strip()}”: a fault, or in order?", (Choice("a fault", (fault,)), Choice("in order", (fine,)))
        )
        return Reading(text, question=question, confidence=0.6, intent=Readiness.intent)
    known = all(word in vocabulary().words for word in text.casefold().split() if word.isalpha())
    sure = 0.97 if known else 0.85  # "hoes not loaded": of what was asked, or of the hose?
    return Reading(text, (fault if verdict == "fault" else fine,), sure, intent=Readiness.intent)
