"""Says a reading in plain words for the network: every command with every field that was said, numbers in figures.

It is made from the commands' own fields, so a new command or field needs nothing here. The speaker's own words, which a
command only keeps, are left out: they would agree with the message whatever was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import msgspec

from grammar.commands import Command, Spoken

_KEPT = frozenset(("text", "remark", "nature", "address", "item", "message", "sure", "meant", "seq"))
"""Fields that hold the speaker's words, or how sure the reader was."""
_UNITS = {"in": "inch", "ft": "ft", "psi": "psi", "gpm": "gpm", "gal": "gal", "min": "minutes", "mi": "miles"}
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


def said(commands: Iterable[Command]) -> str:
    """The commands in words: "pump pressure: lays: count 2, hose 1.75 inch, length 200 ft"."""
    return " ; ".join(_command(command) for command in commands) or "nothing"


def _command(command: Command | Spoken) -> str:
    name = _CAMEL.sub(" ", type(command).__name__).lower()
    fields = _fields(command)
    return f"{name} : {' , '.join(fields)}" if fields else name


def _fields(part: msgspec.Struct) -> list[str]:
    out = []
    fields = part.__struct_fields__
    defaults = (msgspec.NODEFAULT,) * (len(fields) - len(part.__struct_defaults__)) + part.__struct_defaults__
    for field, default in zip(fields, defaults, strict=True):
        value = getattr(part, field)
        if field not in _KEPT and value is not None and value != default and value != ():
            out.append(_field(field, value))
    return out


def _field(field: str, value: object) -> str:
    if isinstance(value, bool):
        return field.replace("_", " ") if value else f"no {field.replace('_', ' ')}"
    name, _, unit = field.rpartition("_")
    if isinstance(value, int | float):
        if unit in _UNITS and name:
            return f"{name.replace('_', ' ')} {value:g} {_UNITS[unit]}"
        return f"{field.replace('_', ' ')} {value:g}"
    return f"{field.replace('_', ' ')} {_value(value)}"


def _value(value: object) -> str:
    if isinstance(value, msgspec.Struct):
        return _command(value) if isinstance(value, Spoken) else " ".join(_fields(value)) or "any"
    if isinstance(value, tuple):
        return " and ".join(_value(one) for one in value)
    return str(value).replace("_", " ")


DECIDING = frozenset(
    (
        "benchmark",
        "source",
        "action",
        "strategy",
        "role",
        "checklist",
        "trouble",
        "about",
        "since",
        "kind",
        "method",
        "topic",
    )
)


def said_deciding(command: Command | Spoken) -> str:
    """A command with only the fields that decide what it does, no numbers and names."""
    name = _CAMEL.sub(" ", type(command).__name__).lower()
    told = [
        _field(field, value)
        for field in command.__struct_fields__
        if (value := getattr(command, field)) is True or (field in DECIDING and isinstance(value, str))
        if field not in _KEPT
    ]
    return f"{name} : {' , '.join(told)}" if told else name
