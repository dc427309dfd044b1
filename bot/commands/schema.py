"""`crosslay ask --schema`: the JSON Schema of what `ask --json` and `hear --json` print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

import handlers
from handlers.outcome import Answer

assert handlers  # importing it registers every handler, and with it every kind of answer


class QuestionAsked(msgspec.Struct, frozen=True):
    """A closed question."""

    text: str
    choices: tuple[str, ...]


class CommandAnswered(msgspec.Struct, frozen=True):
    """One command of a message that held several."""

    intent: str
    answer: dict[str, Any]


class MessageAnswered(msgspec.Struct, frozen=True):
    """One message. Units stand in the keys; numbers aren't rounded; times end in `at` and are ISO 8601 in UTC."""

    text: str
    """What was typed or heard."""
    intent: str | None
    answer: dict[str, Any]
    """One of `$defs`, by the intent; {} when nothing was answered."""
    question: QuestionAsked | None
    refused: str | None
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]
    confidence: float
    commands: tuple[CommandAnswered, ...]
    reply: str
    file: str = ""
    """Of `hear`: the recording …"""
    heard: str = ""
    """… what was heard in it …"""
    engine: str = ""
    """… and by what."""


def schema() -> dict[str, Any]:
    """The schema; each kind of answer stands in `$defs`, described as DEVELOPERS.md describes it."""
    kinds = sorted(_kinds(Answer), key=lambda kind: kind.__name__)
    (message, *_), parts = msgspec.json.schema_components([MessageAnswered, *kinds], ref_template="#/$defs/{name}")
    parts["MessageAnswered"]["properties"]["answer"] = {
        "anyOf": [{"$ref": f"#/$defs/{kind.__name__}"} for kind in kinds] + [{"type": "object", "maxProperties": 0}]
    }
    whole = {"$schema": "https://json-schema.org/draft/2020-12/schema", **message, "$defs": dict(sorted(parts.items()))}
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(whole))  # lists where a default is a tuple
    return plain


def _kinds(kind: type[Answer]) -> Iterator[type[Answer]]:
    for answer in kind.__subclasses__():
        if answer.__module__.startswith("handlers."):
            yield answer
        yield from _kinds(answer)
