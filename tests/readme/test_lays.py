"""The README's table of lays is what the program answers now."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.asking import Asker
from bot.settings import load
from tests.readme.lays import BEGIN, END, LAYS, table

README = Path(__file__).parents[2] / "README.md"


@pytest.mark.parametrize("sentence", [sentence for _, sentence in LAYS])
def test_every_sentence_is_answered_without_a_question(sentence: str) -> None:
    handled = Asker(load()).answer(sentence)
    assert handled.answer, handled.reply
    assert handled.reply[0].isdigit() or handled.reply.startswith("C = ")


def test_the_table_is_up_to_date() -> None:
    text = README.read_text(encoding="utf-8")
    if BEGIN not in text:
        pytest.skip("the README has no table of lays yet")
    shown = BEGIN + text.split(BEGIN)[1].split(END)[0] + END
    assert shown == table(), "run python -m tests.readme.lays and put its output into the README"
