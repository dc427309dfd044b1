"""Puts typed items together to lays: lines, sections of a path, wyes and their legs, parallel feeds to a monitor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine, SaidNozzle
from grammar.readers.base import Span
from grammar.readers.grouping import Builder, Group
from grammar.readers.lay_checks import Missing, both_each, impossible, missing, odd, with_total
from grammar.readers.lay_ways import all_off, counted_hundreds, floor_of_all, one_each, one_line, with_other
from grammar.readers.several_lines import Parted, several_lines
from grammar.readers.slots import each_options, typings
from grammar.readers.spreading import spread
from grammar.saying import Sayer


class LayReading(NamedTuple):
    """A way to read a stretch as lays."""

    lays: tuple[SaidLay, ...]
    cost: float
    used: int
    missing: Missing | None = None
    total_or_each: bool = False
    """A flow that is only plausible as the total."""
    pump_psi: float | None = None
    intake_psi: float | None = None
    unknown_name: bool = False
    family: tuple[str, ...] = ()
    """Line names of which one is meant, unsaid which."""
    alike: tuple[SaidLay, ...] = ()
    """The lays with such a line by its hose, where all lines of that name are alike."""
    odd_size: float | None = None
    wrong: str | None = None
    """A value that can't be (zero or negative)."""
    floor_asked: bool = False
    rise_asked: bool = False
    """Uphill or downhill, unsaid how far."""
    bare_at: bool = False
    """ "crosslay one at 200": gpm or psi?"""
    twice: tuple[SaidLay, ...] = ()
    """The lays with the other tip or flow, where two were said of one line."""
    or_else: tuple[SaidLay, ...] = ()
    """The other way to take a count before several lines: "two lines, … and …" may be two in all."""
    one_ft: float | None = None
    """Length of lines that weren't counted: "two hundred foot lines" is one number, of one line."""


_HINTS = frozenset(
    [
        "line",
        "legs",
        "crosslay",
        "deck_gun",
        "monitor",
        "aerial",
        "standpipe",
        "sprinkler",
        "high_rise_pack",
        "eductor",
        "booster",
        "ldh",
        "big_line",
        "wye",
        "manifold",
    ]
)


_HOSE_UNITS = frozenset(("ft", "m", "in", "mm", "gpm", "lpm"))


def plausible(span: Span) -> bool:
    """There is something in the stretch that a lay could be made of."""
    if not span.concepts.isdisjoint(_HINTS) or not span.concepts.isdisjoint(("is:line", "is:family")):
        return True
    return any(
        item.kind == "num"
        and (item.unit in _HOSE_UNITS or "hose_said" in item.concepts or (item.unit is None and item.number >= 50))
        for item in span.items[span.lo : span.hi]
    )


def read_lays(span: Span) -> list[LayReading]:
    """The ways to read a stretch as lays, any number of them; worked out once a stretch."""
    if span.lays is None:
        span.lays = [_with_legs(span, lay) for lay in _lays(span)] if plausible(span) else []
    return span.lays


def _with_legs(span: Span, lay: LayReading) -> LayReading:
    """ "300 feet of 3 inch with four 100 foot 1.75 legs": hose that ends in legs feeds them."""
    if not span.has("legs") or len(lay.lays) != 2 or any(one.feed or one.split for one in lay.lays):
        return lay
    (main,), legs = lay.lays[0].lines[:1], lay.lays[1].lines
    bare = main.hose and main == SaidLine(hose=main.hose)
    if len(lay.lays[0].lines) != 1 or not bare or sum(leg.count for leg in legs) < 2:
        return lay
    lays = (SaidLay(main.hose, "wye", legs),)
    return lay._replace(lays=lays, alike=(), missing=missing(lays))


def whichever(lay: LayReading) -> LayReading:
    """For what is only asked: where every line of that name is alike, it doesn't matter which is meant."""
    return lay._replace(lays=lay.alike, family=(), missing=missing(lay.alike)) if lay.family and lay.alike else lay


def lays_without(span: Span, *positions: int) -> list[LayReading]:
    """The ways to read a stretch as lays when the items at these positions say something else."""
    items = list(span.items)
    for i in positions:
        blank = items[i].again()
        blank.kind, blank.free, blank.concepts = "word", True, frozenset()
        items[i] = blank
    return read_lays(Span(items, span.lo, span.hi, span.context, span.said))


_LONG = 36
"""Items of a stretch from which on only the likeliest typings are tried: nobody tells one lay in so many."""


def _lays(span: Span) -> Iterator[LayReading]:
    several = several_lines(span, each_options(span))
    for way in several:
        reading = _assemble(span, _parted(way), way.cost + way.extra)
        if reading is not None:
            yield reading
    if several:
        return
    long = span.hi - span.lo > _LONG
    for cost, slots in typings(span, 2 if long else 6):
        builder = Builder()
        for n, slot in enumerate(slots):
            builder.ahead = slots[n + 1 :]
            builder.take(slot)
        builder.finish()
        reading = _assemble(span, builder, cost)
        if reading is not None:
            yield reading


def _parted(way: Parted) -> Builder:
    """The lines of a message that was parted already, as the builder would have left them."""
    built = Builder()
    built.groups = []
    built.used = way.used
    for slots in way.lines:
        group = Group("and" if built.groups else None)
        for slot in slots:
            match slot.kind:
                case "line":
                    group.line_at = slot.at if group.line_at < 0 else group.line_at
                    group.plural = group.plural or slot.form.endswith("s")
                case "each":
                    built.each = True
                case "label" | "sep" | "and":
                    pass
                case kind:
                    group.values[kind] = slot.value
                    group.count_at = slot.at if kind == "count" else group.count_at
                    group.short = slot.form == "hundreds" if kind == "len" else group.short
        if built.groups or group.has("flow", "tip", "floor"):
            group.count_at = -1  # "two lines, … and …": only a count before all may be that of all
        built.groups.append(group)
    built.extra["maybe_one"] = way.maybe_one
    built.extra["floors_told"] = way.marked or len(way.lines) > 2
    return built


def _assemble(span: Span, built: Builder, cost: float) -> LayReading | None:
    groups = [g for g in built.groups if g.values or g.noun]
    if not any(g.has("len", "hose", "name", "family", "device", "unknown_name") for g in groups):
        return None
    cost += built.cost
    groups, counted = spread(groups)
    if built.split is not None:
        lays, more = _wye(built, groups)
    else:
        lays, more = _chain(built, groups)
    cost += more
    if built.total:
        lays = with_total(lays)
    both = both_each(built, lays)
    cost += sum(
        0.15
        for lay in lays
        for line in lay.lines
        for h in line.hose
        if (h.length_ft or 0) > 1500 and (h.hose_in or 0) < 4
    )
    uncounted = [g for g in groups if g.plural and not g.has("count", "name", "family")]
    # "two hundred foot lines" is one number; "two fifty foot lines" is as often two of 50
    cost += sum(0.3 if g.short and (g.num("len") or 0) % 100 else 0.1 for g in uncounted)
    cost += sum(1.0 for g in groups if g.has("name") and (g.num("count") or 1) > 1)
    if counted and counted == len(lays) >= _LISTED:
        lays, counted = one_each(lays, counted), 0  # "three lines, … , … and …": those three
    pump_psi, intake = built.extra.get("pump_psi"), built.extra.get("intake")
    families = [g for g in groups if g.many and not g.has("every") and not g.has("name")]
    unsure = families[0].many if families and not _all_of(span, families[0]) else ()
    alike = _alike(span, lays, unsure)
    lays = _families(lays, groups, unsure)
    floored = () if built.extra.get("floors_told") else floor_of_all(lays)
    if floored and built.extra.get("floor_apart"):  # "crosslay one and the rear line, third floor"
        lays, floored = floored, ()
    return LayReading(
        lays,
        cost,
        built.used,
        missing=missing(lays),
        total_or_each=both,
        pump_psi=float(pump_psi) if isinstance(pump_psi, int | float) else None,
        intake_psi=float(intake) if isinstance(intake, int | float) else None,
        unknown_name=bool(built.extra.get("unknown_name")),
        family=unsure,
        alike=alike,
        odd_size=odd(span, lays),
        wrong=_TWO_FEEDS if built.extra.get("feeds") else impossible(lays, Sayer(span.context.wording)),
        floor_asked=bool(built.extra.get("floor_asked")) and not _height_said(lays),
        rise_asked=bool(built.extra.get("rise_asked"))
        and all(line.rise_ft is None for lay in lays for line in lay.lines),
        bare_at=bool(built.extra.get("at")),
        twice=with_other(lays, built.extra.get("twice")),
        or_else=one_line(lays)
        if built.extra.get("maybe_one")
        else one_each(lays, counted)
        if counted
        else floored
        or all_off([_section(g) for g in groups if g.link == "onend"], lays)
        or counted_hundreds(span.said, lays, each=built.each),
        one_ft=next((g.num("len") for g in uncounted if g.short), None),
    )


_LISTED = 3
"""From so many lines on a count before them is that of the list."""
_TWO_FEEDS = "Two feeds: say each line with its own feed, or that the feeds are siamesed"


def _height_said(lays: tuple[SaidLay, ...]) -> bool:
    return any(line.floor is not None or line.rise_ft is not None for lay in lays for line in lay.lines)


def _all_of(span: Span, group: Group) -> bool:
    """ "both crosslays", "the crosslays", "all crosslays"."""
    return any(span.items[i].kind == "family" and (span.items[i].text.endswith("s")) for i in span.kinds("family"))


def _line(group: Group, sections: tuple[SaidHose, ...] = (), before: int = 0) -> SaidLine:
    values = group.values
    tip = group.num("tip")
    kind = values.get("kind")
    nozzle = SaidNozzle(
        kind="smooth_bore" if tip is not None and kind is None else kind,  # type: ignore[arg-type]
        tip_in=tip,
        flow_gpm=group.num("flow"),
        nozzle_psi=group.num("npsi"),
    )
    floor, rise, place, name, device = (values.get(k) for k in ("floor", "rise", "place", "name", "device"))
    return SaidLine(
        name=str(name) if name else None,
        count=int(group.num("count") or 1),
        hose=sections,
        nozzle=nozzle,
        device=device,  # type: ignore[arg-type]
        floor=int(floor) if isinstance(floor, int | float) else None,
        rise_ft=float(rise) if isinstance(rise, int | float) else None,
        place=str(place) if place else None,
        foam_percent=group.num("foam"),
        before_eductor=before,
    )


def _section(group: Group, parallel: int = 1) -> tuple[SaidHose, ...]:
    if not group.has("hose", "len"):
        return ()
    return (SaidHose(group.num("hose"), group.num("len"), parallel),)


def _chain(built: Builder, groups: list[Group]) -> tuple[tuple[SaidLay, ...], float]:
    """Lines side by side, each maybe of several sections."""
    lines: list[SaidLine] = []
    paths: list[list[Group]] = []
    cost = 0.0
    for group in groups:
        if not group.has("len", "hose", "name", "family", "device", "unknown_name", "count", "floor"):
            if paths:
                kept = paths[-1][-1].values
                twice = {k: v for k, v in group.values.items() if k in ("tip", "flow") and kept.get(k, v) != v}
                if twice:
                    built.extra["twice"] = twice
                kept.update({k: v for k, v in group.values.items() if k not in kept})
            else:
                cost += 0.5
                paths.append([group])
            continue
        if group.link in ("into", "feeds") and paths:
            paths[-1].append(group)
        elif group.link == "onend" and paths:
            paths[-1].insert(0, group)
        else:
            paths.append([group])
    paths = _fed_gun(paths)
    inlets: list[SaidLine] = []
    for path in paths:
        line = _path(built, groups, path)
        (inlets if line.hose and any(g.has("inlet") for g in path) else lines).append(line)
    if inlets and lines:
        return (_off_riser(inlets, lines),), cost
    lines = inlets or lines
    standpipe = _fed_standpipe(lines) or _line_behind_connection(lines)
    if standpipe is not None:
        return (standpipe,), cost
    return tuple(SaidLay(lines=(line,)) for line in lines), cost


_GUNS = ("monitor", "aerial")
_FEEDS_IN = 2.5
"""Least hose that feeds a portable gun, inches (common practice)."""
_NO_HAND_LINE = 3.0
"""From this size on no hand line is worked off hose, inches (common practice): its nozzle is the gun's."""
_RUN = frozenset(("hose", "len", "count", "tip", "flow", "kind", "npsi"))


def _fed_gun(paths: list[list[Group]]) -> list[list[Group]]:
    """ "Ladder pipe, 70 feet up, and I have 200 of 3 inch to the truck": the one bare run of hose feeds the one gun."""
    guns = [p for p in paths if len(p) == 1 and p[0].values.get("device") in _GUNS and not p[0].has("hose", "len")]
    runs = [p for p in paths if p not in guns]
    bare = len(runs) == 1 and all(g.values.keys() <= _RUN and g.has("hose", "len") for g in runs[0])
    least = _NO_HAND_LINE if bare and any(g.has("tip", "flow", "kind", "npsi") for g in runs[0]) else _FEEDS_IN
    if len(guns) != 1 or not bare or any((g.num("hose") or 0) < least for g in runs[0]):
        return paths
    return [[*runs[0], *guns[0]]]


def _off_riser(inlets: list[SaidLine], lines: list[SaidLine]) -> SaidLay:
    """Lines off a standpipe, and the hose from the pump to its inlets; a floor said of an inlet is its lines'."""
    replace = msgspec.structs.replace
    feed = tuple(replace(hose, parallel=max(hose.parallel, line.count)) for line in inlets for hose in line.hose)
    said = {name: value for name in _OF_LINES for inlet in inlets if (value := getattr(inlet, name)) is not None}
    off = []
    for line in lines:
        lacking = {name: value for name, value in said.items() if getattr(line, name) is None}
        device = line.device if line.name or line.device else "standpipe"
        off.append(replace(line, device=device, **lacking))
    return SaidLay(feed=feed, lines=tuple(off))


_OF_LINES = ("floor", "rise_ft", "place")
"""What an inlet at the street hasn't, so that it was said of the lines off the riser."""


def _fed_standpipe(lines: list[SaidLine]) -> SaidLay | None:
    """ "… to the FDC" beside a line off the standpipe: the hose that feeds the riser."""
    if len(lines) != 2 or [line.device for line in lines if line.hose and line.count == 1 and not line.name] not in (
        ["standpipe", "sprinkler"],
        ["sprinkler", "standpipe"],
    ):
        return None
    into, off = sorted(lines, key=lambda line: line.device == "standpipe")
    return SaidLay(feed=into.hose, lines=(off,))


def _line_behind_connection(lines: list[SaidLine]) -> SaidLay | None:
    """Hose to the connection and then hose with a tip or on a floor: no sprinkler has either, so it is a standpipe."""
    if len(lines) != 1 or lines[0].device != "sprinkler" or len(lines[0].hose) < 2:
        return None
    (line,) = lines
    if line.nozzle.tip_in is None and line.floor is None:
        return None
    off = msgspec.structs.replace(line, device="standpipe", hose=line.hose[-1:])
    return SaidLay(feed=line.hose[:-1], lines=(off,))


def _path(built: Builder, groups: list[Group], path: list[Group]) -> SaidLine:
    guns = [g for g in path if g.values.get("device") in ("monitor", "aerial", "deck_gun")]
    if guns:
        gun = guns[0]
        sections: tuple[SaidHose, ...] = ()
        for g in path:
            sections += _section(g, int(g.num("count") or 1))
        merged = Group(None)
        for g in (*path, gun):
            merged.values.update({k: v for k, v in g.values.items() if k not in ("count", "hose", "len")})
        return _line(merged, sections)
    last = path[-1]
    sections = ()
    for g in path:
        number = int(g.num("count") or 1)
        parallel = number if number > 1 and (g is not last or groups.index(g) in built.siamese) and len(path) > 1 else 1
        sections += _section(g, parallel)
    if len(path) > 1:
        merged = Group(None)
        for g in path:
            merged.values.update({k: v for k, v in g.values.items() if k not in ("count", "hose", "len")})
        merged.values.update({k: v for k, v in last.values.items() if k in ("count",)})
        before = sum(1 for g in path[:-1] if g.has("before_eductor"))
        return _line(merged, sections, before)
    return _line(last, sections)


def _wye(built: Builder, groups: list[Group]) -> tuple[tuple[SaidLay, ...], float]:
    """A feed and its legs."""
    live = [g for g in built.groups if g.has("len", "hose", "name", "count")]
    loose = {
        k: v
        for g in built.groups
        if g not in live
        for k, v in g.values.items()
        if k in ("floor", "rise", "place", "tip", "flow", "npsi", "kind")
    }
    feed: Group | None = None
    cost = 0.0
    if built.feed_at is not None and built.feed_at < len(built.groups) and built.groups[built.feed_at] in live:
        feed = built.groups[built.feed_at]
    else:
        before = [g for g in built.groups[: built.split_at] if g in live]
        onend = [g for g in live if g.link == "onend"]
        if onend:
            feed = onend[-1]
        elif before and before[-1].noun != "leg":
            feed = before[-1]
        elif live and live[0].noun != "leg" and (len(live) > 1):
            feed = live[0]
    legs = [g for g in live if g is not feed]
    beside = [g for g in legs if g.has("name") and not g.has("len")]  # "… plus the rear line": a line of its own
    beside = beside if len(beside) < len(legs) and feed is not None and not feed.has("name") else []
    legs = [g for g in legs if g not in beside]
    sections: tuple[SaidHose, ...] = ()
    if feed is not None:
        leading = (
            [g for g in live[: live.index(feed)] if g.link is None and g.noun != "leg" and g.has("hose", "len")]
            if feed.link == "into"
            else []
        )
        for g in (*leading, feed):
            sections += _section(g, int(g.num("count") or 1) if (g.num("count") or 1) > 1 else 1)
        legs = [g for g in legs if g not in leading]
        for key in ("floor", "rise", "place", "tip", "flow", "npsi", "kind"):
            if key in feed.values:
                loose.setdefault(key, feed.values[key])
    hoses = [g.values["hose"] for g in legs if g.has("hose")]
    lines = []
    for g in legs:
        shared = {k: v for k, v in loose.items() if k not in g.values}
        g.values.update(shared)
        if not g.has("hose") and hoses and not g.has("name"):
            g.values["hose"] = hoses[0]
        lines.append(_line(g, _section(g)))
    if len(legs) == 1 and legs[0].num("count") is None:
        cost += 0.1 if built.extra.get("off_it") else 0.25
    wye = SaidLay(feed=sections, split=built.split, lines=tuple(lines))  # type: ignore[arg-type]
    return (wye, *(SaidLay(lines=(_line(g),)) for g in beside)), cost


def _families(lays: tuple[SaidLay, ...], groups: list[Group], unsure: tuple[str, ...]) -> tuple[SaidLay, ...]:
    """ "both crosslays" is every line of that name, with all that was said of them."""
    families = [g for g in groups if g.many and not g.has("name")]
    if not families or unsure:
        return lays
    out: list[SaidLay] = []
    for lay in lays:
        first = lay.lines[0] if lay.lines else None
        if first is not None and first.name is None and not first.hose and not lay.feed and families:
            family = families.pop(0)
            out.extend(SaidLay(lines=(_named(first, key),)) for key in family.many)
        else:
            out.append(lay)
    return tuple(out)


def _alike(span: Span, lays: tuple[SaidLay, ...], family: tuple[str, ...]) -> tuple[SaidLay, ...]:
    """ "A crosslay": its hose, where the rig's lines of that name all have the same and its usual nozzle."""
    members = [line for line in span.context.rig_lines if line.key in family]
    runs = {(line.hose_in, line.length_ft) for line in members if line.usual}
    if len(runs) != 1 or not all(line.usual for line in members):
        return ()
    ((size, feet),) = runs
    out = []
    for lay in lays:
        line = lay.lines[0] if len(lay.lines) == 1 and not lay.feed else None
        if line is None or line.name or line.device or line.hose not in ((), (SaidHose(None, feet),)):
            out.append(lay)
        else:
            out.append(
                msgspec.structs.replace(lay, lines=(msgspec.structs.replace(line, hose=(SaidHose(size, feet),)),))
            )
    return tuple(out)


def _named(line: SaidLine, key: str) -> SaidLine:
    return msgspec.structs.replace(line, name=key, count=1)
