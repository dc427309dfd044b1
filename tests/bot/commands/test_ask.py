"""`ask` is out of any incident: whatever is reported, the reply claims nothing that didn't happen."""

from __future__ import annotations

import re
from itertools import islice

import pytest

from bot.api import Crosslay
from bot.message.as_json import as_line, as_object
from bot.settings import Settings
from tests.grammar.corpus.loader import cases

CLAIMS = re.compile(
    r"\b(everyone|every room|the officer|the crew) (told|alerted)"
    r"|(?<!nothing was )logged\.|, logged|(?<!No benchmark )stamped|Counts as flowing from"
    r"|tank clock (stopped|stands|runs)|duration clock|reminders are off",
    re.IGNORECASE,
)
NOTE = "nothing was logged and nobody was told"


@pytest.fixture(scope="module")
def asker() -> Crosslay:
    return Crosslay.of(Settings(timezone="UTC"))


@pytest.mark.parametrize(
    ("said", "read_as"),
    [
        ("water on the fire", "Water on the fire, "),
        ("evacuate the building", "EVACUATE "),
        ("lost water", "LOSS OF WATER "),
        ("going defensive", "Defensive, "),
        ("charge crosslay 1", "170 psi, 150 gpm: Crosslay 1 on."),
        ("on the hydrant", "On the hydrant, "),
        ("start cpr", "CPR started "),
        ("dispatch: structure fire, 214 Harbor Street, engine 12", "Dispatched "),
    ],
)
def test_a_report_is_read_back_under_the_note_that_nothing_came_of_it(asker: Crosslay, said: str, read_as: str) -> None:
    first, second, *_ = asker.answer(said).reply.splitlines()
    assert NOTE in first
    assert second.startswith(read_as)


def test_a_mayday_still_begins_with_the_radio(asker: Crosslay) -> None:
    reply = asker.answer("mayday mayday mayday, second floor, trapped").reply
    assert reply.startswith("Use the radio: this room doesn't transmit.")
    assert NOTE in reply.splitlines()[0]
    assert "alerted" not in reply


def test_half_a_character_is_answered_like_anything_else(asker: Crosslay) -> None:
    handled = asker.answer("two lines, 200 feet, 1.75 \ud800")
    assert as_line(as_object(handled))


def test_the_json_answer_stays_whole(asker: Crosslay) -> None:
    shown = as_object(asker.answer("charge crosslay 1"))
    assert shown["intent"] == "line_on"
    assert shown["answer"]["pump_pressure_psi"] == pytest.approx(169.75)
    assert shown["answer"]["tank_gal"] < 500


def test_a_question_is_answered_without_a_note(asker: Crosslay) -> None:
    assert asker.answer("200 feet of 1.75 flowing 150").reply.splitlines()[0].startswith("170 psi")


def test_no_reply_claims_what_did_not_happen(asker: Crosslay) -> None:
    files = ("incident.jsonl", "people_air_mayday.jsonl", "water.jsonl", "medical.jsonl", "lines_on_off.jsonl")
    said = [case.expected.say for name in files for case in islice(cases(name), 0, None, 4)]
    assert len(said) > 100
    wrong = {words: reply for words in said if CLAIMS.search(reply := asker.answer(words).reply)}
    assert wrong == {}
