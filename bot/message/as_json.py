"""The machine-readable face: one message as the JSON object of the command line, exact keys in their order."""

from __future__ import annotations

import msgspec

from bot.message.reply import Handled
from grammar.commands import Question

ANSWERED, FAULT, USAGE, ASKED, REFUSED = 0, 1, 2, 3, 4
"""Exit statuses."""


def exit_status(handled: Handled) -> int:
    """What the command line exits with for a message."""
    return {"answered": ANSWERED, "asked": ASKED}.get(handled.status, REFUSED)


def as_object(handled: Handled) -> dict[str, object]:
    """The keys of one message. Numbers are unrounded, times ISO 8601 in UTC."""
    return {
        "text": handled.text,
        "intent": handled.intent,
        "answer": handled.answer,
        "question": _question(handled.question),
        "refused": handled.refused,
        "assumed": handled.assumed,
        "cautions": handled.cautions,
        "confidence": handled.reading.confidence,
        "commands": [{"intent": outcome.intent, "answer": outcome.answer_json} for outcome in handled.outcomes],
        "reply": handled.reply,
    }


def as_line(values: dict[str, object]) -> str:
    """An object on one line."""
    return msgspec.json.encode(values).decode()


def _question(question: Question | None) -> dict[str, object] | None:
    if question is None:
        return None
    return {"text": question.text, "choices": [choice.label for choice in question.choices]}
