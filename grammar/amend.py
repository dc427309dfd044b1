"""Amends a command with pieces said afterwards: corrections, follow-ups, the answer to a question about one slot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec

from grammar import commands as c
from grammar.readers.base import Span, Take, in_unit, place_of
from grammar.readers.lines import line_on
from grammar.readers.people import gauge
from grammar.readers.slot_rules import Slot
from grammar.readers.slots import typings
from grammar.vocabulary import word_list

replace = msgspec.structs.replace

_QUIET = frozenset(("sep", "and", "label", "line", "leg", "each", "into", "onend", "repair", "denied", "total", "nth"))
Amended = tuple[c.Command, float, int]
"""The whole amended command, its cost, the items that it explains."""


def amendments(span: Span, command: c.Command, wanted: str | None = None) -> Iterator[Amended]:
    """The ways to amend a command with what the span says.

    `wanted`: the slot that was asked for, which a bare number fills.
    """
    match command:
        case c.PumpPressure() | c.FlowAtPressure() | c.TankTime() if command.lays:
            yield from _lay_command(span, command, wanted)
        case c.LineOn():
            yield from _line_on(span, command, wanted)
        case _:
            pass
    if not (isinstance(command, c.PumpPressure) or (isinstance(command, c.LineOn) and command.lay is not None)):
        yield from _fields(span, command, wanted)


# ----------------------------------------------------------------------------------------------------------------- lays


def _lay_command(span: Span, command: Any, wanted: str | None) -> Iterator[Amended]:
    for cost, slots, used in _slots(span, wanted):
        lays = _amend_lays(command.lays, slots, span)
        if lays is not None and lays != command.lays:
            yield replace(command, lays=lays), cost, used


def _line_on(span: Span, command: c.LineOn, wanted: str | None) -> Iterator[Amended]:
    lay = command.lay
    if lay is None:
        name = command.ref.name if command.ref else None
        lay = c.SaidLay(lines=(c.SaidLine(name=name),))
    for cost, slots, used in _slots(span, wanted):
        lays = _amend_lays((lay,), slots, span)
        if lays is not None and lays[0] != lay:
            yield line_on(lays[0]), cost, used


def _slots(span: Span, wanted: str | None) -> Iterator[tuple[float, list[Slot], int]]:
    """Typings made of slots only; a bare number that was asked for goes where it was asked."""
    for cost, found in typings(span) if wanted != "nozzle" else ():
        kinds = [s.kind for s in found if s.kind not in _QUIET]
        if not kinds or any(k not in _AMEND for k in kinds):
            continue
        asked = _ASKED.get(wanted or "")
        extra = 0.0 if asked is None else -cost if kinds == [asked] else 0.2
        used = 0
        for s in found:
            used |= 1 << s.at
        yield max(cost + extra, 0.0), found, used
    if wanted == "nozzle":
        yield from _asked_nozzle(span)
    if wanted in ("hose", "hose_in", "feed_hose_in"):
        yield from _asked_number(span, "hose", "in", 0.5, 6)


_ASKED = {
    "length": "len",
    "hose": "hose",
    "flow": "flow",
    "length_ft": "len",
    "feed_length_ft": "len",
    "hose_in": "hose",
    "feed_hose_in": "hose",
    "flow_gpm": "flow",
    "floor": "floor",
}
"""The slot that fills what was asked for."""


def _asked_nozzle(span: Span) -> Iterator[tuple[float, list[Slot], int]]:
    """ "inch and a quarter", "fog 250": the nozzle was asked for, so a size is a tip and a number its flow."""
    slots: list[Slot] = []
    for i in range(span.lo, span.hi):
        item = span.items[i]
        if item.kind == "num" and item.unit in (None, "in") and 0.2 < item.number <= 3.5:
            slots.append(Slot("tip", item.number, i))
        elif item.kind == "num" and item.number >= 10 and (gpm := in_unit(item, "gpm", None)) is not None:
            slots.append(Slot("flow", gpm, i))
        elif "fog" in item.concepts or "smooth_bore" in item.concepts:
            slots.append(Slot("kind", "fog" if "fog" in item.concepts else "smooth_bore", i))
    if slots:
        yield 0.0, slots, sum(1 << s.at for s in slots) | sum(1 << i for i in span.where("tip", "nozzle"))


def _asked_number(span: Span, kind: str, unit: str, low: float, high: float) -> Iterator[tuple[float, list[Slot], int]]:
    numbers = [
        i for i in span.kinds("num") if (v := in_unit(span.items[i], unit, None)) is not None and low <= v <= high
    ]
    if len(numbers) == 1:
        i = numbers[0]
        yield 0.0, [Slot(kind, span.items[i].number, i)], 1 << i


def _amend_lays(lays: tuple[c.SaidLay, ...], slots: list[Slot], span: Span) -> tuple[c.SaidLay, ...] | None:
    """The lays with the slots put in, or None when it isn't plain which line is meant."""
    values: dict[str, object] = {}
    order: int | None = None
    for slot in slots:
        if slot.kind == "nth":
            order = int(slot.value) if isinstance(slot.value, int | float) else None
        elif slot.kind in _AMEND:
            if slot.kind in values and values[slot.kind] != slot.value:
                return None
            values[slot.kind] = slot.value
    lines = [(i, k) for i, lay in enumerate(lays) for k in range(len(lay.lines))]
    target = _target(lays, lines, values, order)
    if target is None:
        return None
    out = list(lays)
    for i, k in target:
        amended = _amend_line(out[i].lines[k], values)
        out[i] = replace(out[i], lines=(*out[i].lines[:k], amended, *out[i].lines[k + 1 :]))
    return tuple(out)


Place = tuple[int, int]


def _target(
    lays: tuple[c.SaidLay, ...], lines: list[Place], values: dict[str, object], order: int | None
) -> list[Place] | None:
    if order is not None:
        return [lines[order - 1]] if 0 < order <= len(lines) else None
    if len(lines) == 1:
        return lines
    if len(lays) == 1 and lays[0].split is not None:
        return (
            lines if set(values) <= {"len", "hose", "flow", "tip", "kind", "npsi", "floor", "rise", "place"} else None
        )
    if "hose" in values and len(values) > 1:
        same = [(i, k) for i, k in lines if any(h.hose_in == values["hose"] for h in lays[i].lines[k].hose)]
        values.pop("hose") if len(same) == 1 else None
        return same if len(same) == 1 else None
    if set(values) <= {"floor"}:
        set_already = [(i, k) for i, k in lines if lays[i].lines[k].floor is not None]
        return set_already if len(set_already) == 1 else None
    return None


def _amend_line(line: c.SaidLine, values: dict[str, object]) -> c.SaidLine:
    for kind, value in values.items():
        line = _AMEND[kind](line, value)
    return line


def _named(line: c.SaidLine, value: Any) -> c.SaidLine:
    if line.name is None:  # the rig's line is one, and has its own nozzle
        line = replace(line, count=1, nozzle=c.SaidNozzle())
    return replace(line, name=value, hose=())


def _hosed(line: c.SaidLine, **piece: float) -> c.SaidLine:
    hose = line.hose or (c.SaidHose(),)
    return replace(line, hose=(*hose[:-1], replace(hose[-1], **piece)))


def _nozzled(line: c.SaidLine, **parts: Any) -> c.SaidLine:
    return replace(line, nozzle=replace(line.nozzle, **parts))


def _flowing(line: c.SaidLine, value: Any) -> c.SaidLine:
    kind = None if line.nozzle.tip_in else line.nozzle.kind
    return _nozzled(line, flow_gpm=float(value), tip_in=None, kind=kind)


def _of_kind(line: c.SaidLine, value: Any) -> c.SaidLine:
    return _nozzled(line, kind=value, tip_in=line.nozzle.tip_in if value == "smooth_bore" else None)


_AMEND: dict[str, Callable[[c.SaidLine, Any], c.SaidLine]] = {
    "name": _named,
    "count": lambda line, value: replace(line, count=int(value)),
    "len": lambda line, value: _hosed(line, length_ft=float(value)),
    "hose": lambda line, value: _hosed(line, hose_in=float(value)),
    "flow": _flowing,
    "npsi": lambda line, value: _nozzled(line, nozzle_psi=float(value)),
    "tip": lambda line, value: _nozzled(line, tip_in=float(value), kind="smooth_bore", flow_gpm=None),
    "kind": _of_kind,
    "floor": lambda line, value: replace(line, floor=int(value), rise_ft=None),
    "rise": lambda line, value: replace(line, rise_ft=float(value), floor=None),
    "percent": lambda line, value: replace(line, foam_percent=float(value)),
    "place": lambda line, value: replace(line, place=value),
    "device": lambda line, value: replace(line, device=value),
}
"""How each slot changes a line."""


# --------------------------------------------------------------------------------------------------------------- fields

_NUMBERS: dict[str, tuple[str, tuple[str | None, ...], float, float]] = {
    # field: label concept, units, lowest, highest
    "flow_gpm": ("flowing", ("gpm", "lpm"), 5, 5000),
    "tank_gal": ("tank", ("gal", "l"), 20, 10000),
    "static_psi": ("static", ("psi", "bar", "kpa"), 0, 300),
    "residual_psi": ("residual", ("psi", "bar", "kpa"), 0, 300),
    "pitot_psi": ("pitot", ("psi", "bar", "kpa"), 0, 200),
    "intake_psi": ("intake_gauge", ("psi", "bar", "kpa"), -30, 300),
    "pump_pressure_psi": ("pump_word", ("psi", "bar", "kpa"), 20, 400),
    "nozzle_psi": ("nozzle_psi", ("psi", "bar", "kpa"), 15, 250),
    "gauge_psi": ("lowest_word", ("psi", "bar"), 100, 6000),
    "start_psi": ("started", ("psi", "bar"), 400, 6000),
    "flow_lpm": ("breathing_rate", ("lpm", "l"), 0.25, 60),
    "rate_lpm": ("breathing_rate", ("lpm", "l"), 5, 200),
    "minutes": ("unit:min", ("min", "s", "hr"), 0, 600),
    "fill_min": ("fill_time", ("min",), 0, 120),
    "dump_min": ("dump_time", ("min",), 0, 120),
    "cycle_min": ("cycle_time", ("min",), 0, 300),
    "distance_mi": ("distance", ("mi", "km"), 0, 100),
    "add_ft": ("add_hose", ("ft", "m"), 0, 2000),
    "lift_ft": ("lift_word", ("ft", "m"), 0, 40),
    "joules": ("unit:joules", ("joules",), 1, 400),
}
_WHOLES = ("count", "staffing", "missing", "tenders", "relay_engines", "exposures", "floors")


def _fields(span: Span, command: c.Command, wanted: str | None) -> Iterator[Amended]:
    """Puts units, places, times and labelled or plainly typed numbers into the fields that the command has."""
    names = command.__struct_fields__
    take = Take(span)
    changes: dict[str, object] = {}
    _named_fields(span, take, names, changes)
    for field, (label, units, low, high) in _NUMBERS.items():
        if field not in names:
            continue
        at = next((i for i in span.where(label)), -1)
        value = (
            take.number_near(at, *units, None, low=low, high=high)
            if at >= 0 and not label.startswith("unit:")
            else None
        )
        if value is not None:
            take.mark(at)
            changes[field] = value
    for field, (_, units, low, high) in _NUMBERS.items():
        if field not in names or field in changes:
            continue
        if (
            sum(
                1
                for f, (_, u, lo, hi) in _NUMBERS.items()
                if f in names and u == units and getattr(command, f) is not None and f != field
            )
            and wanted != field
        ):
            continue
        value = take.number(*units, low=low, high=high)
        if value is not None:
            changes[field] = value
    cost = _bare(span, take, command, changes, wanted)
    if changes and any(getattr(command, k) != v for k, v in changes.items()):
        take.terms(*word_list("amend_around"))
        yield replace(command, **changes), cost, take.used


def _named_fields(span: Span, take: Take, names: tuple[str, ...], changes: dict[str, object]) -> None:
    if "unit" in names and (unit := take.unit()) is not None:
        changes["unit"] = unit
    elif "to_unit" in names and (unit := take.unit()) is not None:
        changes["to_unit"] = unit
    if "time" in names and (time := take.time()) is not None:
        changes["time"] = time
    if "place" in names and (place := take.kind("place", "floor")) is not None:
        changes["place"] = place_of(place)
    if "ref" in names and (line := take.kind("line")) is not None:
        changes["ref"] = c.LineRef(name=str(line.value))


def _bare(span: Span, take: Take, command: c.Command, changes: dict[str, object], wanted: str | None) -> float:
    """A bare number goes to the asked field, else to the only field it can mean."""
    names = command.__struct_fields__
    if wanted in names and wanted in _NUMBERS and wanted not in changes:
        _, units, low, high = _NUMBERS[wanted]
        value = take.number(*units, None, low=low, high=high)
        if value is not None:
            changes[wanted] = value
            return 0.0
    if "gauge_psi" in names and "gauge_psi" not in changes and (psi := gauge(take)) is not None:
        changes["gauge_psi"] = psi
        return 0.05
    if "cylinder" in names and "cylinder" not in changes:
        for i in take.open():
            if span.items[i].text in ("d", "e", "m", "g", "h", "k"):
                take.mark(i)
                changes["cylinder"] = span.items[i].text.upper()
                return 0.05
    wholes = [f for f in _WHOLES if f in names and f not in changes]
    if wholes and (n := take.number(None, low=0, high=40, whole=True)) is not None:
        pick = next((f for f in wholes if getattr(command, f) is not None), wholes[0])
        changes[pick] = int(n)
        return 0.08
    open_numbers = [f for f in _NUMBERS if f in names and f not in changes and getattr(command, f) is not None]
    if len(open_numbers) == 1:
        _, units, low, high = _NUMBERS[open_numbers[0]]
        value = take.number(None, low=low, high=high)
        if value is not None:
            changes[open_numbers[0]] = value
            return 0.1
    return 0.02
