"""The one thing that must be asked of a lay before it is worked out: what it lacks, or which of two ways is meant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from grammar.commands import Choice, Command, FlowAtPressure, PumpPressure, Question, SaidHose, SaidLay, SaidLine
from grammar.describe import lay_words
from grammar.lexicon import sentence
from grammar.readers.base import Span, in_unit
from grammar.readers.lay_checks import Missing, with_total
from grammar.readers.layout import LayReading
from grammar.saying import Sayer

replace = msgspec.structs.replace

_LENGTHS, _LENGTHS_M = (100, 150, 200, 250, 300), (20, 40, 60, 80, 100)
_HAND_LINES_IN = (1.49, 3.0)
_LOW_PSI = (50, 75)
"""Rated pressures of low-pressure fog nozzles, psi (common practice)."""


def ask(
    text: str,
    ways: Iterable[tuple[str, Command]],
    fills: Command | None = None,
    slot: str | None = None,
    *,
    none: str | None = None,
) -> Question:
    """A closed question: a label and a command for each choice; `none` is the label of the choice that does nothing."""
    choices = (Choice(label, (command,)) for label, command in ways)
    return Question(text, (*choices, *((Choice(none),) if none is not None else ())), fills, slot)


def which_line(span: Span, family: Iterable[str] = ()) -> Question:
    """Which line of the rig is meant."""
    ways = ((name, PumpPressure((SaidLay(lines=(SaidLine(name=key),)),))) for name, key in line_names(span, family))
    return ask(sentence("which_line"), ways, PumpPressure((SaidLay(lines=(SaidLine(),)),)), "line")


def line_names(span: Span, family: Iterable[str] = ()) -> list[tuple[str, str]]:
    """The rig's lines, or these of them, with their names: what a question offers."""
    names = {line.key: line.names[0] for line in span.context.rig_lines}
    return [(names.get(key, key), key) for key in tuple(family) or names][:6]


def missing_question(span: Span, command: PumpPressure, missing: Missing) -> Question:
    """Asks for the one slot that a lay lacks."""
    lay, say = command.lays[missing.lay], Sayer(span.context.wording)
    what = lay_words(lay, span.context.wording)
    options: Sequence[tuple[str, float]] = ()
    if missing.slot in ("hose_in", "feed_hose_in"):
        low, high = _HAND_LINES_IN
        options = _sizes(span, [size for size in span.context.hose_in if low <= size <= high])[:5]
    elif missing.slot in ("length_ft", "feed_length_ft"):
        metric = span.context.units == "metric"
        lengths = [metres / 0.3048 for metres in _LENGTHS_M] if metric else _LENGTHS
        options = [(say.feet(feet), float(feet)) for feet in lengths]
    text = sentence(f"lacks_{missing.slot}", split=lay.split, unit=say.length_unit, what=what)
    return ask(text, [(label, _filled(command, missing, value)) for label, value in options], command, missing.slot)


def _sizes(span: Span, sizes: Sequence[float]) -> list[tuple[str, float]]:
    """Sizes as they are called, each once: the rig's own of a size before the book's."""
    own = set(span.context.own_hose_in)
    called: dict[str, float] = {}
    for size in sorted(sizes, key=lambda size: size not in own):
        called.setdefault(Sayer(span.context.wording).size(size), size)
    return sorted(called.items(), key=lambda pair: pair[1])


def _filled(command: PumpPressure, missing: Missing, value: float) -> PumpPressure:
    """The command with its missing size or length filled in wherever that is missing."""
    lays, slot = list(command.lays), missing.slot.removeprefix("feed_")
    lay = lays[missing.lay]
    if slot != missing.slot:
        lays[missing.lay] = replace(lay, feed=(replace(lay.feed[0], **{slot: value}), *lay.feed[1:]))
    else:
        lays[missing.lay] = replace(lay, lines=tuple(_with(line, slot, value) for line in lay.lines))
    return replace(command, lays=tuple(lays))


def _with(line: SaidLine, slot: str, value: float) -> SaidLine:
    hose = line.hose or (SaidHose(),)
    return replace(line, hose=tuple(replace(h, **{slot: value}) if getattr(h, slot) is None else h for h in hose))


def doubtful_lay(span: Span, command: PumpPressure, lay: LayReading) -> Question | None:
    """What must be asked of a lay that was said whole: its size, its height, a bare number, a count."""
    low = span.has("low_pressure") and not any(x.nozzle.nozzle_psi for one in command.lays for x in one.lines)
    asked = (
        (lay.odd_size is not None, _which_size),
        (lay.floor_asked, _which_floor),
        (lay.rise_asked, _how_far_up),
        (lay.bare_at, _flow_or_pressure),
        (bool(lay.twice or lay.or_else), _which_of_two),
        (low, _which_nozzle_psi),
        (lay.total_or_each, _total_or_each),
    )
    return next((question(span, command, lay) for holds, question in asked if holds), None)


def _which_floor(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    place = next((line.place for one in command.lays for line in one.lines if line.place), None)
    text = sentence("which_floor_of", place=place) if place else sentence("which_floor")
    return ask(text, [(sentence(f"floor_{n}"), _each(command, floor=n)) for n in (2, 3)], command, "floor")


def _how_far_up(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    wording = span.context.wording
    text = sentence("how_far_up", unit=Sayer(wording).length_unit, example=10 if wording.metric else 30)
    return ask(text, [(sentence("level"), _each(command, rise_ft=0.0))], command, "rise_ft")


def _which_of_two(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    ways = (command.lays, lay.twice) if lay.twice else (lay.or_else, command.lays)
    named = [" + ".join(lay_words(one, span.context.wording) for one in way) for way in ways]
    labels = [(name, replace(command, lays=way)) for name, way in zip(named, ways, strict=True)]
    return ask(sentence("said_twice" if lay.twice else "which_lines"), labels)


def _which_nozzle_psi(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    """ "Low pressure fog": how low?"""
    say = Sayer(span.context.wording)
    pressures = [(say.psi(psi), _each_nozzle(command, nozzle_psi=float(psi))) for psi in _LOW_PSI]
    return ask(sentence("which_nozzle_psi"), pressures, command, "nozzle_psi")


def _total_or_each(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    gpm = Sayer(span.context.wording).gpm(_flow(command))
    in_all = replace(command, lays=with_total(command.lays))
    text = sentence("total_or_each", gpm=gpm)
    return ask(text, [(sentence("in_all", said=gpm), in_all), (sentence("each_line", gpm=gpm), command)])


def _flow(command: PumpPressure) -> float:
    flows = (line.nozzle.flow_gpm for lay in command.lays for line in lay.lines)
    return next(flow for flow in flows if flow is not None)


def _each(command: PumpPressure, **parts: Any) -> PumpPressure:
    """The command with this of every line."""
    lays = tuple(replace(lay, lines=tuple(replace(x, **parts) for x in lay.lines)) for lay in command.lays)
    return replace(command, lays=lays)


def _each_nozzle(command: PumpPressure, **parts: Any) -> PumpPressure:
    """The command with this of every line's nozzle."""
    lays = tuple(
        replace(lay, lines=tuple(replace(x, nozzle=replace(x.nozzle, **parts)) for x in lay.lines))
        for lay in command.lays
    )
    return replace(command, lays=lays)


def _which_size(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    size = lay.odd_size or 0.0
    known = sorted(_sizes(span, span.context.hose_in), key=lambda pair: abs(pair[1] - size))[:3]
    text = sentence("unknown_size", size=Sayer(span.context.wording).size(size))
    ways = [(label, _sized(command, size, other)) for label, other in known]
    return ask(text, ways, _sized(command, size, None), "hose_in")


def _sized(command: PumpPressure, old: float, new: float | None) -> PumpPressure:
    def swap(hose: tuple[SaidHose, ...]) -> tuple[SaidHose, ...]:
        return tuple(replace(h, hose_in=new) if h.hose_in == old else h for h in hose)

    lays = tuple(
        replace(lay, feed=swap(lay.feed), lines=tuple(replace(line, hose=swap(line.hose)) for line in lay.lines))
        for lay in command.lays
    )
    return replace(command, lays=lays)


def _flow_or_pressure(span: Span, command: PumpPressure, lay: LayReading) -> Question:
    """ "Crosslay one at 200": gpm at the nozzle, or psi at the pump."""
    flow, say = _flow(command), Sayer(span.context.wording)
    number = next((span.items[i] for i in span.kinds("num") if in_unit(span.items[i], "gpm", None) == flow), None)
    psi = (in_unit(number, "psi", None) if number is not None else None) or flow
    gpm, pounds = say.gpm(flow), say.psi(psi)
    at_pump = FlowAtPressure(_each_nozzle(command, flow_gpm=None).lays, psi)
    text = sentence("flow_or_pressure", gpm=gpm, psi=pounds)
    return ask(text, [(gpm, command), (sentence("at_the_pump", psi=pounds), at_pump)])
