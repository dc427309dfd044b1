"""From a missing part to a closed question: each choice is the same command with that part completed."""

from __future__ import annotations

from typing import TypeVar

import msgspec

from grammar.commands import Choice, Command, Question
from handlers.errors import NeedsAnswer

T = TypeVar("T")


def question_for(error: NeedsAnswer, command: Command) -> Question:
    """The question that a handler's `NeedsAnswer` stands for, with a whole command behind each choice."""
    choices = tuple(Choice(label, (exchange(command, error.part, completed),)) for label, completed in error.options)
    return Question(error.message, choices, fills=command, slot=error.slot)


def exchange(thing: T, old: object, new: object) -> T:
    """The same tree of structs and tuples with one of its parts (the very object) exchanged."""
    if thing is old:
        return new  # type: ignore[return-value]
    if isinstance(thing, tuple):
        return tuple(exchange(item, old, new) for item in thing)  # type: ignore[return-value]
    if isinstance(thing, msgspec.Struct):
        fields = {name: getattr(thing, name) for name in thing.__struct_fields__}
        turned = {name: exchange(value, old, new) for name, value in fields.items()}
        changed = {name: value for name, value in turned.items() if value is not fields[name]}
        return msgspec.structs.replace(thing, **changed) if changed else thing
    return thing
