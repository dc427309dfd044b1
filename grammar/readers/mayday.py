"""Catches a Mayday, whatever surrounds it, and never makes one out of other words."""

from __future__ import annotations

import re

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.commands import Choice, Confirm, Context, Help, Mayday, Question, Reading, ReminderChange, Status
from grammar.readers.answers import asks_of_mayday
from grammar.readers.lunar import LUNAR, lunar
from grammar.readers.mayday_talk import QUESTION, doubtful, is_day_of_the_year, is_there, near, talked_about
from grammar.text import tokens
from grammar.vocabulary import Names, vocabulary, word_list


def read_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """Mayday, whatever surrounds it; never out of other words. A doubtful one is asked about at once."""
    found = tokens(text)
    words = [t.text for t in found]
    at = _maydays(words)
    if not at or is_day_of_the_year(words, at):
        return None
    if (
        asks_of_mayday(context.asked)
        and set(words) <= _DENYING
        and not set(words).isdisjoint(("no", "not", "nope", "negative"))
    ):
        return Reading(text, (Confirm(False),), 0.97, intent=Confirm.intent)
    plain, place = _put_right(words, at[0])
    if len(at) == 1 and _REMINDER_OFF.fullmatch(" ".join(words)):
        return Reading(text, (ReminderChange("stop", "mayday_clock"),), 0.9, intent=ReminderChange.intent)
    if len(at) == 1 and _REMINDED.fullmatch(" ".join(plain)):
        return None  # its clock, not the call
    command = _joined(context, lunar(text, context, known))
    talked = talked_about(text, words, plain, at, context, command)
    if talked is not None:
        return talked
    about = _about_it(text, plain, [place, *at[1:]], context)
    if about is not None:
        return about
    cleared = _cleared(text, plain, [place, *at[1:]], context)
    if cleared is not None:
        return cleared
    if len(at) == 1 and doubtful(plain, place[0]):
        return is_there(text, command)
    return Reading(text, (command,), 0.99, intent=Mayday.intent)


def _joined(context: Context, said: Mayday) -> Mayday:
    """With what was said just before, where it was asked whether that is a Mayday."""
    choices = context.asked.choices if context.asked is not None else ()
    before = next((c for choice in choices for c in choice.commands if isinstance(c, Mayday) and not c.cleared), None)
    if before is None:
        return said
    told = {part: getattr(said, part) or getattr(before, part) for part in LUNAR}
    return replace(said, **told, text=". ".join(t for t in (before.text, said.text) if t))


def _put_right(words: list[str], at: tuple[int, int]) -> tuple[list[str], tuple[int, int]]:
    """The words with slips in those that talk about a Mayday put right, and where its own word stands."""
    start, end = at
    talk = word_list("mayday_talk") | word_list("mayday_reminded") | word_list("first_clear")
    fixed = [w if len(w) < 4 or w in talk else _nearest(w, talk) for w in words]
    return [*fixed[:start], "mayday", *fixed[end:]], (start, start + 1)


def _nearest(word: str, known: frozenset[str]) -> str:
    if word in vocabulary().words:
        return word
    near = [w for w in known if len(w) > 3 and OSA.distance(word, w) <= (2 if len(w) > 6 and w[0] == word[0] else 1)]
    return min(near, key=lambda w: (OSA.distance(word, w), w)) if near else word


_REMINDER_OFF = re.compile(r"(?:the )?mayday (?:reminders?|clock|timer|notices?|alerts?) (?:off|stop)[.!]?")
_REMINDED = re.compile(
    r"(?:please )?(?:stop|cancel|end|kill|disable|silence|snooze|mute|turn off|pause|hold|quit|no more)"
    r"(?: the| these| those| that| all)*"
    r" mayday (?:reminders?|clock|timer|notices?|alerts?)(?: (?:for )?(?:\w+ ){1,2}minutes?)?(?: please)?[.!]?"
)


def _about_it(text: str, words: list[str], at: list[tuple[int, int]], context: Context) -> Reading | None:
    """ "What is the Mayday" is answered while one is on; "stop the Mayday" ends nothing by itself."""
    start, end = at[0]
    if words[0] == "help" and set(words[1:start]) <= {"with", "on", "about", "the"} and end == len(words):
        choices = (Choice("Mayday", (Mayday(text=text),)), Choice("help on Maydays", (Help("mayday"),)))
        question = Question("Is there a Mayday?", choices)
        return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)
    rest = [w for w in (*words[:start], *words[end:]) if w not in ".,!?;:"]
    if len(at) > 1 or start == 0 or not rest or not set(rest) <= word_list("mayday_talk"):
        return None
    if rest[0] in ("stop", "end", "halt") or rest[:2] == ["please", "stop"]:
        return _ask_mayday(text, context)
    if rest[0] not in word_list("mayday_asks"):
        return None
    if context.mayday_open:
        return Reading(text, (Status("mayday"),), 0.9, intent=Status.intent)
    return is_there(text, Mayday(text=text))


_DENYING = frozenset(("no", "not", "nope", "negative", "a", "it", "is", "that", "this", "there", "mayday", ",", "."))


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


_CLEARING = frozenset(
    (
        "clear",
        "cancel",
        "terminate",
        "clearing",
        "cancelling",
        "canceling",
        "cleared",
        "cancelled",
        "terminated",
        "ended",
    )
)


_TAKING_BACK = re.compile(
    r"(please )?(undo|scratch|disregard|retract|withdraw|take back) ((the|that|my|our|this|last) )*"
    r"mayday( call)?( please)?"
)
"""The whole of what is said: nothing of a Mayday that is being called is in it."""


def _cleared(text: str, words: list[str], at: list[tuple[int, int]], context: Context) -> Reading | None:
    """ "mayday cleared", "cancel the mayday"; "mayday not cleared" is answered with a question."""
    if len(at) > 1:
        return None
    start, end = at[0]
    after = [w for w in words[end : end + 4] if w not in _BEFORE_CLEARED]
    before = words[max(start - 3, 0) : start]
    if _TAKING_BACK.fullmatch(" ".join(words)):
        return _ask_whether_cleared(text)
    if after[:1] and (near(after[0], word_list("first_clear")) or after[0] == "clear"):
        rest = after[1:] + words[end + 4 :]
        asked = words[0] in QUESTION | {"has", "have", "can", "when", "who", "how", "what", "should"}
        signed_off = after[0] == "over" and (not context.mayday_open or start > 1 or bool(rest))
        if asked or signed_off or any(w in ("not", "?") for w in words):
            return _ask_mayday(text, context)  # "engine 9 mayday over" may be the end of a call on the radio
        if {"trapped", "lost", "down", "need", "air"} & set(rest):
            return None
        return Reading(text, (Mayday(cleared=True, text=text),), 0.97, intent=Mayday.intent)
    if after[:2] == ["not", "cleared"] or after[:2] == ["not", "clear"]:
        return _ask_mayday(text, context)
    clears = [] if before[-2:] == ["all", "clear"] else [w for w in before if w == "end" or near(w, _CLEARING)]
    if clears and not set(words) & word_list("first_drill"):
        command = Mayday(cleared=True, text=text)
        if words[0] in ("can", "could", "should", "do", "may", "did", "will") or "?" in words:
            return _ask_mayday(text, context)
        if context.mayday_open:
            return Reading(text, (command,), 0.9, intent=Mayday.intent)
        return _ask_whether_cleared(text)
    return None


_BEFORE_CLEARED = ("is", "has", "been", "the", "now", "was")


def beside_clearing(text: str) -> tuple[str, str]:
    """What is said before and after "Mayday cleared", "cancel the Mayday": it reports something by itself."""
    found = tokens(text)
    places = _maydays([t.text for t in found])
    if not places:
        return "", ""  # the answer to a question about one
    words, (lo, hi) = _put_right([t.text for t in found], places[0])
    joined = places[0][1] - places[0][0] - 1
    while hi < len(words) and (words[hi] in _BEFORE_CLEARED or near(words[hi], word_list("first_clear"))):
        hi += 1
    while lo and (words[lo - 1] in ("the", "that", "this", "end") or near(words[lo - 1], _CLEARING)):
        lo -= 1
    before, after = text[: found[lo].start], text[found[hi + joined - 1].end :]
    return before.strip(" ,.;:!-\n"), after.strip(" ,.;:!-\n")


def _ask_whether_cleared(text: str) -> Reading:
    question = Question("Is the Mayday cleared?", (Choice("cleared", (Mayday(cleared=True, text=text),)), Choice("no")))
    return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)


def _ask_mayday(text: str, context: Context) -> Reading:
    still_on = () if context.mayday_open else (Mayday(text=text),)
    question = Question(
        "Is the Mayday still on?",
        (Choice("still on", still_on), Choice("cleared", (Mayday(cleared=True, text=text),))),
    )
    return Reading(text, question=question, confidence=0.5, intent=Mayday.intent)
