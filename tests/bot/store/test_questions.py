"""Open questions in the record."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from bot.store import questions
from bot.store.database import Store
from grammar.commands import OxygenTime, Question
from tests.bot.conftest import NOON

ASKED = Question("Which cylinder?", (), OxygenTime(flow_lpm=15.0), "cylinder")


async def test_a_question_that_cant_be_read_is_as_if_it_had_not_been_asked(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    async with store.begin() as tx:
        number = await questions.ask(tx, ASKED, room="yard", who="kim", incident=None, now=NOON)
    async with store.begin() as tx:
        (asked,) = await questions.open_to(tx, "yard", "kim", NOON)
        assert asked.question == ASKED
        spoilt = '{"text": "Which cylinder?", "choices": [], "fills": {"type": "OxygenTime", "cylinder": 0}}'
        await tx.execute(text("UPDATE questions SET question = :q"), {"q": spoilt})
    async with store.begin() as tx:
        assert await questions.open_to(tx, "yard", "kim", NOON) == ()
        assert await questions.by_number(tx, number, "yard") is None
    assert "A question in the record can't be read" in caplog.text


async def test_what_a_room_is_asked_doesnt_close_what_a_person_was_asked(store: Store) -> None:
    async with store.begin() as tx:
        first = await questions.ask(tx, ASKED, room="yard", who="kim", incident=None, now=NOON)
        then = await questions.ask(tx, Question("Ask again?"), room="yard", who=None, incident=None, now=NOON)
        assert [asked.id for asked in await questions.open_to(tx, "yard", "kim", NOON)] == [then, first]
        assert [asked.id for asked in await questions.open_to(tx, "yard", "sam", NOON)] == [then]
        newer = await questions.ask(tx, ASKED, room="yard", who="kim", incident=None, now=NOON)
        assert [asked.id for asked in await questions.open_to(tx, "yard", "kim", NOON)] == [newer, then]
