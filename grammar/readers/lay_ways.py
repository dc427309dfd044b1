"""Counts given out to the lines that follow, and other ways to take said lays, where two are as likely."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import msgspec

from grammar.commands import SaidHose, SaidLay, SaidLine
from grammar.lexicon import by_language
from grammar.numbers import number_words
from grammar.readers.grouping import Group

replace = msgspec.structs.replace
Lays = tuple[SaidLay, ...]
_SHARED = ("hose", "len", "kind", "tip", "flow", "npsi", "foam")
"""What holds of every line unless another was said."""
_ALONE = ("name", "family", "device", "unknown_name")


def spread(groups: list[Group]) -> tuple[list[Group], int]:
    """The groups with a count given out to the lines that follow it; and the count when it is unsure whose it is.

    "Two lines, 150 and 200 feet", "… one on the second floor, one …".
    """
    for k, group in enumerate(groups):
        run = _run(groups[k + 1 :]) if group.count > 1 and not group.has(*_ALONE) else []
        given = _given(group, run, groups[:k], groups[k + 1 + len(run) :]) if run else None
        if given is not None:
            return given
    return groups, 0


def _given(group: Group, run: list[Group], before: list[Group], after: list[Group]) -> tuple[list[Group], int] | None:
    """The groups with this count given out to the run; None where it is none of theirs."""
    counts, sized = [other.num("count") for other in run], any(other.has("hose") for other in run)
    if any(counts):
        fits = all(counts) and sum(other.count for other in run) == group.count and not sized
        return ([*before, *_inheriting(group, run), *after], 0) if fits else None
    if sized:
        return [*before, group, *run, *after], group.count if group.counts_lines and len(run) + 1 == group.count else 0
    if len(run) == group.count and not group.has("len", "floor"):
        return [
            *before,
            *_inheriting(group, run),
            *after,
        ], 0  # "two lines, both inch and three quarter: 250 feet … and 200"
    if len(run) + 1 == group.count:
        group.values.pop("count")
        return [*before, group, *_inheriting(group, run), *after], 0
    return None


def _run(after: list[Group]) -> list[Group]:
    """The lines that follow, as far as they may be some of those that were counted."""
    run = []
    for group in after:
        if group.link not in (None, "and") or group.has(*_ALONE) or not group.has("len", "hose", "floor"):
            break
        run.append(group)
    return run


def _inheriting(group: Group, run: list[Group]) -> list[Group]:
    shared = {kind: value for kind, value in group.values.items() if kind in _SHARED}
    for other in run:
        other.values = {**shared, **other.values}
    return run


def _lines(lays: Lays) -> list[SaidLine]:
    return [line for lay in lays for line in lay.lines]


def floor_of_all(lays: Lays) -> Lays:
    """ "Crosslay one and two third floor": the floor may be both lines'."""
    *others, last = _lines(lays) or [SaidLine()]
    told = any(line.floor is not None or line.rise_ft is not None or line.place for line in others)
    if not others or last.floor is None or told:
        return ()
    return tuple(replace(lay, lines=tuple(replace(x, floor=last.floor) for x in lay.lines)) for lay in lays)


def one_line(lays: Lays) -> Lays:
    """The named line with the hose that was said after its name."""
    named, hose = lays[0].lines[0], lays[1].lines[0]
    return (SaidLay(lines=(replace(hose, name=named.name),)),)


def one_each(lays: Lays, counted: int) -> Lays:
    """The same lays, the first line that was counted taken once."""
    out, done = [], False
    for lay in lays:
        k = next((k for k, line in enumerate(lay.lines) if line.count == counted and not done), -1)
        if k >= 0:
            done = True
            lay = replace(lay, lines=(*lay.lines[:k], replace(lay.lines[k], count=1), *lay.lines[k + 1 :]))
        out.append(lay)
    return tuple(out)


def all_off(feeds: list[tuple[SaidHose, ...]], lays: Lays) -> Lays:
    """ "150 feet of 1¾ and 100 feet of 1¾ off 200 feet of 3 inch": both lines may hang on the feed."""
    if len(feeds) != 1 or len(lays) < 2 or any(lay.split or lay.feed for lay in lays):
        return ()
    legs = [replace(x, hose=x.hose[1:] if x.hose[:1] == feeds[0] else x.hose) for x in _lines(lays)]
    return (SaidLay(feed=feeds[0], split="wye", lines=tuple(legs)),)


def with_other(lays: Lays, groups: list[Group]) -> Lays:
    """The last line with the tip or flow that was said of it as well."""
    said: list[Any] = [group.values["twice"] for group in groups if group.has("twice")]
    if not said or not lays or not lays[-1].lines:
        return ()
    *lines, line = lays[-1].lines
    nozzle = line.nozzle
    other = replace(nozzle, tip_in=said[-1].get("tip", nozzle.tip_in), flow_gpm=said[-1].get("flow", nozzle.flow_gpm))
    return (*lays[:-1], replace(lays[-1], lines=(*lines, replace(line, nozzle=other))))


@by_language
def _lengths() -> Mapping[str, int]:
    said = number_words()
    return {word: scale for word, scale in said.scales.items() if scale == 100} | dict(said.tens)


@by_language
def _hyphened() -> re.Pattern[str]:
    return re.compile(
        rf"\b({'|'.join(number_words().ones)}) ({'|'.join(_lengths())})([- ])(?:foot|feet|ft|footer)s?\b"
        r".*\b(?:lines|bundles|packs|hoses|legs)\b",
        re.IGNORECASE,
    )


def counted_hundreds(said: str, lays: Lays, *, each: bool) -> Lays:
    """ "Two hundred-foot bundles", "two hundred foot lines each", "two fifty foot lines": two numbers, or one?

    A hyphen or "each" may part the number; "two fifty" is as often said of two as of 250. "Two hundred" is one number.
    """
    found, lines = _hyphened().search(said), _lines(lays)
    if found is None or len(lays) != 1 or len(lines) != 1:
        return ()
    if not (each or found[3] == "-" or found[2].lower() != "hundred"):
        return ()
    (line,), count, feet = lines, number_words().ones[found[1].lower()], _lengths()[found[2].lower()]
    whole = count * 100 + (0 if feet == 100 else feet)
    if count < 2 or line.count > 1 or [hose.length_ft for hose in line.hose] != [whole]:
        return ()
    return (replace(lays[0], lines=(replace(line, count=count, hose=(replace(line.hose[0], length_ft=feet),)),)),)
