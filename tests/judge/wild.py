"""Sets of messages with answers worked out by hand (a JSON list): whether a reading's answer is the right one.

A row says its text and an intent with the least keys of its answer, or `expect`: question_or_refusal (with `nothing`:
nothing is logged), refused, no_stamp, partial_or_question, or commands with all `intents` and `answers`; `never` and
`either` are intents that must not, or may as well, be answered.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from bot.commands.ask import Asker
from bot.message.as_json import as_object
from bot.message.reply import answer_reading
from bot.settings import Settings
from grammar.commands import Command, Context, Reading
from handlers.history import History

LOGS = frozenset(
    [
        "benchmark",
        "strategy",
        "water_source",
        "line_on",
        "line_off",
        "line_change",
        "evacuate",
        "mayday",
        "emergency",
        "entry",
        "exit",
        "par",
        "assign",
        "dispatch",
    ]
)


class Message(msgspec.Struct, frozen=True):
    """A message and what is due."""

    text: str
    row: dict[str, Any]

    @property
    def nothing(self) -> bool:
        """Nothing of it may be logged."""
        return bool(self.row.get("nothing"))


def messages(path: Path) -> list[Message]:
    """The messages of a set."""
    return [Message(row["text"], row) for row in json.loads(path.read_text(encoding="utf-8"))]


@cache
def _asker() -> Asker:
    return Asker(Settings(timezone="UTC"))


def context() -> Context:
    """The context in which they are said: the demonstration rig, no incident."""
    return _asker().context


def right(message: Message, commands: tuple[Command, ...]) -> bool | None:
    """Whether these commands give the right answer; None where that can't be told."""
    asker = _asker()
    try:
        handled = answer_reading(Reading(message.text, commands), History(), asker.rig, asker.said())
        return verdict(message.row, as_object(handled))
    except Exception:
        return False


def verdict(row: dict[str, Any], got: dict[str, Any]) -> bool | None:
    """True right, False wrong, None asked or refused where an answer was due."""
    did = [one for one in got["commands"] if one["answer"]]
    intents = {one["intent"] for one in did}
    if intents & set(row.get("never", ())):
        return False
    expect = row.get("expect")
    if expect == "question_or_refusal":
        return (False if intents & LOGS else None) if row.get("nothing") else (False if did else None)
    if expect == "no_stamp":
        return False if intents & {"benchmark", "strategy", "water_source"} else None
    if not did:
        return True if expect == "refused" and got["intent"] == row["intent"] and got["refused"] else None
    if expect == "refused":
        return False
    if expect == "partial_or_question":
        stamped = next((one["answer"] for one in did if one["intent"] == "benchmark"), {})
        return stamped.get("benchmark") == row["benchmark"] and bool(stamped.get("place"))
    if expect == "commands":
        there = {one["intent"] for one in got["commands"]}
        return set(row["intents"]) <= there and all(_any(a, did) for a in row.get("answers", ()))
    return _any(row, did) or bool(intents & set(row.get("either") or ()))


def _any(due: dict[str, Any], did: list[dict[str, Any]]) -> bool:
    return any(one["intent"] == due["intent"] and _fits(due["answer"], one["answer"]) for one in did)


def _fits(due: dict[str, Any], got: dict[str, Any]) -> bool:
    return all(_same(value, got.get(key)) for key, value in due.items())


def _same(due: Any, got: Any) -> bool:
    if isinstance(due, bool) or due is None:
        return bool(due == got)
    if isinstance(due, int | float):
        near = max(1.0 if abs(due) > 20 else 0.1, abs(due) * 0.01)
        return isinstance(got, int | float) and abs(got - due) <= near
    return isinstance(got, str) and str(due).casefold() in got.casefold()
