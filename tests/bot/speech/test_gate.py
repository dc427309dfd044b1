"""Answer, ask or decline."""

from __future__ import annotations

from collections.abc import Hashable

import pytest

from bot.speech.gate import EAR, NOT_UNDERSTOOD, TOO_LOUD, UNCLEAR, confidence, decide, judge, likeness
from bot.speech.hearing import Decision, Guess, Heard, Margins

GOOD = Margins(grammar_margin=-0.2, rival_margin=5, clarity=0.9, likeness=1)
CASES = [
    (GOOD, Decision.ANSWER),
    (Margins(-6, 5, 0.9, 1), Decision.ASK),  # bent to fit
    (Margins(-0.2, 0.4, 0.9, 1), Decision.ASK),  # two numbers equally likely
    (Margins(-0.2, 5, 0.2, 1), Decision.ASK),  # mumbled
    (Margins(-0.2, 5, 0.9, 0.5), Decision.ASK),  # the free text was something longer
    (Margins(-0.2, 5, 0.9, 0.2), Decision.DECLINE),
    (Margins(-30, 5, 0.9, 0.8), Decision.DECLINE),
    (Margins(-0.2, 5, 0.05, 0.8), Decision.DECLINE),
]


@pytest.mark.parametrize(("margins", "decision"), CASES)
def test_every_margin_must_be_passed(margins: Margins, decision: Decision) -> None:
    assert decide(margins, EAR) is decision


def meaning(words: str) -> Hashable | None:
    """Wordings of the same pressure mean the same; chatter means nothing."""
    return None if "cake" in words else words.replace("one hundred and fifty", "one fifty")


def judged(*grammar: tuple[str, float], free: tuple[str, float], margin: float, snr_db: float = 20) -> Heard:
    guesses = [Guess(words, score, "grammar") for words, score in grammar]
    guesses.append(Guess(*free, "free"))
    return judge(
        guesses, meaning=meaning, grammar_margin=margin, clarity=0.9, snr_db=snr_db, speech_s=2, engine="ear",
        thresholds=EAR,
    )  # fmt: skip


def test_another_wording_of_the_same_is_no_rival() -> None:
    heard = judged(
        ("intake one fifty", -1), ("intake one hundred and fifty", -1.1), ("intake fifty", -7),
        free=("intake one fifty", -1), margin=0,
    )  # fmt: skip
    assert heard.decision is Decision.ANSWER
    assert heard.margins is not None
    assert heard.margins.rival_margin == pytest.approx(6)
    assert heard.margins.agreed


def test_two_close_numbers_are_asked_about() -> None:
    heard = judged(("intake fifty", -2), ("intake fifteen", -2.3), free=("intake fifty", -2), margin=0)
    assert heard.decision is Decision.ASK
    assert heard.reason == UNCLEAR
    assert heard.alternatives[0] == "intake fifteen"


def test_free_wording_that_can_be_read_is_asked_about() -> None:
    heard = judged(("shut it down", -40), free=("would you kindly charge crosslay one", -2), margin=-38)
    assert heard.decision is Decision.ASK
    assert heard.words == "would you kindly charge crosslay one"


def test_chatter_is_declined() -> None:
    heard = judged(("i need help", -40), free=("the birthday cake is nice", -2), margin=-38)
    assert heard.decision is Decision.DECLINE
    assert heard.reason == NOT_UNDERSTOOD
    assert heard.words == "the birthday cake is nice"  # not the nearest command


def test_noise_is_named_as_the_reason() -> None:
    assert judged(("intake fifty", -9), free=("in tape if tea", -2), margin=-7, snr_db=4).reason == TOO_LOUD


def test_noise_makes_it_stricter() -> None:
    def close(snr_db: float) -> Heard:
        return judged(
            ("intake fifty", -2), ("intake fifteen", -3.8), free=("intake fifty", -2), margin=0, snr_db=snr_db
        )

    assert close(20).decision is Decision.ANSWER
    assert close(5).decision is Decision.ASK


def test_without_any_grammar_sentence_nothing_is_answered() -> None:
    assert judged(free=("the birthday cake", -2), margin=float("-inf")).decision is Decision.DECLINE


def test_confidence_rises_with_every_margin() -> None:
    assert confidence(GOOD, EAR) > 0.95
    for worse in (
        Margins(-6, 5, 0.9, 1),
        Margins(-0.2, 0, 0.9, 1),
        Margins(-0.2, 5, 0.2, 1),
        Margins(-0.2, 5, 0.9, 0.5),
    ):
        assert confidence(worse, EAR) < confidence(GOOD, EAR)


def test_likeness_goes_by_letters() -> None:
    assert likeness("cross lay one", "crosslay one") == 1
    assert likeness("shock", "oxygen e nine hundred psi at five liters") < 0.2
