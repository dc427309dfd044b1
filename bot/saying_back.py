"""What an answer is for, said after its number: who hears "one one five" alone can't tell which line it means."""

from __future__ import annotations

import re

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
    | c.Draft
    | c.AirTime
    | c.OxygenTime
)
"""Answers that are a number about something that was said."""

_NEEDLESS = re.compile(r"^(?:pressure for|tank time(?: at)?|flow at)\s*")
"""Words of a description that the number has said already."""
_ALOUD = ((r"(\d+) × (?=\d)", r"\1 lines of "), (r"(?<=[\d¼½¾⅛⅜⅝⅞]) in\b", " inch"))
_NUMBER_ENDS = re.compile(r"\.(?= |$)")


_US = c.Wording()


def said_back(spoken: str, command: c.Command, units: c.Wording = _US) -> str:
    """A spoken answer with what it is for after its first sentence."""
    if isinstance(command, c.Correction):
        command = command.amended[0] if len(command.amended) == 1 else command
    what = _what_for(command, units) if isinstance(command, Calculated) else ""
    if not spoken or not what or what in spoken:
        return spoken
    ends = _NUMBER_ENDS.search(spoken)
    number, rest = (spoken[: ends.start()], spoken[ends.end() :]) if ends else (spoken, "")
    return f"{number}, {what}.{rest}"


def _what_for(command: c.Command, units: c.Wording) -> str:
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
    at = "at " if isinstance(command, c.TankTime | c.FlowAtPressure) else ""
    said = _NEEDLESS.sub(at, describe(command, units))
    for sign, words in _ALOUD:
        said = re.sub(sign, words, said)
    return said
