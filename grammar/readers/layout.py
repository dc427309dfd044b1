"""Reads a stretch as lays: its typed items cut into groups, the groups put together, and what is doubtful in them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine
from grammar.costs import ABSURD, FAIR, UNSURE, WEAK
from grammar.lexicon import sentence
from grammar.readers.base import Span
from grammar.readers.grouping import Builder, Group
from grammar.readers.lay_checks import Missing, hoses, impossible, missing, odd, only_as_total, with_total
from grammar.readers.lay_paths import chain, feed_and_legs, section
from grammar.readers.lay_ways import all_off, counted_hundreds, floor_of_all, one_each, one_line, spread, with_other
from grammar.readers.several_lines import Parted, several_lines
from grammar.readers.signs import met
from grammar.readers.slots import each_options, typings
from grammar.saying import Sayer

replace = msgspec.structs.replace


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


def read_lays(span: Span) -> list[LayReading]:
    """The ways to read a stretch as lays, any number of them; worked out once a stretch."""
    if span.lays is None:
        span.lays = [_with_legs(span, lay) for lay in _lays(span)] if met("may_be_a_lay", span) else []
    return span.lays


def _with_legs(span: Span, lay: LayReading) -> LayReading:
    """ "300 feet of 3 inch with four 100 foot 1.75 legs": hose that ends in legs feeds them."""
    if not span.has("legs") or len(lay.lays) != 2 or any(one.feed or one.split for one in lay.lays):
        return lay
    main, legs = lay.lays[0].lines, lay.lays[1].lines
    if len(main) != 1 or not main[0].hose or main[0] != SaidLine(hose=main[0].hose) or sum(x.count for x in legs) < 2:
        return lay
    lays = (SaidLay(main[0].hose, "wye", legs),)
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
_FEW, _WAYS = 2, 6


def _lays(span: Span) -> Iterator[LayReading]:
    several = several_lines(span, each_options(span))
    most = _FEW if span.hi - span.lo > _LONG else _WAYS
    built = (
        [(way.cost + way.extra, _parted(way)) for way in several]
        if several
        else [(cost, Builder().read(slots)) for cost, slots in typings(span, most)]
    )
    found = (_assembled(span, one, cost) for cost, one in built)
    return (reading for reading in found if reading is not None)


def _parted(way: Parted) -> Builder:
    """The lines of a message that was parted already, as the builder would have left them."""
    built = Builder()
    built.groups, built.used = [], way.used
    for slots in way.lines:
        group = Group("and" if built.groups else None)
        for slot in slots:
            if slot.kind == "each":
                built.said.add("each")
            elif slot.kind not in ("label", "sep", "and"):
                group.noted(slot)
        if built.groups or group.has("flow", "tip", "floor"):
            group.count_at = -1  # "two lines, … and …": only a count before all may be that of all
        built.groups.append(group)
    built.said |= {"maybe_one"} if way.maybe_one else set()
    built.said |= {"floors_told"} if way.marked or len(way.lines) > 2 else set()
    return built


_LISTED = 3
"""From so many lines on a count before them is that of the list."""
_LONG_FT, _LARGE_IN = 1500, 4
"""Nobody lays more hand line than that; supply hose he may."""


def _assembled(span: Span, built: Builder, cost: float) -> LayReading | None:
    """The groups put together, with what is doubtful in them; None where they are no lay."""
    groups = [group for group in built.groups if group.values or group.noun]
    if not any(group.has("len", "hose", "name", "family", "device", "unknown_name") for group in groups):
        return None
    groups, counted = spread(groups)
    lays, more = feed_and_legs(built) if built.split is not None else chain(built, groups)
    lays = with_total(lays) if "total" in built.said else lays
    uncounted = [group for group in groups if group.plural and not group.has("count", "name", "family")]
    total = cost + built.cost + more + _strange(lays, groups, uncounted)
    if counted and counted == len(lays) >= _LISTED:
        lays, counted = one_each(lays, counted), 0  # "three lines, … , … and …": those three
    families = [group for group in groups if group.many and not group.has("every", "name")]
    unsure = families[0].many if families and not met("all_of_family", span) else ()
    alike = _alike(span, lays, unsure)
    lays = lays if unsure else _members(lays, groups)
    floored = () if "floors_told" in built.said else floor_of_all(lays)
    if floored and "floor_apart" in built.said:  # "crosslay one and the rear line, third floor"
        lays, floored = floored, ()
    return _judged(span, built, LayReading(lays, total, built.used, family=unsure, alike=alike))._replace(
        twice=with_other(lays, groups),
        or_else=_or_else(span, built, groups, lays, counted, floored),
        one_ft=next((group.num("len") for group in uncounted if group.short), None),
    )


def _judged(span: Span, built: Builder, lay: LayReading) -> LayReading:
    """With what the lays lack, what can't be, and what must be asked of them."""
    lines = [line for one in lay.lays for line in one.lines]
    risen = any(line.rise_ft is not None for line in lines)
    two_feeds = sentence("two_feeds") if "two_feeds" in built.said else None
    return lay._replace(
        missing=missing(lay.lays),
        total_or_each=built.said.isdisjoint(("each", "total")) and only_as_total(lay.lays),
        pump_psi=built.pump_psi,
        intake_psi=built.intake_psi,
        unknown_name="unknown_name" in built.said,
        odd_size=odd(span, lay.lays),
        wrong=two_feeds or impossible(lay.lays, Sayer(span.context.wording)),
        floor_asked="upstairs" in built.said and not risen and all(line.floor is None for line in lines),
        rise_asked="climb" in built.said and not risen,
        bare_at="at" in built.said,
    )


def _or_else(
    span: Span,
    built: Builder,
    groups: list[Group],
    lays: tuple[SaidLay, ...],
    counted: int,
    floored: tuple[SaidLay, ...],
) -> tuple[SaidLay, ...]:
    """The other way to take the same words, where it is as likely."""
    if "maybe_one" in built.said:
        return one_line(lays)
    if counted:
        return one_each(lays, counted)
    feeds = [section(group) for group in groups if group.link == "onend"]
    return floored or all_off(feeds, lays) or counted_hundreds(span.said, lays, each="each" in built.said)


def _strange(lays: tuple[SaidLay, ...], groups: list[Group], uncounted: list[Group]) -> float:
    """What speaks against lays as they are: far too long, lines that weren't counted, a name of several."""
    long = sum(
        (h.length_ft or 0) > _LONG_FT and (h.hose_in or 0) < _LARGE_IN for x in lays for h in hoses(x, feed=False)
    )
    # "two hundred foot lines" is one number; "two fifty foot lines" is as often two of 50
    short = sum(UNSURE if group.short and (group.num("len") or 0) % 100 else FAIR for group in uncounted)
    return WEAK * long + short + ABSURD * sum(group.has("name") and group.count > 1 for group in groups)


def _members(lays: tuple[SaidLay, ...], groups: list[Group]) -> tuple[SaidLay, ...]:
    """ "Both crosslays" is every line of that name, with all that was said of them."""
    families = [group for group in groups if group.many and not group.has("name")]
    out: list[SaidLay] = []
    for lay in lays:
        first = lay.lines[0] if lay.lines else None
        if families and first is not None and first.name is None and not first.hose and not lay.feed:
            out.extend(SaidLay(lines=(replace(first, name=key, count=1),)) for key in families.pop(0).many)
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

    def with_hose(lay: SaidLay) -> SaidLay:
        line = lay.lines[0] if len(lay.lines) == 1 and not lay.feed else None
        if line is None or line.name or line.device or line.hose not in ((), (SaidHose(None, feet),)):
            return lay
        return replace(lay, lines=(replace(line, hose=(SaidHose(size, feet),)),))

    return tuple(map(with_hose, lays))
