"""Says in a few words what a command would do: the labels of a closed question's choices, in people's words.

The wording is data, language/labels.toml; quantities are said by `grammar.saying` in the units that people here speak.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from grammar import commands as c
from grammar.items import floor_name
from grammar.lexicon import by_language, language, sentence
from grammar.saying import US, Sayer, inches

__all__ = ["describe", "inches", "lay_words", "several"]


def several(commands: tuple[c.Command, ...], wording: c.Wording = US) -> str:
    """A label for a whole reading."""
    return "; ".join(describe(command, wording) for command in commands) or sentence("none_of_these")


def lay_words(lay: c.SaidLay, wording: c.Wording = US) -> str:
    """A lay in words: "2 × 200 ft of 1¾ in, second floor"."""
    return Sayer(wording).lay(lay)


def describe(command: c.Command, wording: c.Wording = US) -> str:
    """A label for one command: plain words, rounded numbers, no unit left out."""
    label = _Label(command, Sayer(wording))
    found = (label.part(way) for way in _ways(type(command).__name__))
    return next((words for words in found if words), None) or command.intent.replace("_", " ")


@by_language
def _ways(name: str) -> tuple[str, ...]:
    said = language().get("label", {}).get(name, ())
    return (said,) if isinstance(said, str) else tuple(said)


_GROUP = re.compile(r"\[([^]]*)\]")
_FIELD = re.compile(r"\{(?P<field>\w+)(?::(?P<how>\w+))?(?:\?(?P<none>[^}]*))?\}")
_CONDITION = re.compile(r"(?P<field>\w+)(?:=(?P<value>\w+))?\?")
_FORMATS = ("psi", "gpm", "gal", "feet", "area", "size", "gauge", "vacuum", "ref", "lay", "lays", "hose", "nozzle")


class _UnsaidError(Exception):
    """A field that a part needs wasn't said."""


class _Label:
    """The label of one command."""

    def __init__(self, command: c.Command, say: Sayer) -> None:
        self._command = command
        self._formats: dict[str | None, Callable[[Any], str]] = {how: getattr(say, how) for how in _FORMATS}
        self._formats |= {
            None: str,
            "name": _name,
            "min": lambda minutes: f"{minutes:g} min",
            "percent": lambda part: f"{part:.0%}",
            "floor": floor_name,
            "clock": lambda time: f"{time.hour:02d}:{time.minute or 0:02d}" if time.hour is not None else "",
            "each": lambda commands: several(commands, say.wording),
        }

    def part(self, way: str) -> str | None:
        """The words of a part; None where it doesn't fit."""
        condition = _CONDITION.match(way)
        if condition is not None:
            if not self._holds(condition):
                return None
            way = way[condition.end() :]
        try:
            return _FIELD.sub(self._field, _GROUP.sub(self._group, way))
        except _UnsaidError:
            return None

    def _group(self, group: re.Match[str]) -> str:
        return next((words for way in group[1].split(" | ") if (words := self.part(way)) is not None), "")

    def _holds(self, condition: re.Match[str]) -> bool:
        value = getattr(self._command, condition["field"])
        wanted = condition["value"]
        return bool(value) if wanted is None else {True: "yes", False: "no"}.get(value, str(value)) == wanted

    def _field(self, field: re.Match[str]) -> str:
        value = getattr(self._command, field["field"])
        if value is None or value is False or value == () or (field["how"] is None and not value):
            if field["none"] is None:
                raise _UnsaidError
            return field["none"]
        words = self._formats[field["how"]](value)
        if not words and field["how"] == "clock":
            raise _UnsaidError
        return words


def _name(value: str) -> str:
    return str(language().get("label_names", {}).get(value, value.replace("_", " ")))
