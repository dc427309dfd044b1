"""Answer, ask or decline."""

from __future__ import annotations

from collections.abc import Hashable

import pytest

from bot.speech.gate import (
    EAR,
    NOT_UNDERSTOOD,
    TOO_LOUD,
    UNCLEAR,
    Needs,
    confidence,
    decide,
    is_dangerous,
    judge,
    likeness,
)
from bot.speech.hearing import Decision, Heard, HeardGuess, Margins

GOOD = Margins(grammar_margin=-0.2, rival_margin=6, clarity=0.95, likeness=1)
CASES = [
    (GOOD, Decision.ANSWER),
    (Margins(-6, 6, 0.95, 0.9), Decision.ASK),  # bent to fit
    (Margins(-0.2, 0.4, 0.95, 1), Decision.ASK),  # two numbers equally likely
    (Margins(-0.2, 2, 0.3, 1), Decision.ASK),  # mumbled
    (Margins(-30, 6, 0.9, 0.5), Decision.DECLINE),  # something else was said
    (Margins(-4, 6, 0.05, 0.3), Decision.DECLINE),
]


@pytest.mark.parametrize(("margins", "decision"), CASES)
def test_every_margin_counts(margins: Margins, decision: Decision) -> None:
    assert decide(margins, confidence(margins, EAR), EAR.needs(20, "crosslay one at fifty"), EAR.ask) is decision


def meaning(words: str) -> Hashable | None:
    """Wordings of the same pressure mean the same; chatter means nothing."""
    return None if "cake" in words else words.replace("one hundred and fifty", "one fifty")


def judged(*grammar: tuple[str, float], free: tuple[str, float], margin: float, snr_db: float = 20) -> Heard:
    guesses = [HeardGuess(words, score, "grammar") for words, score in grammar]
    guesses.append(HeardGuess(*free, "free"))
    return judge(
        guesses, meaning=meaning, grammar_margin=margin, clarity=0.95, snr_db=snr_db, speech_s=2, engine="ear",
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


def test_a_guess_forced_into_the_graph_is_not_offered() -> None:
    heard = judged(("mayday", -20), free=("my residual is at twenty", -2), margin=-18)
    assert heard.words == "my residual is at twenty"
    assert not heard.alternatives


def test_noise_and_danger_make_it_stricter() -> None:
    assert EAR.needs(None, "fifty") == EAR.needs(30, "fifty")
    for louder, quieter in ((4, 12), (12, 30)):
        assert EAR.needs(louder, "fifty").twin_margin > EAR.needs(quieter, "fifty").twin_margin
    for snr_db in (4, 12, 30):
        assert EAR.needs(snr_db, "fifty").rival_margin > EAR.needs(snr_db, "on scene").rival_margin
        assert EAR.needs(snr_db, "fire under control").confidence > EAR.needs(snr_db, "fifty").confidence


@pytest.mark.parametrize(
    ("needs", "decision"),
    [
        (Needs(0.9, 2, 3), Decision.ANSWER),
        (Needs(0.95, 2, 3), Decision.ASK),
        (Needs(0.9, 6, 3), Decision.ASK),
        (Needs(0.9, 2, 20), Decision.ASK),
    ],
)
def test_an_answer_takes_all_that_is_needed(needs: Needs, decision: Decision) -> None:
    assert decide(GOOD, 0.92, needs, EAR.ask) is decision


@pytest.mark.parametrize(
    ("words", "dangerous"),
    [("intake fifty", True), ("two lines", True), ("say again", False)],
)
def test_numbers_are_dangerous(words: str, dangerous: bool) -> None:
    assert is_dangerous(words) is dangerous


def test_a_doubtful_mayday_stays_among_the_guesses() -> None:
    heard = judged(("may day off", -3), ("mayday mayday", -14), ("i need help", -14), free=("may they", -2), margin=-1)
    assert "mayday mayday" in heard.alternatives
    assert "i need help" not in heard.alternatives


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


@pytest.mark.parametrize(
    ("best", "twin"),
    [
        ("deck gun flowing one fifteen", "deck gun flowing one fifty"),
        ("engineer emergency traffic", "engine eight emergency traffic"),
    ],
)
def test_what_sounds_alike_close_behind_is_asked_about(best: str, twin: str) -> None:
    guesses = [HeardGuess(best, -1.0, "grammar"), HeardGuess(twin, -3.5, "grammar"), HeardGuess(best, -1.0, "free")]
    heard = judge(
        guesses,
        meaning=lambda words: words,
        grammar_margin=0.0,
        clarity=0.95,
        snr_db=30.0,
        speech_s=2.0,
        engine="ear",
        thresholds=EAR,
    )
    assert heard.decision is Decision.ASK
    assert heard.alternatives[0] == twin
