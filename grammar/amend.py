"""Lays what is said afterwards over a command: corrections, follow-ups, the answer to a question about one slot.

A field is a slot `field_NAME` of the language (language/refers.toml); the line of a lay takes the slots of a lay.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec

from grammar import commands as c
from grammar.costs import HARDLY, LIKELY, SURE, UNSURE
from grammar.readers.base import Span, Take, in_unit, place_of
from grammar.readers.lines import line_on
from grammar.readers.slot_rules import Slot
from grammar.readers.slots import typings
from grammar.slots import Slot as Field
from grammar.slots import fill, slots
from grammar.vocabulary import word_list

replace = msgspec.structs.replace

_QUIET = frozenset(("sep", "and", "label", "line", "leg", "each", "into", "onend", "repair", "denied", "total", "nth"))
Amended = tuple[c.Command, float, int]
"""The whole amended command, its cost, the items that it explains."""


def amendments(span: Span, command: c.Command, wanted: str | None = None) -> Iterator[Amended]:
    """The ways to amend a command with what the span says.

    `wanted`: the slot that was asked for, which a bare number fills.
    """
    field = next((name for name in ("lays", "add") if getattr(command, name, ())), None)
    if field is not None:
        for cost, found, used in _typed(span, wanted):
            lays = _laid_over(getattr(command, field), found)
            if lays is not None and lays != getattr(command, field):
                yield replace(command, **{field: lays}), cost, used
    if isinstance(command, c.LineOn):
        lay = command.lay or c.SaidLay(lines=(c.SaidLine(name=command.ref.name if command.ref else None),))
        for cost, found, used in _typed(span, wanted):
            lays = _laid_over((lay,), found)
            if lays is not None and lays[0] != lay:
                yield line_on(lays[0]), cost, used
    if not (isinstance(command, c.PumpPressure) or (isinstance(command, c.LineOn) and command.lay is not None)):
        yield from _fields(span, command, wanted)


_PARTS = (c.Shuttle, c.NeededFlow, c.Hydrant, c.Draft, c.TankTime)
"""Questions whose numbers are often told apart: "… two miles out, 4 minutes to fill, how many tenders for 250"."""


def together(one: c.Command, two: c.Command) -> c.Command | None:
    """Two parts of one question, told one after the other; None where both say the same field otherwise.

    What is undone and put right is put right: "undo that and make it the rear line".
    """
    if one == c.Undo() and isinstance(two, c.Correction):
        return two
    if type(one) is not type(two) or not isinstance(one, _PARTS):
        return None
    values = {}
    for field, default in zip(one.__struct_fields__, one.__struct_defaults__, strict=True):
        first, second = getattr(one, field), getattr(two, field)
        if default not in (first, second) and first != second:
            return None
        values[field] = first if second == default else second
    return replace(one, **values)


# ----------------------------------------------------------------------------------------------------------------- lays


def _typed(span: Span, wanted: str | None) -> Iterator[tuple[float, list[Slot], int]]:
    """Typings made of slots only; a bare number that was asked for goes where it was asked."""
    asked = _ASKED.get(wanted or "")
    for cost, found in typings(span) if wanted != "nozzle" else ():
        kinds = [slot.kind for slot in found if slot.kind not in _QUIET]
        if kinds and all(kind in _AMEND for kind in kinds):
            extra = SURE if asked is None else -cost if kinds == [asked] else UNSURE
            yield max(cost + extra, SURE), found, sum({1 << slot.at for slot in found})
    if wanted == "nozzle":
        yield from _asked_nozzle(span)
    sizes = [i for i in span.kinds("num") if 0.5 <= (in_unit(span.items[i], "in", None) or 0.0) <= 6]
    if asked == "hose" and len(sizes) == 1:
        yield SURE, [Slot("hose", span.items[sizes[0]].number, sizes[0])], 1 << sizes[0]


_ASKED = {
    "length": "len", "length_ft": "len", "feed_length_ft": "len",
    "hose": "hose", "hose_in": "hose", "feed_hose_in": "hose",
    "flow": "flow", "flow_gpm": "flow", "floor": "floor",
}  # fmt: skip
"""The slot that fills what was asked for."""


def _asked_nozzle(span: Span) -> Iterator[tuple[float, list[Slot], int]]:
    """ "inch and a quarter", "fog 250": the nozzle was asked for, so a size is a tip and a number its flow."""
    found: list[Slot] = []
    for i in range(span.lo, span.hi):
        item = span.items[i]
        if item.kind == "num" and item.unit in (None, "in") and item.number <= 3.5:
            found.append(Slot("tip", item.number, i))
        elif item.kind == "num" and item.number >= 10 and (gpm := in_unit(item, "gpm", None)) is not None:
            found.append(Slot("flow", gpm, i))
        found += [Slot("kind", kind, i) for kind in ("fog", "smooth_bore") if kind in item.concepts]
    if found:
        yield SURE, found, sum({1 << i for i in (*(slot.at for slot in found), *span.where("tip", "nozzle"))})


def _laid_over(lays: tuple[c.SaidLay, ...], found: list[Slot]) -> tuple[c.SaidLay, ...] | None:
    """The lays with the slots put in, or None when it isn't plain which line is meant."""
    values: dict[str, Any] = {}
    for slot in found:
        if slot.kind in _AMEND and values.setdefault(slot.kind, slot.value) != slot.value:
            return None
    order = next((int(s.value) for s in found if s.kind == "nth" and isinstance(s.value, int | float)), None)
    target = _target(lays, values, order)
    out = list(lays)
    for i, k in target:
        line = out[i].lines[k]
        for kind, value in values.items():
            line = _AMEND[kind](line, value)
        out[i] = replace(out[i], lines=(*out[i].lines[:k], line, *out[i].lines[k + 1 :]))
    return tuple(out) if target else None


_OF_LEGS = frozenset(("len", "hose", "flow", "tip", "kind", "npsi", "floor", "rise", "place"))


def _target(lays: tuple[c.SaidLay, ...], values: dict[str, Any], order: int | None) -> list[tuple[int, int]]:
    """Which lines are meant: the counted one, the only one, all legs, the one of that size, the one on a floor."""
    lines = {(i, k): line for i, lay in enumerate(lays) for k, line in enumerate(lay.lines)}
    places = list(lines)
    if order is not None:
        return places[order - 1 : order] if order else []
    if len(places) == 1:
        return places
    if len(lays) == 1 and lays[0].split is not None:
        return places if values.keys() <= _OF_LEGS else []
    same: list[tuple[int, int]] = []
    if "hose" in values and len(values) > 1:
        same = [at for at, line in lines.items() if any(h.hose_in == values["hose"] for h in line.hose)]
        if len(same) == 1:
            del values["hose"]
    elif values.keys() <= {"floor"}:
        same = [at for at, line in lines.items() if line.floor is not None]
    return same if len(same) == 1 else []


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


def _fields(span: Span, command: c.Command, wanted: str | None) -> Iterator[Amended]:
    """Puts units, places, times and labelled or plainly typed numbers into the fields that the command has."""
    take = Take(span)
    names = command.__struct_fields__
    changes: dict[str, Any] = {}
    if "place" in names and (place := take.kind("place", "floor")) is not None:
        changes["place"] = place_of(place)
    if "ref" in names and (line := take.kind("line")) is not None:
        changes["ref"] = c.LineRef(name=str(line.value))
    known = {name: slots()[f"field_{name}"] for name in names if f"field_{name}" in slots()}
    changes |= fill(_open_to(span, known, command, wanted), take)
    if isinstance(command, c.SupplyPressure) and command.hose:
        run = {"length_ft": slots()["supply_length_ft"], "hose_in": slots()["supply_hose_in"]._replace(bare=None)}
        changes["hose"] = (replace(command.hose[0], **fill(run, take)), *command.hose[1:])
    if "rise_ft" in changes and span.has("down") and not span.has("up"):
        changes["rise_ft"] = -abs(changes["rise_ft"])
    if any(getattr(command, field) != value for field, value in changes.items()):
        bare = (
            all(span.items[i].unit is None for i in span.kinds("num") if take.taken(i)) and take.used.bit_count() == 1
        )
        cost = SURE if set(changes) - {"hose"} == {wanted} else LIKELY if bare else HARDLY
        take.terms(*word_list("amend_around"))
        yield replace(command, **changes), cost, take.used


def _open_to(span: Span, known: dict[str, Field], command: c.Command, wanted: str | None) -> dict[str, Field]:
    """What a bare number may be: what was asked for, else the only one told that it fits, where no field is named."""
    told = [f for f, slot in known.items() if slot.kind == "number" and getattr(command, f) is not None]
    bare = [span.items[i].number for i in span.kinds("num") if span.items[i].unit is None]
    fits = [f for f in told if all(known[f].limits[0] <= number <= known[f].limits[1] for number in bare)]
    named = any(span.has(*slot.named) for field, slot in known.items() if slot.named and [field] != fits)
    only = wanted if wanted in known else fits[0] if len(fits) == 1 and not named else None
    out: dict[str, Field] = {}
    for name, slot in known.items():
        slot = slot._replace(named_bare=slot.limits if slot.named else None)
        if slot.kind == "number" and (name == only or slot.bare):
            slot = slot._replace(bare=slot.bare or slot.limits, only_named=False)
        elif slot.kind == "number" and any(known[one].units == slot.units for one in told if one != name):
            slot = slot._replace(only_named=True)
        out[name] = slot
    return {name: out[name] for name in sorted(out, key=lambda name: name != only)}
