"""What anybody can send and nobody would: it gets an answer and stops nothing."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.api import Crosslay
from bot.commands import ask
from bot.commands.ask import ask_each
from bot.settings import Settings
from bot.store.questions import parse_button

ASKER = Crosslay.of(Settings(timezone="UTC"))


@pytest.mark.parametrize(
    "text",
    ["➊", "➊ lines", "-1:00", "on scene at -1:00", "engine 9 on scene at -1:00", "water on the fire -1:00", "⑴⒈"],
)
def test_odd_digits_and_signs_get_an_answer(text: str) -> None:
    assert ASKER.answer(text).reply


@pytest.mark.parametrize("digits", ["٣", "３", "③", "➂"])
def test_a_number_in_any_digits_is_that_number(digits: str) -> None:
    plain, other = (ASKER.answer(f"{three} lines, 200 feet, 1.75") for three in ("3", digits))
    assert other.answer == plain.answer != {}


@given(
    st.text(st.characters(categories=["Nd", "No", "Nl", "Sm", "Po", "Pd"]), max_size=6),
    st.sampled_from(["", "on scene at "]),
)
def test_whatever_stands_for_a_number_ends_nothing(number: str, before: str) -> None:
    assert ASKER.answer(f"{before}{number}").status in ("answered", "asked", "declined", "ignored")


def test_a_line_that_faults_ends_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = Crosslay.answer

    def fail(asker: Crosslay, text: str) -> object:
        if text == "bad":
            raise ZeroDivisionError
        return answer(asker, text)

    monkeypatch.setattr(Crosslay, "answer", fail)
    out = io.StringIO()
    assert ask_each(Settings(timezone="UTC"), io.StringIO("bad\ncrosslay 1\n"), as_json=True, out=out) == 0
    bad, good = [json.loads(line) for line in out.getvalue().splitlines()]
    assert (bad["text"], bad["refused"]) == ("bad", ask.FAULT)
    assert good["answer"]


@pytest.mark.parametrize(
    "data", ["q" + "9" * 40 + ":0", "q1:" + "9" * 40, "q٣:1", "q-1:0", "q1", "q:", "role:x", "q1:1:1"]
)
def test_a_button_of_anybodys_making_is_no_question(data: str) -> None:
    assert parse_button(data) is None
