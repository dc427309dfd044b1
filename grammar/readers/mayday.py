"""Catches a Mayday, whatever surrounds it, and never makes one out of other words."""

from __future__ import annotations

import re

from msgspec.structs import replace
from rapidfuzz.distance import OSA

from grammar.commands import Choice, Confirm, Context, Help, Mayday, Question, Reading, ReminderChange, Status
from grammar.confidence import ASKED, CERTAIN, FIRM
from grammar.readers.answers import asks_of_mayday
from grammar.readers.lunar import LUNAR, lunar
from grammar.readers.mayday_talk import doubtful, is_day_of_the_year, is_there, near, talked_about
from grammar.text import tokens
from grammar.vocabulary import Names, vocabulary, word_list


def read_mayday(text: str, context: Context, known: Names) -> Reading | None:
    """Mayday, whatever surrounds it; never out of other words. A doubtful one is asked about at once."""
    found = tokens(text)
    words = [t.text for t in found]
    at = _maydays(words)
    if not at or is_day_of_the_year(words, at):
        return None
    if asks_of_mayday(context.asked) and _only_denies({*words}):
        return Reading(text, (Confirm(False),), CERTAIN, intent=Confirm.intent)
    plain, place = _put_right(words, at[0])
    if len(at) == 1 and _REMINDER_OFF.fullmatch(" ".join(words)):
        return Reading(text, (ReminderChange("stop", "mayday_clock"),), FIRM, intent=ReminderChange.intent)
    if len(at) == 1 and _REMINDED.fullmatch(" ".join(plain)):
        return None  # its clock, not the call
    command = _joined(context, lunar(text, context, known))
    places = [place, *at[1:]]
    said = (
        talked_about(text, words, plain, at, context, command)
        or _about_it(text, plain, places, context)
        or _cleared(text, plain, places, context)
    )
    if said is not None:
        return said
    if len(at) == 1 and doubtful(plain, place[0]):
        return is_there(text, command)
    return Reading(text, (command,), CERTAIN, intent=Mayday.intent)


def _only_denies(words: set[str]) -> bool:
    return words <= word_list("mayday_denying") and bool(words & word_list("mayday_denied"))


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
    if words[0] == "help" and word_list("mayday_help_on").issuperset(words[1:start]) and end == len(words):
        choices = (Choice("Mayday", (Mayday(text=text),)), Choice("help on Maydays", (Help("mayday"),)))
        question = Question("Is there a Mayday?", choices)
        return Reading(text, question=question, confidence=ASKED, intent=Mayday.intent)
    rest = [w for w in (*words[:start], *words[end:]) if w not in ".,!?;:"]
    if len(at) > 1 or start == 0 or not rest or not set(rest) <= word_list("mayday_talk"):
        return None
    if word_list("mayday_stops").issuperset(rest[:2] if rest[0] == "please" else rest[:1]):
        return _ask_mayday(text, context)
    if rest[0] not in word_list("mayday_asks"):
        return None
    if context.mayday_open:
        return Reading(text, (Status("mayday"),), FIRM, intent=Status.intent)
    return is_there(text, Mayday(text=text))


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


_TAKING_BACK = re.compile(
    r"(please )?(undo|scratch|disregard|retract|withdraw|take back) ((the|that|my|our|this|last) )*"
    r"mayday( call)?( please)?"
)
"""The whole of what is said: nothing of a Mayday that is being called is in it."""


def _cleared(text: str, words: list[str], at: list[tuple[int, int]], context: Context) -> Reading | None:
    """ "mayday cleared", "cancel the mayday"; "mayday not cleared" is answered with a question."""
    if len(at) > 1:
        return None
    if _TAKING_BACK.fullmatch(" ".join(words)):
        return _ask_whether_cleared(text)
    start, end = at[0]
    between = word_list("mayday_before_cleared")
    after = [w for w in words[end : end + 4] if w not in between]
    asked = words[0] in word_list("mayday_asks_cleared")
    cleared = Reading(text, (Mayday(cleared=True, text=text),), CERTAIN, intent=Mayday.intent)
    if after and near(after[0], word_list("first_clear") | {"clear"}):
        rest = after[1:] + words[end + 4 :]
        signed_off = after[0] == "over" and (not context.mayday_open or start > 1 or bool(rest))
        if asked or signed_off or not {"not", "?"}.isdisjoint(words):
            return _ask_mayday(text, context)  # "engine 9 mayday over" may be the end of a call on the radio
        return None if word_list("mayday_trouble") & {*rest} else cleared
    if after[:2] in (["not", "cleared"], ["not", "clear"]):
        return _ask_mayday(text, context)
    before = words[max(start - 3, 0) : start]
    clearing = word_list("mayday_clearing")
    clears = before[-2:] != ["all", "clear"] and any(w == "end" or near(w, clearing) for w in before)
    if not clears or word_list("first_drill") & {*words}:
        return None
    if asked or "?" in words:
        return _ask_mayday(text, context)
    return cleared if context.mayday_open else _ask_whether_cleared(text)


def beside_clearing(text: str) -> tuple[str, str]:
    """What is said before and after "Mayday cleared", "cancel the Mayday": it reports something by itself."""
    found = tokens(text)
    places = _maydays([t.text for t in found])
    if not places:
        return "", ""  # the answer to a question about one
    words, (lo, hi) = _put_right([t.text for t in found], places[0])
    joined = places[0][1] - places[0][0] - 1
    while hi < len(words) and (
        words[hi] in word_list("mayday_before_cleared") or near(words[hi], word_list("first_clear"))
    ):
        hi += 1
    while lo and (
        words[lo - 1] in word_list("mayday_before_clearing") or near(words[lo - 1], word_list("mayday_clearing"))
    ):
        lo -= 1
    before, after = text[: found[lo].start], text[found[hi + joined - 1].end :]
    return before.strip(" ,.;:!-\n"), after.strip(" ,.;:!-\n")


def _ask_whether_cleared(text: str) -> Reading:
    question = Question("Is the Mayday cleared?", (Choice("cleared", (Mayday(cleared=True, text=text),)), Choice("no")))
    return Reading(text, question=question, confidence=ASKED, intent=Mayday.intent)


def _ask_mayday(text: str, context: Context) -> Reading:
    still_on = () if context.mayday_open else (Mayday(text=text),)
    question = Question(
        "Is the Mayday still on?",
        (Choice("still on", still_on), Choice("cleared", (Mayday(cleared=True, text=text),))),
    )
    return Reading(text, question=question, confidence=ASKED, intent=Mayday.intent)
