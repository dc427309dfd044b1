"""Puts groups together to lays: lines side by side, the sections of a path, a feed and its legs, hose into a gun."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine, SaidNozzle
from grammar.costs import DOUBTFUL, FAIR, UNSURE
from grammar.readers.grouping import Builder, Group

_LINES = ("len", "hose", "name", "family", "device", "unknown_name", "count", "floor")
"""What makes a group a line; others only say more of the one before."""
_FED_GUNS, _GUNS = ("monitor", "aerial"), ("monitor", "aerial", "deck_gun")
_FEEDS_IN = 2.5
"""Least hose that feeds a portable gun, inches (common practice)."""
_NO_HAND_LINE = 3.0
"""From this size on no hand line is worked off hose, inches (common practice): its nozzle is the gun's."""
_RUN = frozenset(("hose", "len", "count", "tip", "flow", "kind", "npsi"))
_OF_LINES = ("floor", "rise_ft", "place")
"""What an inlet at the street hasn't, so that it was said of the lines off the riser."""
_OF_LEGS = ("floor", "rise", "place", "tip", "flow", "npsi", "kind")
"""What was said beside a wye without hose is its legs'."""

Lays = tuple[SaidLay, ...]


def said_line(values: Mapping[str, Any], sections: tuple[SaidHose, ...] = (), before: int = 0) -> SaidLine:
    """The line that slots make."""
    tip = values.get("tip")
    kind: Any = values.get("kind") or ("smooth_bore" if tip is not None else None)
    return SaidLine(
        name=values.get("name"),
        count=int(values.get("count") or 1),
        hose=sections,
        nozzle=SaidNozzle(kind=kind, tip_in=tip, flow_gpm=values.get("flow"), nozzle_psi=values.get("npsi")),
        device=values.get("device"),
        floor=values.get("floor"),
        rise_ft=values.get("rise"),
        place=values.get("place"),
        foam_percent=values.get("foam"),
        before_eductor=before,
    )


def section(group: Group, parallel: int = 1) -> tuple[SaidHose, ...]:
    """The hose of a group; none where it has none."""
    return (SaidHose(group.num("hose"), group.num("len"), parallel),) if group.has("hose", "len") else ()


def chain(built: Builder, groups: list[Group]) -> tuple[Lays, float]:
    """Lines side by side, each maybe of several sections; and what speaks against them."""
    told = [(any(group.has("inlet") for group in path), _path(built, path)) for path in _fed_gun(_paths(groups))]
    inlets = [line for inlet, line in told if inlet and line.hose]
    lines = [line for inlet, line in told if not (inlet and line.hose)]
    cost = 0.0 if groups[0].has(*_LINES) else DOUBTFUL
    if inlets and lines:
        return (_off_riser(inlets, lines),), cost
    lines = inlets or lines
    standpipe = _fed_standpipe(lines) or _behind_connection(lines)
    return ((standpipe,) if standpipe is not None else tuple(SaidLay(lines=(line,)) for line in lines)), cost


def _paths(groups: list[Group]) -> list[list[Group]]:
    """The sections of each line, pump to nozzle."""
    paths: list[list[Group]] = []
    for group in groups:
        if not paths:
            paths.append([group])
        elif not group.has(*_LINES):
            _say_more(paths[-1][-1].values, group)
        elif group.link in ("into", "feeds"):
            paths[-1].append(group)
        elif group.link == "onend":
            paths[-1].insert(0, group)
        else:
            paths.append([group])
    return paths


def _say_more(kept: dict[str, object], group: Group) -> None:
    """More of the same line; what it has already otherwise is kept as the other way ("twice")."""
    again = {k: v for k, v in group.values.items() if k in ("tip", "flow") and kept.get(k, v) != v}
    kept.update({k: v for k, v in group.values.items() if k not in kept})
    kept.update({"twice": again} if again else {})


def _fed_gun(paths: list[list[Group]]) -> list[list[Group]]:
    """ "Ladder pipe, 70 feet up, and I have 200 of 3 inch to the truck": the one bare run of hose feeds the one gun."""
    guns = [p for p in paths if len(p) == 1 and p[0].values.get("device") in _FED_GUNS and not p[0].has("hose", "len")]
    runs = [path for path in paths if path not in guns]
    return [[*runs[0], *guns[0]]] if len(guns) == len(runs) == 1 and _feeds_gun(runs[0]) else paths


def _feeds_gun(run: list[Group]) -> bool:
    """Nothing but hose, and large enough; with a nozzle of its own, so large that no hand line is worked off it."""
    nozzle = any(group.has("tip", "flow", "kind", "npsi") for group in run)
    least = _NO_HAND_LINE if nozzle else _FEEDS_IN
    return all(g.values.keys() <= _RUN and (g.num("hose") or 0) >= least for g in run)


def _path(built: Builder, path: list[Group]) -> SaidLine:
    """One line of one or more sections, pump to nozzle."""
    last = path[-1]
    gun = next((group for group in path if group.values.get("device") in _GUNS), None)
    sections: tuple[SaidHose, ...] = ()
    for group in path:
        joins = gun is not None or (len(path) > 1 and (group is not last or group in built.siamese))
        sections += section(group, group.count if joins else 1)
    if gun is None and len(path) == 1:
        return said_line(last.values, sections)
    values: dict[str, Any] = {}
    for group in (*path, *((gun,) if gun is not None else ())):
        values |= group.without("count", "hose", "len")
    if gun is not None:
        return said_line(values, sections)
    before = sum(group.has("before_eductor") for group in path[:-1])
    return said_line(values | {"count": last.count}, sections, before)


def _off_riser(inlets: list[SaidLine], lines: list[SaidLine]) -> SaidLay:
    """Lines off a standpipe, and the hose from the pump to its inlets; a floor said of an inlet is its lines'."""
    replace = msgspec.structs.replace
    feed = tuple(replace(hose, parallel=max(hose.parallel, line.count)) for line in inlets for hose in line.hose)
    said = {name: value for name in _OF_LINES for inlet in inlets if (value := getattr(inlet, name)) is not None}
    off = []
    for line in lines:
        lacking = {name: value for name, value in said.items() if getattr(line, name) is None}
        off.append(replace(line, device=line.device if line.name or line.device else "standpipe", **lacking))
    return SaidLay(feed=feed, lines=tuple(off))


def _fed_standpipe(lines: list[SaidLine]) -> SaidLay | None:
    """ "… to the FDC" beside a line off the standpipe: the hose that feeds the riser."""
    alone = [line for line in lines if line.hose and line.count == 1 and not line.name]
    if len(lines) != 2 or {line.device for line in alone} != {"standpipe", "sprinkler"}:
        return None
    into, off = sorted(lines, key=lambda line: line.device == "standpipe")
    return SaidLay(feed=into.hose, lines=(off,))


def _behind_connection(lines: list[SaidLine]) -> SaidLay | None:
    """Hose to the connection and then hose with a tip or on a floor: no sprinkler has either, so it is a standpipe."""
    if len(lines) != 1 or lines[0].device != "sprinkler" or len(lines[0].hose) < 2:
        return None
    (line,) = lines
    if line.nozzle.tip_in is None and line.floor is None:
        return None
    return SaidLay(feed=line.hose[:-1], lines=(msgspec.structs.replace(line, device="standpipe", hose=line.hose[-1:]),))


def feed_and_legs(built: Builder) -> tuple[Lays, float]:
    """A wye's feed and its legs, and lines of their own beside it; and what speaks against them."""
    live = [group for group in built.groups if group.has("len", "hose", "name", "count")]
    loose = {k: v for group in built.groups if group not in live for k, v in group.values.items() if k in _OF_LEGS}
    feed = _feed_of(built, live)
    fed = _leading(live, feed) if feed is not None else []
    legs = [group for group in live if group not in fed]
    beside = [group for group in legs if group.has("name") and not group.has("len")]  # "… plus the rear line"
    if len(beside) == len(legs) or feed is None or feed.has("name"):
        beside = []
    legs = [group for group in legs if group not in beside]
    if feed is not None:
        loose = {k: feed.values[k] for k in _OF_LEGS if feed.has(k)} | loose
    sections = tuple(hose for group in fed for hose in section(group, group.count))
    lay = SaidLay(feed=sections, split=built.split, lines=tuple(_legs(legs, loose)))  # type: ignore[arg-type]
    lone = len(legs) == 1 and legs[0].num("count") is None
    cost = (FAIR if "off_it" in built.said else UNSURE) if lone else 0.0
    return (lay, *(SaidLay(lines=(said_line(group.values),)) for group in beside)), cost


def _leading(live: list[Group], feed: Group) -> list[Group]:
    """The sections of the feed, pump to wye."""
    before = live[: live.index(feed)] if feed.link == "into" else []
    return [*(g for g in before if g.link is None and g.noun != "leg" and g.has("hose", "len")), feed]


def _feed_of(built: Builder, live: list[Group]) -> Group | None:
    """The group that feeds the wye: said to, "off" which the legs are, right before it, else the first of several."""
    said = built.groups[built.feed_at] if built.feed_at is not None and built.feed_at < len(built.groups) else None
    if said is not None and said in live:
        return said
    onend = [group for group in live if group.link == "onend"]
    before = [group for group in built.groups[: built.split_at] if group in live]
    for group, fits in ((onend[-1:], True), (before[-1:], True), (live[:1], len(live) > 1)):
        if group and fits and (group == onend[-1:] or group[0].noun != "leg"):
            return group[0]
    return None


def _legs(legs: Iterable[Group], loose: Mapping[str, object]) -> list[SaidLine]:
    """The legs, with what was said of all of them, and the one size where only one was said."""
    legs = list(legs)
    sizes = [group.values["hose"] for group in legs if group.has("hose")]
    for group in legs:
        group.values = {**loose, **group.values}
        if sizes and not group.has("hose", "name"):
            group.values["hose"] = sizes[0]
    return [said_line(group.values, section(group)) for group in legs]
