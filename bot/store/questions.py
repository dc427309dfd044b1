"""Open questions with their choices; a button carries only the question's number and the choice's place."""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import Row, bindparam, insert, select, update

from bot.message import Button
from bot.store.connection import Tx
from bot.store.tables import questions
from grammar.commands import Question

MOST_DIGITS = 9
"""Of a question's number: what comes back with a button is anybody's, and no database holds any number."""
_QUESTION = msgspec.json.Decoder(Question)
_LOG = logging.getLogger(__name__)

_OPEN_TO = tuple(
    select(questions)
    .where(
        questions.c.room == bindparam("room"),
        questions.c.closed_at.is_(None),
        questions.c.asked_at >= bindparam("since"),
        to,
    )
    .order_by(questions.c.id.desc())
    .limit(1)
    for to in (questions.c.who == bindparam("who"), questions.c.who.is_(None))
)
_ASK = insert(questions).returning(questions.c.id)
_CLOSE = update(questions).where(questions.c.id == bindparam("_id"))
_CLOSE_OPEN = update(questions).where(
    questions.c.room == bindparam("_room"), questions.c.who == bindparam("_who"), questions.c.closed_at.is_(None)
)


class Asked(msgspec.Struct, frozen=True):
    """A question as it was put to a room."""

    id: int
    question: Question
    asked_at: datetime
    who: str | None = None
    open: bool = True


def buttons(question_id: int, question: Question) -> tuple[Button, ...]:
    """The choices as buttons."""
    return tuple(Button(f"q{question_id}:{place}", choice.label) for place, choice in enumerate(question.choices))


def parse_button(button: str) -> tuple[int, int] | None:
    """The question's number and the choice's place that a button's id stands for."""
    number, _, place = button.removeprefix("q").partition(":")
    digits = all(part.isascii() and part.isdecimal() and len(part) <= MOST_DIGITS for part in (number, place))
    return (int(number), int(place)) if digits else None


async def ask(tx: Tx, question: Question, *, room: str, who: str | None, incident: str | None, now: datetime) -> int:
    """Put a question; an earlier open one to the same person in the room is closed. Returns its number."""
    if who is not None:
        await close_open(tx, room, who, now)
    text = msgspec.json.encode(question).decode()
    values = {"room": room, "who": who, "incident": incident, "question": text, "asked_at": now}
    number: int = (await tx.execute(_ASK, values)).scalar_one()
    return number


async def open_to(tx: Tx, room: str, who: str, since: datetime) -> tuple[Asked, ...]:
    """What this person may answer here by words, newest first: the last open question since `since` that was put to
    them, and the last that was put to whoever is in the room.

    One that can't be read is as if it had not been asked: it must not keep the next message from being handled.
    """
    rows = [(await tx.execute(to, {"room": room, "who": who, "since": since})).first() for to in _OPEN_TO]
    asked = [one for row in rows if row is not None and (one := _asked(row)) is not None]
    return tuple(sorted(asked, key=lambda one: -one.id))


async def by_number(tx: Tx, number: int, room: str) -> Asked | None:
    """The question with this number, if it was put to this room."""
    row = (await tx.execute(select(questions).where(questions.c.id == number, questions.c.room == room))).first()
    return None if row is None else _asked(row)


def _asked(row: Row[Any]) -> Asked | None:
    try:
        return Asked(row.id, _QUESTION.decode(row.question), row.asked_at, row.who, row.closed_at is None)
    except msgspec.DecodeError:
        _LOG.exception("A question in the record can't be read", extra={"room": row.room, "row": row.id})
        return None


async def close(tx: Tx, number: int, now: datetime) -> None:
    """The question was answered or has passed."""
    await tx.execute(_CLOSE, {"_id": number, "closed_at": now})


async def close_open(tx: Tx, room: str, who: str, now: datetime) -> None:
    """Close what is still open to this person in the room."""
    await tx.execute(_CLOSE_OPEN, {"_room": room, "_who": who, "closed_at": now})
