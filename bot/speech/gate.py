"""Decides what may be done with a recogniser's guess: answer it, ask about it, or say that it wasn't understood.

Four margins speak for the best guess:

* `grammar_margin` (m1) = log p(best grammar sentence) − log p(freely decoded text): how far the sound had to be bent.
* `rival_margin` (m2) = log p(best sentence) − log p(best sentence that means something else).
* `clarity` (g) = geometric mean of the token probabilities of the freely decoded text: how sure the ear was at all.
* `likeness` = letters that the best guess and the freely decoded text share: a short sentence can be a poor but
probable
  stand-in for a long one that wasn't understood, and m1 doesn't see that.

A wrong number told with confidence is the worst fault there is, so all of them must be passed for an answer.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from bot.speech.hearing import Decision, Guess, Heard, Margins, Meaning

SURE = 12.0
"""Margin given when there is no rival at all."""
TOO_LOUD_DB = 7.5
"""Below this signal-to-noise ratio the noise is named as the reason."""

TOO_LOUD = "Too loud to be sure: type it, or say it again closer to the microphone."
UNCLEAR = "That wasn't clear enough to be sure."
NOT_UNDERSTOOD = "That wasn't understood: say it again, or type it."


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Least margins for an answer and, lower, for a question back."""

    grammar_margin: float
    rival_margin: float
    clarity: float
    likeness: float
    ask_grammar_margin: float
    ask_clarity: float
    ask_likeness: float
    weights: tuple[float, float, float, float, float]
    """Logistic regression of "right" on 1, m1, m2 (both held to −20…`SURE`), ln g and likeness: the confidence."""
    in_noise: Thresholds | None = None
    """Stricter ones below `TOO_LOUD_DB`."""

    def at(self, snr_db: float | None) -> Thresholds:
        """Those for this signal-to-noise ratio."""
        return self.in_noise if self.in_noise and snr_db is not None and snr_db < TOO_LOUD_DB else self


_IN_NOISE = Thresholds(
    grammar_margin=-4.0,
    rival_margin=2.0,
    clarity=0.5,
    likeness=0.6,
    ask_grammar_margin=-8.0,
    ask_clarity=0.12,
    ask_likeness=0.4,
    weights=(-2.6, 0.24, 0.14, 0.0, 6.9),
)
EAR = replace(_IN_NOISE, grammar_margin=-4.5, rival_margin=1.5, clarity=0.4, in_noise=_IN_NOISE)


def judge(
    guesses: Sequence[Guess],
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
    thresholds = thresholds.at(snr_db)
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
    )
    decision = decide(margins, thresholds)
    if decision is Decision.DECLINE and free_meaning is not None and clarity >= thresholds.clarity:
        # Worded freely, outside the graph, but clear and readable: worth a question, never an answer.
        best, decision = free, Decision.ASK
    elif decision is Decision.DECLINE and free.words:
        best = free  # a guess forced into the graph looks right and isn't: never shown
    ordered = [best, *sorted((guess for guess in guesses if guess is not best), key=lambda guess: -guess.score)]
    return Heard(
        words=best.words,
        guesses=tuple(ordered),
        confidence=confidence(margins, thresholds),
        decision=decision,
        reason=_reason(decision, snr_db),
        engine=engine,
        snr_db=snr_db,
        speech_s=speech_s,
        margins=margins,
    )


def _rival_margin(grammar: Sequence[Guess], best: Guess, best_meaning: Hashable | None, meaning: Meaning) -> float:
    for guess in grammar[1:]:
        if meaning(guess.words) != best_meaning:
            return min(SURE, best.score - guess.score)
    return SURE


def likeness(words: str, other: str) -> float:
    """0..1: letters in common and in order, spaces aside."""
    return Levenshtein.normalized_similarity(words.replace(" ", ""), other.replace(" ", ""))


def decide(margins: Margins, thresholds: Thresholds) -> Decision:
    """Answer, ask or decline."""
    if (
        margins.grammar_margin > thresholds.grammar_margin
        and margins.rival_margin > thresholds.rival_margin
        and margins.clarity > thresholds.clarity
        and margins.likeness > thresholds.likeness
    ):
        return Decision.ANSWER
    if (
        margins.grammar_margin > thresholds.ask_grammar_margin
        and margins.clarity > thresholds.ask_clarity
        and margins.likeness > thresholds.ask_likeness
    ):
        return Decision.ASK
    return Decision.DECLINE


def confidence(margins: Margins, thresholds: Thresholds) -> float:
    """Estimated probability that the best guess is right."""
    constant, grammar, rival, clear, alike = thresholds.weights
    score = (
        constant
        + grammar * max(-20.0, min(margins.grammar_margin, SURE))
        + rival * max(-20.0, min(margins.rival_margin, SURE))
        + clear * math.log(max(margins.clarity, 1e-6))
        + alike * margins.likeness
    )
    return 1 / (1 + math.exp(-max(-30.0, min(score, 30.0))))


def _reason(decision: Decision, snr_db: float | None) -> str:
    if decision is Decision.ANSWER:
        return ""
    if snr_db is not None and snr_db < TOO_LOUD_DB:
        return TOO_LOUD
    return UNCLEAR if decision is Decision.ASK else NOT_UNDERSTOOD
