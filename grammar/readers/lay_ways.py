"""Other ways to take said lays, where two are as likely: it is asked which."""

from __future__ import annotations

import re
from collections.abc import Mapping

import msgspec

from grammar.commands import SaidHose, SaidLay
from grammar.lexicon import by_language
from grammar.numbers import number_words


def floor_of_all(lays: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """ "Crosslay one and two third floor": the floor may be both lines'."""
    lines = [line for lay in lays for line in lay.lines]
    if len(lines) < 2:
        return ()
    floor = lines[-1].floor
    if floor is None or any(line.floor is not None or line.rise_ft is not None or line.place for line in lines[:-1]):
        return ()
    replace = msgspec.structs.replace
    return tuple(replace(lay, lines=tuple(replace(line, floor=floor) for line in lay.lines)) for lay in lays)


def one_line(lays: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """The named line with the hose that was said after its name."""
    named, hose = lays[0].lines[0], lays[1].lines[0]
    return (SaidLay(lines=(msgspec.structs.replace(hose, name=named.name),)),)


def one_each(lays: tuple[SaidLay, ...], counted: int) -> tuple[SaidLay, ...]:
    """The same lays, the first line that was counted taken once."""
    replace, out, done = msgspec.structs.replace, [], False
    for lay in lays:
        lines = []
        for line in lay.lines:
            if line.count == counted and not done:
                line, done = replace(line, count=1), True
            lines.append(line)
        out.append(replace(lay, lines=tuple(lines)))
    return tuple(out)


def all_off(feeds: list[tuple[SaidHose, ...]], lays: tuple[SaidLay, ...]) -> tuple[SaidLay, ...]:
    """ "150 feet of 1¾ and 100 feet of 1¾ off 200 feet of 3 inch": both lines may hang on the feed."""
    if len(feeds) != 1 or len(lays) < 2 or any(lay.split or lay.feed for lay in lays):
        return ()
    feed, lines = feeds[0], [line for lay in lays for line in lay.lines]
    legs = tuple(
        msgspec.structs.replace(line, hose=line.hose[1:] if line.hose[:1] == feed else line.hose) for line in lines
    )
    return (SaidLay(feed=feed, split="wye", lines=legs),)


def with_other(lays: tuple[SaidLay, ...], twice: object) -> tuple[SaidLay, ...]:
    """The last line with the tip or flow that was said of it as well."""
    if not isinstance(twice, dict) or not lays or not lays[-1].lines:
        return ()
    replace, line = msgspec.structs.replace, lays[-1].lines[-1]
    tip, flow = twice.get("tip", line.nozzle.tip_in), twice.get("flow", line.nozzle.flow_gpm)
    other = replace(line, nozzle=replace(line.nozzle, tip_in=tip, flow_gpm=flow))
    return (*lays[:-1], replace(lays[-1], lines=(*lays[-1].lines[:-1], other)))


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


def counted_hundreds(said: str, lays: tuple[SaidLay, ...], *, each: bool) -> tuple[SaidLay, ...]:
    """ "Two hundred-foot bundles", "two hundred foot lines each", "two fifty foot lines": two numbers, or one?

    A hyphen or "each" may part the number; "two fifty" is as often said of two as of 250. "Two hundred" is one number.
    """
    found = _hyphened().search(said)
    if found is None or len(lays) != 1 or len(lays[0].lines) != 1:
        return ()
    if not (each or found[3] == "-" or found[2].lower() != "hundred"):
        return ()
    (line,), count, feet = lays[0].lines, number_words().ones[found[1].lower()], _lengths()[found[2].lower()]
    whole = count * 100 + (0 if feet == 100 else feet)
    if count < 2 or line.count > 1 or [hose.length_ft for hose in line.hose] != [whole]:
        return ()
    replace = msgspec.structs.replace
    return (replace(lays[0], lines=(replace(line, count=count, hose=(replace(line.hose[0], length_ft=feet),)),)),)
