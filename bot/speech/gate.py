"""Decides what may be done with a recogniser's guess: answer it, ask about it, or say that it wasn't understood.

Four margins speak for the best guess:

* `grammar_margin` (m1) = log p(best grammar sentence) − log p(freely decoded text): how far the sound had to be bent.
* `rival_margin` (m2) = log p(best sentence) − log p(best sentence that means something else).
* `clarity` (g) = geometric mean of the token probabilities of the freely decoded text: how sure the ear was at all.
* `likeness` = letters that the best guess and the freely decoded text share: a short sentence can be a poor but
  probable stand-in for a long one that wasn't understood, and m1 doesn't see that.

Together they make the confidence (a logistic regression). A wrong number told with confidence is the worst fault there
is, so an answer takes a high one, and whatever the confidence, a rival that means something else must be behind:
further behind a guess with numbers in it, furthest where only "fifty" stands for "fifteen".
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from bot.speech.hearing import Decision, Heard, HeardGuess, Margins, Meaning
from grammar.spoken import ONES, TEENS, TENS

SURE, SURE_NOT = 12.0, 20.0
"""Margins count up to this: the first is also given when there is no rival at all."""
OFFER, MAYDAY_OFFER = -8.0, -16.0
"""Guesses this much less probable than the freely decoded text aren't offered."""
READABLE_CLARITY = 0.4
"""From this clarity on, free wording that can be read is worth a question."""
TOO_LOUD_DB = 7.5
"""Below this signal-to-noise ratio the noise is named as the reason."""

UNDER_CONTROL = "under control"
TOO_LOUD = "Too loud to be sure: type it, or say it again closer to the microphone."
UNCLEAR = "That wasn't clear enough to be sure."
NOT_UNDERSTOOD = "That wasn't understood: say it again, or type it."


@dataclass(frozen=True, slots=True)
class Level:
    """What an answer takes from one signal-to-noise ratio on."""

    from_db: float
    confidence: float
    rival_margin: float
    """Least m2 where a slip would be told as a number (`is_dangerous`)."""
    twin_margin: float
    """Least lead over the guess with "fifty" for "fifteen", or the like."""


@dataclass(frozen=True, slots=True)
class Needs:
    """What one answer takes: it is given when all three are reached."""

    confidence: float
    rival_margin: float
    twin_margin: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Fitted by `python -m tests.bench.speech.fit`, cross-validated by sentence."""

    weights: tuple[float, ...]
    """Of the logistic regression of "right" on `features`, the constant first."""
    answer: tuple[Level, ...]
    """From quiet to loud."""
    ask: float
    """Least confidence for a question back."""
    rival_margin: float
    """Least m2 for an answer without numbers."""
    under_control: float
    """Least confidence for an answer that says "under control": it ends the reminders of a fire that may go on."""

    def needs(self, snr_db: float | None, words: str) -> Needs:
        """What an answer with these words takes at this signal-to-noise ratio (unknown: as the quietest)."""
        level = next((one for one in self.answer if snr_db is None or snr_db >= one.from_db), self.answer[-1])
        return Needs(
            self.under_control if UNDER_CONTROL in words else level.confidence,
            level.rival_margin if is_dangerous(words) else self.rival_margin,
            level.twin_margin,
        )


# Chosen for at most 0.3 % silently wrong down to 10 dB, and 1 % below.
EAR = Thresholds(
    weights=(-1.98, 0.39, 0.38, 0.84, 3.65),
    answer=(Level(15.0, 0.9, 2.0, 3.2), Level(8.0, 0.9, 2.5, 4.0), Level(-math.inf, 0.9, 2.0, 5.0)),
    ask=0.15,
    rival_margin=1.2,
    under_control=0.97,
)

_NUMBERS = frozenset({*ONES[1:], *TEENS, *TENS[1:], "hundred", "thousand", "half", "quarter", "oh"})


_TWINS = dict(zip(TEENS[3:], TENS[3:], strict=True))
_TWINS["engineer"] = "engine-eight"  # as `_joined` writes it
_TWINS |= {ten: teen for teen, ten in _TWINS.items()}


def is_dangerous(words: str) -> bool:
    """Whether a slip would be told as a number."""
    return not _NUMBERS.isdisjoint(words.split())


def judge(
    guesses: Sequence[HeardGuess],
    *,
    meaning: Meaning,
    grammar_margin: float,
    clarity: float,
    snr_db: float | None,
    speech_s: float,
    engine: str,
    thresholds: Thresholds,
) -> Heard:
    """Weigh the guesses of one recording (grammar ones best first, the free one last)."""
    free = guesses[-1]
    grammar = [guess for guess in guesses if guess.source == "grammar"]
    free_meaning = meaning(free.words) if free.words else None
    if not grammar:
        best, best_meaning = free, free_meaning
    else:
        best, best_meaning = grammar[0], meaning(grammar[0].words)
    rival = _rival_margin(grammar, best, best_meaning, meaning)
    agreed = bool(grammar) and (free.words == best.words or (free_meaning is not None and free_meaning == best_meaning))
    margins = Margins(
        grammar_margin=0.0 if agreed else grammar_margin,
        rival_margin=rival,
        clarity=clarity,
        likeness=1.0 if agreed else likeness(best.words, free.words),
        agreed=agreed,
        readable=best_meaning is not None,
        twin_margin=_twin_margin(grammar, best),
    )
    sure = confidence(margins, thresholds) if grammar else 0.0
    decision = decide(margins, sure, thresholds.needs(snr_db, best.words), thresholds.ask)
    if decision is Decision.DECLINE and free_meaning is not None and clarity >= READABLE_CLARITY:
        # Worded freely, outside the graph, but clear and readable: worth a question, never an answer.
        best, decision = free, Decision.ASK
    elif decision is Decision.DECLINE and free.words:
        best = free  # a guess forced into the graph looks right and isn't: never shown
    others = [guess for guess in guesses if guess is not best and _worth_offering(guess, free)]
    ordered = [best, *sorted(others, key=lambda guess: -guess.score)]
    return Heard(
        words=best.words,
        guesses=tuple(ordered),
        confidence=sure,
        decision=decision,
        reason=_reason(decision, snr_db),
        engine=engine,
        snr_db=snr_db,
        speech_s=speech_s,
        margins=margins,
    )


def _worth_offering(guess: HeardGuess, free: HeardGuess) -> bool:
    """A guess forced into the graph would be a riddle; a Mayday is kept longer than any other."""
    return guess.score - free.score > (MAYDAY_OFFER if "mayday" in guess.words else OFFER)


def _rival_margin(
    grammar: Sequence[HeardGuess], best: HeardGuess, best_meaning: Hashable | None, meaning: Meaning
) -> float:
    for guess in grammar[1:]:
        if meaning(guess.words) != best_meaning:
            return min(SURE, best.score - guess.score)
    return SURE


def _twin_margin(grammar: Sequence[HeardGuess], best: HeardGuess) -> float:
    """How far the best guess leads the one with a number of the same beginning in it, or "engine eight" for "engineer":
    ears confuse these first."""
    words = _joined(best.words)
    leads = [SURE_NOT]
    for guess in grammar:
        others = _joined(guess.words)
        if len(others) == len(words):
            changed = [(one, other) for one, other in zip(words, others, strict=True) if one != other]
            if any(_TWINS.get(one) == other for one, other in changed):
                leads.append(best.score - guess.score)
    return min(leads)


def _joined(words: str) -> list[str]:
    """The words, with two that sound like another's one written as one."""
    return words.replace("engine eight", "engine-eight").split()


def likeness(words: str, other: str) -> float:
    """0..1: letters in common and in order, spaces aside."""
    return Levenshtein.normalized_similarity(words.replace(" ", ""), other.replace(" ", ""))


def decide(margins: Margins, sure: float, needs: Needs, ask: float) -> Decision:
    """Answer, ask (from the confidence `ask` on) or decline."""
    apart = margins.rival_margin > needs.rival_margin and margins.twin_margin > needs.twin_margin
    if sure >= needs.confidence and apart:
        return Decision.ANSWER
    return Decision.ASK if sure >= ask else Decision.DECLINE


def features(margins: Margins) -> tuple[float, float, float, float]:
    """What the confidence is reckoned from: m1 and m2 (held to −20…`SURE`), ln g (from −8), likeness."""
    return (
        max(-SURE_NOT, min(margins.grammar_margin, SURE)),
        max(-SURE_NOT, min(margins.rival_margin, SURE)),
        math.log(max(margins.clarity, math.exp(-8))),
        margins.likeness,
    )


def confidence(margins: Margins, thresholds: Thresholds) -> float:
    """Estimated probability that the best guess is right."""
    constant, *weights = thresholds.weights
    score = constant + sum(weight * value for weight, value in zip(weights, features(margins), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(score, 30.0))))


def _reason(decision: Decision, snr_db: float | None) -> str:
    if decision is Decision.ANSWER:
        return ""
    if snr_db is not None and snr_db < TOO_LOUD_DB:
        return TOO_LOUD
    return UNCLEAR if decision is Decision.ASK else NOT_UNDERSTOOD
