"""What crews of invented departments say in their own words: never answered wrongly, but for what is told here."""

from __future__ import annotations

import pytest

from bot.api import Crosslay
from bot.message.as_json import as_object
from tests.bot.message.blind.rows import rows, verdict

STILL_WRONG = frozenset({
    # A Mayday in any wording is told as one.
    "if that roof lets go we'd be calling a mayday",
    # Answered with what is missing, "no entry on record", where a refusal is as good.
    "Engine 12's crew is out of the building, all three",
})  # fmt: skip


MENDED = ("harbor", "highdesert")
"""The sets whose wrong answers were mended; the medical ones are still to be."""


@pytest.mark.parametrize("name", MENDED)
def test_nothing_is_answered_wrongly(name: str) -> None:
    crew = Crosslay()
    wrong = {row["text"] for row in rows(name) if verdict(row, as_object(crew.answer(row["text"]))) == "wrong"}
    assert wrong <= STILL_WRONG
