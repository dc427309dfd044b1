"""What an answer is for, said after its number: who hears "one one five" alone can't tell which line it means.

In few words: what the number or the rest of the answer says isn't said twice. Limits that are passed are said after it,
and a question's choices where its words don't name them: who listens sees no screen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from grammar import commands as c
from grammar.describe import describe
from grammar.saying import Sayer

Calculated = (
    c.PumpPressure
    | c.FlowAtPressure
    | c.TipForFlow
    | c.LongestLay
    | c.Nozzle
    | c.SupplyPressure
    | c.TankTime
    | c.Hydrant
    | c.HydrantFlow
    | c.NeededFlow
    | c.Shuttle
    | c.AirTime
    | c.OxygenTime
)
"""Answers that are a number about something that was said."""

_US = c.Wording()
_NEEDLESS = re.compile(
    r"^(?:pressure for|tank time(?: at)?|flow at|longest lay of|hydrant:|needed fire flow of|tender shuttle(?: for)?)"
    r"\s*"
)
"""Words of a description that the number has said already."""
_ALOUD = (
    (r"(\d+) × (?=\d)", r"\1 lines of "),
    (r"(?<=[¼½¾]) in\b(?! tip)", ""),
    (r"(?<=[\d¼½¾⅛⅜⅝⅞]) in\b", " inch"),
)
_NUMBER_ENDS = re.compile(r"\.(?= |$)")
_LIMIT = re.compile(r" is above |^With the nozzle shut the low end | is at or below ")
"""Cautions that are said aloud: hose, pump or tank's piping beyond its limit; a cylinder on its reserve."""
_ASIDE = re.compile(r" \([^)]*\)")
_MOST_CHOICES = 4
ON_THE_SCREEN = "The choices are on the screen."


def said_back(spoken: str, command: c.Command, answer: Mapping[str, Any], units: c.Wording = _US) -> str:
    """A spoken answer with what it is for after its first sentence; `answer` is its JSON."""
    if isinstance(command, c.Correction):
        command = command.amended[0] if len(command.amended) == 1 else command
    what = _what_for(command, answer, units) if isinstance(command, Calculated) else ""
    what = ", ".join(part for part in what.split(", ") if not _is_said(part, spoken))
    if not spoken or not what:
        return spoken
    ends = _NUMBER_ENDS.search(spoken)
    number, rest = (spoken[: ends.start()], spoken[ends.end() :]) if ends else (spoken, "")
    return f"{number}, {what}.{rest}"


def limits_aloud(cautions: Sequence[str]) -> str:
    """The limits among an answer's cautions."""
    return " ".join(_ASIDE.sub("", caution) for caution in cautions if _LIMIT.search(caution))


def asked_aloud(question: c.Question) -> str:
    """A question, and its choices where its own words don't name them; a value that is asked for needs none."""
    labels = [
        _for_the_ear(choice.label.removeprefix("pressure for ")) if choice.commands else ""
        for choice in question.choices
    ]
    doing = [label for label in labels if label]
    if question.fills is not None or len(doing) < 2 or all(_words(label) <= _words(question.text) for label in doing):
        return question.text  # a value, "yes" or "no", or one of its own words answers it
    if len(doing) > _MOST_CHOICES:
        return f"{question.text} {ON_THE_SCREEN}"
    told = (f"Number {number}: {label}." for number, label in enumerate(labels, start=1) if label)
    return " ".join((question.text, *told))


def _what_for(command: c.Command, answer: Mapping[str, Any], units: c.Wording) -> str:
    """In the fewest words; "" where the number says it all."""
    say = Sayer(units)
    if isinstance(command, c.OxygenTime):
        parts = (
            f"{command.cylinder} cylinder" if command.cylinder else "",
            say.psi(command.gauge_psi) if command.gauge_psi is not None else "",
            f"at {command.flow_lpm:g} litres" if command.flow_lpm is not None else "",
        )
        return ", ".join(part for part in parts if part)
    if isinstance(command, c.AirTime):
        gauge = command.gauge_psi or command.start_psi
        return f"from {say.psi(gauge)}" if gauge is not None else ""
    if isinstance(command, c.TankTime) and command.flow_gpm is None:
        return ""
    several = ""
    if isinstance(command, c.PumpPressure):
        command, several = _governing(command, answer.get("lines", ()))
    at = "at " if isinstance(command, c.TankTime | c.FlowAtPressure) else ""
    return several + _for_the_ear(_NEEDLESS.sub(at, describe(command, units)))


def _for_the_ear(said: str) -> str:
    """A description with its signs as words."""
    for sign, words in _ALOUD:
        said = re.sub(sign, words, said)
    return said


def _governing(command: c.PumpPressure, lines: Sequence[Mapping[str, Any]]) -> tuple[c.PumpPressure, str]:
    """Of several different lines the one that asks for the pressure, after how many there are."""
    each = [(lay, line) for lay in command.lays for line in lay.lines]
    if len(each) < 2 or len(each) != len(lines):
        return command, ""
    pressures = [line["pressure_psi"] for line in lines]
    lay, line = each[pressures.index(max(pressures))]
    count = sum(int(line["count"]) for line in lines)
    return replace(command, lays=(replace(lay, lines=(line,)),)), f"{count} lines, the highest "


def _is_said(part: str, spoken: str) -> bool:
    """All words of a part stand in one sentence of the answer."""
    return any(_words(part) <= _words(sentence) for sentence in _NUMBER_ENDS.split(spoken))


def _words(text: str) -> frozenset[str]:
    plain = text.casefold().replace(",", "").replace("gallons", "gpm").replace("litres", "l/min")
    return frozenset(re.findall(r"[^\s.:;?!“”]+", plain))
