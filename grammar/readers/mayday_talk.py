"""Tells a Mayday that is called from one that is spoken about: practised, told, asked, denied, a holiday.

A call is never passed over: where the word stands as a call does (by itself, after who calls, before who is in
trouble), nothing else in the message makes talk of it, but a question at most. As a noun ("had a Mayday", "the Mayday
class") it is talk where the rest tells of another day, or of an exercise.
"""

from __future__ import annotations

from typing import Literal

from rapidfuzz.distance import OSA

from grammar.commands import Choice, Context, Help, Mayday, Question, Reading
from grammar.confidence import ASKED, FIRM
from grammar.readers.trouble import find_trouble, mayday_talk
from grammar.tales import is_exercise, is_real, is_tale
from grammar.vocabulary import word_list

_NO_CALL = "Not taken as a Mayday. If there is one, say Mayday by itself."
Place = tuple[int, int]
"""Where the word stands among the words: start, end."""


def talked_about(
    text: str, words: list[str], plain: list[str], at: list[Place], context: Context, command: Mayday
) -> Reading | None:
    """What is done with a Mayday that isn't plainly called; None where it is, or is cleared or asked about itself.

    `words` as said, `plain` with slips put right and the first of them spelled "mayday".
    """
    said = f" {' '.join(plain)} "
    if _no_calls(words, at):
        return is_there(text, command) if is_real(said) else _no_call(text, context)
    if is_exercise(said):
        return is_there(text, command, exercise=True)
    if len(at) > 1 or is_real(said):
        return None
    asked, planned = _stands(said, "asked"), _stands(said, "planned")
    if not (asked or planned or is_tale(said) or _stands(said, "told")):
        return None
    called = not _spoken_of(plain, at[0][0], at[0][0] + 1) or (_stands(said, "present") and not (asked or planned))
    if called or find_trouble(said, context) is not None:
        return is_there(text, command)
    if asked or plain[0] in word_list("mayday_asks"):
        return Reading(text, (Help("mayday"),), FIRM, intent=Help.intent)
    return _no_call(text, context)


def _stands(said: str, kind: Literal["asked", "planned", "told", "past", "present"]) -> bool:
    return mayday_talk(kind).search(said) is not None


def is_day_of_the_year(words: list[str], at: list[Place]) -> bool:
    """ "May day", in two words, as a holiday or a day off: nothing of a Mayday is said."""
    return all(end - start == 2 for start, end in at) and _no_calls(words, at)


def _no_calls(words: list[str], at: list[Place]) -> bool:
    return all(_something_else(words, *place) for place in at)


def doubtful(words: list[str], start: int) -> bool:
    """Denied, asked, or over already: "we had a Mayday"."""
    before = words[:start]
    denied = (
        before[-1:] == ["no"]
        or before[-2:] == ["not", "a"]
        or before[-2:] == ["no", "a"]
        or "was" in before[-3:]
        or not word_list("mayday_nobody").isdisjoint(before[-4:])
        or ("not" in before[-3:] and word_list("mayday_exercises").isdisjoint(before))
    )
    asks = bool(before) and (before[0] in word_list("mayday_question") or before[:2] in _DO_WE)
    return denied or asks or _stands(f" {' '.join(words)} ", "past")


_DO_WE = (["do", "we"], ["do", "you"], ["do", "they"])


def _no_call(text: str, context: Context) -> Reading:
    if context.group and not context.addressed:
        return Reading(text, ignored=True)
    return Reading(text, declined=_NO_CALL, intent=Mayday.intent)


def is_there(text: str, command: Mayday, *, exercise: bool = False) -> Reading:
    """The question whether there is a Mayday."""
    asks = "That is said to be an exercise: is there a real Mayday?" if exercise else "Is there a Mayday?"
    no = "no, an exercise" if exercise else "no Mayday"
    question = Question(asks, (Choice("Mayday", (command,)), Choice(no)))
    return Reading(text, question=question, confidence=ASKED, intent=Mayday.intent)


def _spoken_of(words: list[str], start: int, end: int) -> bool:
    """It is a noun in its sentence: something governs it, or something is said of it."""
    before = words[start - 1] if start else ""
    adjective = before in word_list("mayday_adjectives") and start > 1
    governed = (words[start - 2] if adjective else before) in word_list("mayday_governed")
    after = words[end] if end < len(words) else ""
    return governed or after in word_list("mayday_goes_on") | word_list("first_drill")


def near(word: str, known: frozenset[str]) -> bool:
    """One of the words, or one slip from a longer one."""
    return word in known or (len(word) > 3 and any(len(w) > 4 and OSA.distance(word, w) <= 1 for w in known))


def _something_else(words: list[str], start: int, end: int) -> bool:
    """A Mayday drill, a holiday, a day off."""
    after = words[end : end + 2]
    drill = any(near(w, word_list("first_drill")) for w in after[:1]) or (
        len(after) > 1 and after[1] in word_list("first_drill") and after[0] in word_list("mayday_team")
    )
    return drill or _day_off(words, end) or (end - start == 2 and _holiday(words, start))


def _day_off(words: list[str], end: int) -> bool:
    return words[end : end + 1] == ["off"] and word_list("mayday_off_for").issuperset(words[end + 1 : end + 2])


def _holiday(words: list[str], start: int) -> bool:
    """ "May day", in two words, as the day of the year."""
    before = words[max(start - 1, 0) : start]
    if before and before[0] in word_list("first_day_before") and words.count("may") == 1:
        return before[0] != "is" or "holiday" in words
    return any(near(w, word_list("mayday_holiday")) for w in words)
