"""Types the items of a lay: which number is the length, the size, the flow, the tip … All plausible typings compete."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from grammar.items import Item
from grammar.readers.base import Span
from grammar.readers.slot_numbers import LABELS, Slot, number_slots
from grammar.readers.supply_lay import is_supply, ldh_in

_WORDS: dict[str, tuple[str, object]] = {
    "legs": ("leg", None),
    "line": ("line", None),
    "wye": ("split", "wye"),
    "manifold": ("split", "manifold"),
    "siamese": ("siamese", None),
    "feed": ("feed", None),
    "fog": ("kind", "fog"),
    "smooth_bore": ("kind", "smooth_bore"),
    "cellar": ("kind", "cellar"),
    "piercing": ("kind", "piercing"),
    "each": ("each", None),
    "total": ("total", None),
    "foam": ("foam", None),
    "deck_gun": ("device", "deck_gun"),
    "monitor": ("device", "monitor"),
    "aerial": ("device", "aerial"),
    "standpipe": ("device", "standpipe"),
    "sprinkler": ("device", "sprinkler"),
    "eductor": ("device", "eductor"),
    "high_rise_pack": ("device", "high_rise_pack"),
    "booster": ("hose", 1.0),
    "big_line": ("hose", 2.5),
    "single": ("count", 1),
    "pair": ("count", 2),
    "both": ("count", 2),
    "crosslay": ("unknown_name", None),
    "upstairs": ("upstairs", None),
    "downstairs": ("floor", -1),
}


_HIGH = frozenset(("attic", "roof"))
"""Places that are somewhere above the pump: how high must be asked."""
_SMALL_IN, _BIG_IN = 1.5, 2.0
"""A hand line smaller than 2 in and no booster is the "small line" (common practice)."""
_HUNG_ON = ("wye", "manifold", "monitor", "deck_gun", "aerial")
"""What "off it" and "into it" point to, where it was named."""
_CLIMBS = frozenset(("up", "down", "elevation"))


_FAR = 0.9
"""Typings this much dearer than the best are never the best lay."""


def typings(span: Span, lo: int, hi: int, most: int = 6) -> list[tuple[float, list[Slot]]]:
    """The cheapest typings of items lo..hi: (cost, slots in order). Items that can't be typed are left out."""
    beam: list[tuple[float, list[Slot]]] = [(0.0, [])]
    for i in range(lo, hi):
        options = list(_options(span, i, lo, hi))
        if not options:
            continue
        if len(options) == 1:
            only = options[0]
            beam = [(cost + only.cost, [*slots, only]) for cost, slots in beam]
            continue
        grown = [
            (cost + (0.3 if option is None else option.cost), slots if option is None else [*slots, option])
            for cost, slots in beam
            for option in (*options, None)
        ]
        grown.sort(key=lambda g: g[0])
        beam = grown[:most]
    return [way for way in beam if way[0] <= beam[0][0] + _FAR]


def each_options(span: Span, lo: int, hi: int) -> list[tuple[int, tuple[Slot, ...]]]:
    """The typings of each item of lo..hi that has any, where several lines may be told of.

    "To" before a floor and "on" after a nozzle lead to nothing; "both" before a floor means the lines told before.
    """
    found = [(i, tuple(_options(span, i, lo, hi))) for i in range(lo, hi)]
    found = [(i, slots) for i, slots in found if slots or span.items[i].text in _OF_ALL]
    out: list[tuple[int, tuple[Slot, ...]]] = []
    for n, (i, slots) in enumerate(found):
        kind = slots[0].kind if slots else ""
        leads = _leads_to_floor(found, n + 1)
        hung = bool(out) and out[-1][1][0].kind in ("tip", "kind", "label") and span.items[i].text in ("on", "off of")
        if (kind == "into" and leads) or (kind == "onend" and hung):
            slots = (Slot("label", None, i),)
        elif span.items[i].text in _OF_ALL and any(slot.kind == "count" for _, before in out[-3:] for slot in before):
            slots = (Slot("label", None, i),)  # "two lines, both inch and three quarter"
        elif span.items[i].text in _OF_ALL and leads:
            slots = (Slot("sep", ";", i),)
        many = tuple(slot for slot in slots if slot.kind not in ("nth", "pump_psi", "intake"))
        if slots:
            out.append((i, many or slots))
    return out


def _leads_to_floor(found: list[tuple[int, tuple[Slot, ...]]], n: int) -> bool:
    """Nothing but a floor or a place comes next."""
    while n < len(found) and found[n][1] and found[n][1][0].kind in ("into", "label"):
        n += 1
    return n < len(found) and bool(found[n][1]) and all(slot.kind in ("floor", "place") for slot in found[n][1])


_OF_ALL = frozenset(("all", "both", "both of them", "all of them", "everybody", "everyone"))


def _options(span: Span, i: int, lo: int, hi: int) -> Iterator[Slot]:
    item = span.items[i]
    denied = "not" in item.polarity and item.kind not in ("sep",)
    for slot in _raw(span, i, lo, hi):
        if denied and slot.kind in (
            "len",
            "hose",
            "flow",
            "npsi",
            "tip",
            "count",
            "floor",
            "rise",
            "name",
            "kind",
            "device",
        ):
            yield Slot("denied", slot.kind, i, slot.cost + 0.3)
        else:
            yield slot


def _raw(span: Span, i: int, lo: int, hi: int) -> Iterator[Slot]:
    item = span.items[i]
    match item.kind:
        case "sep":
            yield Slot("sep", item.value, i)
        case "line" if called_supply(span, i) or "caller" in item.concepts:
            yield Slot("label", item.text, i)
        case "line" if _pack_of_its_own(span, i):
            yield Slot("line", None, i)
        case "line":
            yield Slot("name", item.value, i)
        case "family" if _member_follows(span, i):
            yield Slot("label", item.text, i)
        case "family":
            yield Slot("family", item.value, i)
        case "floor":
            high = isinstance(item.value, int) and item.value > 40
            yield Slot("floor", item.value, i, 0.4 if high else 0.0)
        case "place" if item.value in _HIGH:
            yield Slot("high_place", item.value, i, 0.12)
        case "place":
            division = str(item.value).removeprefix("division ")
            if division.isdigit():
                yield Slot("floor", int(division), i, 0.05)
            else:
                yield Slot("place", item.value, i, 0.12)
        case "num":
            yield from number_slots(span, i, lo, hi)
        case "term" | "word":
            yield from _word(span, i, hi)


def _member_follows(span: Span, i: int) -> bool:
    """ "Cross lays one and two": those two, not all of the name."""
    after = span.items[i + 1] if i + 1 < span.hi else None
    bare = after is not None and after.kind == "num" and after.unit is None and 0 < after.number < 10
    keys = span.items[i].value
    return (
        bare
        and after is not None
        and isinstance(keys, tuple)
        and any(str(key).endswith(f"_{after.number:g}") for key in keys)
    )


def _pack_of_its_own(span: Span, i: int) -> bool:
    """ "Apartment pack, 150 of 2 inch": a pack whose hose is told, and no standpipe: that hose, not the rig's pack."""
    pack = any(line.key == span.items[i].value and line.device == "high_rise_pack" for line in span.context.rig_lines)
    told = {item.unit for item in span.items[span.lo : span.hi] if item.kind == "num" and _sized(item)}
    whole = "ft" in told or any(item.text == "of" for item in span.items[span.lo : span.hi])
    return pack and bool(told & {"in", None}) and whole and not span.has("standpipe", "fire_connection")


def called_supply(span: Span, i: int) -> bool:
    """The rig's supply line: its name says what the hose is for, the hose is said beside it."""
    key = str(span.items[i].value)
    line = next((line for line in span.context.rig_lines if line.key == key), None)
    supply = line is not None and line.device is None and line.hose_in is not None
    if line is None or not supply or line.hose_in is None or not is_supply(span.context, line.hose_in):
        return False
    return any(_sized(span.items[k]) for k in span.kinds("num")) or span.has("ldh")


def _sized(item: Item) -> bool:
    return item.unit in ("in", "mm") or "hose_said" in item.concepts or item.unit in ("ft", "m")


_TO_IT = ("to it", "up to it", "out to it", "into it", "feeding it")


def _of_two(span: Span, i: int, hi: int) -> bool:
    """ "Both 300 feet of 2½ and 50 feet of 1¾": those two, each once."""
    if span.items[i].text != "both":
        return False
    joined = next((k for k in range(i + 1, hi) if "and" in span.items[k].concepts), -1)
    feet = [k for k in range(i + 1, hi) if span.items[k].kind == "num" and span.items[k].unit in ("ft", "m")]
    lines = any("line" in span.items[k].concepts for k in range(i + 1, max(joined, i + 1)))
    return joined > 0 and not lines and any(k < joined for k in feet) and any(k > joined for k in feet)


def _word(span: Span, i: int, hi: int) -> Iterator[Slot]:
    item = span.items[i]
    if "not" in item.concepts:
        if any("not" in span.items[k].polarity and _of_lay(span.items[k]) for k in range(i + 1, min(i + 5, hi))):
            yield Slot("label", "not", i)
        return
    if item.text in _TO_IT and span.has("wye", "manifold"):
        yield Slot("feed", None, i)  # "off the wye, 300 of 3 inch to it"
        return
    if "off_it" in item.concepts:
        yield Slot("off_it" if span.has(*_HUNG_ON) else "onend", "off", i)
        return
    if "on_end" in item.concepts and _pack(span) and any("standpipe" in x.concepts for x in span.items[i + 1 : i + 3]):
        yield Slot("label", item.text, i)  # "pack off the standpipe"
        return
    if span.has("one_after_another") and "and" in item.concepts:
        yield Slot("into", "off of", i)  # "progressive lay: 800 of 1½ then 100 of 1"
        return
    if item.concepts & {"into", "on_end"} and item.text != "pipe":
        both = {"into", "on_end"} <= item.concepts
        onend = "on_end" in item.concepts and not both
        yield Slot("onend" if onend or (both and item.text in ("off of",)) else "into", item.text, i)
        return
    if item.text == "on" and i + 1 < hi and _hose_follows(span, i + 1, hi):
        yield Slot("onend", "on", i)
        return
    if item.concepts & {"both", "pair"} and (_of_what_runs(span, i, hi) or _of_two(span, i, hi)):
        yield Slot("label", item.text, i)
        return
    if item.text in ("the other", "other", "the other one"):
        yield Slot("other", None, i)
        return
    if "booster" in item.concepts and _sized_before(span, i):
        yield Slot("label", item.text, i)
        return
    if ("high_rise_pack" in item.concepts or _bare_pack(span, i)) and (own := _own_pack(span)):
        yield Slot("name", own, i, 0.01)
        return
    if "small_line" in item.concepts and not any(
        _sized(span.items[k]) and span.items[k].number < _BIG_IN for k in span.kinds("num")
    ):
        small = [size for size in span.context.own_hose_in if _SMALL_IN <= size < _BIG_IN]
        yield Slot("hose", small[0], i) if len(small) == 1 else Slot("line", None, i)
        return
    if "big_line" in item.concepts and any(
        span.items[k].number == 2.5 for k in span.kinds("num") if _sized(span.items[k])
    ):
        yield Slot("line", None, i)  # "one big line, three lengths of 2½"
        return
    if "standpipe" in item.concepts and _pack(span) and "not" not in item.polarity:
        yield Slot("label", item.text, i)
        return
    if "fire_connection" in item.concepts:
        yield from _connection(span, i, hi)
        return
    for concept, (kind, value) in _WORDS.items():
        if concept in item.concepts:
            if concept == "wye" and "off" in item.text.split():
                yield Slot(kind, value, i, 1e-6)  # what follows is what feeds it
                return
            if concept == "foam" and i + 1 < hi and "eductor" in span.items[i + 1].concepts:
                return
            yield Slot(kind, value, i, form=item.text)
            return
    if "ldh" in item.concepts:
        yield Slot("hose", ldh_in(span.context), i, 0.05)
        return
    if item.text == "both lines":
        yield Slot("count", 2, i)
        return
    if "and" in item.concepts:
        yield Slot("and", None, i)
        return
    if item.concepts & {"correction"} and item.text in (
        "make it",
        "make that",
        "no wait",
        "wait no",
        "rather",
        "sorry",
        "i mean",
        "correction",
        "change it to",
        "no make that",
    ):
        yield Slot("repair", None, i, 0.22)
        return
    if item.text == "below grade" and not (
        i > span.lo and span.items[i - 1].kind == "num" and not span.items[i - 1].unit
    ):
        yield Slot("upstairs", None, i)  # which level, is asked
        return
    if item.concepts & _CLIMBS and item.text not in ("up", "down", "rise", "drop of"):
        yield Slot("label" if _feet_beside(span, i) else "climb", item.text, i)
        return
    if item.concepts & LABELS and (item.free or _labels_something(span, i, hi)):
        yield Slot("label", item.text, i)


def _of_what_runs(span: Span, i: int, hi: int) -> bool:
    """ "Crosslay 1 and the rear line are both flowing": no count of what follows."""
    after = next((span.items[k] for k in range(i + 1, hi) if not span.items[k].free), None)
    told = any(span.items[k].kind in ("line", "family", "num") for k in range(span.lo, i))
    return told and after is not None and not after.concepts.isdisjoint(("flow_on", "charge", "charged_state"))


def _bare_pack(span: Span, i: int) -> bool:
    """ "Pack on the sixth off the standpipe": a pack of hose, where a standpipe or a floor is told of."""
    return span.items[i].text in ("pack", "packs") and (
        span.has("standpipe", "fire_connection") or bool(span.kinds("floor")) or _leads_on(span, i)
    )


def _leads_on(span: Span, i: int) -> bool:
    """ "Pack on nine": a number after "on"."""
    near = span.items[i + 1 : i + 4]
    return any(a.text in ("on", "flowing on") and b.kind == "num" for a, b in pairwise(near))


def _own_pack(span: Span) -> str | None:
    """The rig's one pack for standpipes: "the pack"."""
    packs = [line.key for line in span.context.rig_lines if line.device == "high_rise_pack"]
    return packs[0] if len(packs) == 1 else None


def _connection(span: Span, i: int, hi: int) -> Iterator[Slot]:
    """ "The siamese", "the FDC": of the standpipe where a line works off it, else of the sprinklers; or hose joined."""
    item = span.items[i]
    if any("fire_connection" not in span.items[k].concepts for k in span.where("sprinkler")):
        yield Slot("label", item.text, i)
    elif span.has("standpipe") or _off_standpipe(span, i):
        fed = _fed(span, i, hi)
        yield Slot("inlet" if fed else "label" if span.has("standpipe") or _pack(span) else "device", "standpipe", i)
    elif "sprinkler" in item.concepts:
        yield Slot("device", "sprinkler", i)
    elif "siamese" in item.concepts:
        yield Slot("siamese", None, i)


def _fed(span: Span, i: int, hi: int) -> bool:
    """ "100 feet of 3 inch to the FDC", "siamese is 150 feet of 2½ away": hose stands right beside it."""
    for near in (range(i - 1, max(i - 5, span.lo - 1), -1), range(i + 1, min(i + 4, hi))):
        for k in near:
            item = span.items[k]
            if item.kind == "sep" or "standpipe" in item.concepts or "tip" in item.concepts:
                break
            if (item.kind == "num" and _sized(item)) or "line" in item.concepts:
                return True
    return False


def _pack(span: Span) -> bool:
    """The rig's pack for standpipes is named."""
    return (
        span.has("high_rise_pack")
        or any(_bare_pack(span, k) for k in span.where("scba"))
        or any(
            line.device == "high_rise_pack" and span.items[k].value == line.key
            for k in span.kinds("line")
            for line in span.context.rig_lines
        )
    )


def _off_standpipe(span: Span, i: int) -> bool:
    """A pack, or hose on a floor: something works off the riser."""
    return _pack(span) or (bool(span.kinds("floor")) and any(_sized(span.items[k]) for k in span.kinds("num")))


def _sized_before(span: Span, i: int) -> bool:
    """ "3/4 booster", "inch and a half booster line"."""
    before = span.items[i - 1] if i > span.lo else None
    return before is not None and before.kind == "num" and (before.unit == "in" or before.number == 0.75)


def _feet_beside(span: Span, i: int) -> bool:
    """ "30 feet uphill", "two floors above"."""
    if span.items[i].text in ("hill", "elevated"):
        return False
    for step in (-1, 1):
        k = i + step
        while span.lo <= k < span.hi and span.items[k].free and span.items[k].kind != "sep":
            k += step
        if span.lo <= k < span.hi:
            item = span.items[k]
            level = item.concepts & {"floors_up", "floors_down", "elevation", "up", "down"} or item.kind == "floor"
            if "hill" in span.items[i].text:
                level = False  # a floor says nothing of the hill under it
            if level or (item.kind == "num" and (item.unit in ("ft", "m") or "floor" in span.items[i].text)):
                return True
    return False


def _of_lay(item: Item) -> bool:
    """A part of a lay that can be said not to be so: "fog, not smooth bore"."""
    return item.kind in ("num", "line", "family", "floor", "place") or not item.concepts.isdisjoint(_WORDS)


def _labels_something(span: Span, i: int, hi: int) -> bool:
    """A number, or a nozzle, stands beside: alone, "floor" or "down" explains nothing."""
    near = [k for k in (*range(i - 3, i), *range(i + 1, i + 4)) if span.lo <= k < hi]
    if any(
        span.items[k].kind in ("num", "line", "floor")
        or span.items[k].concepts & {"fog", "smooth_bore", "tip", "nozzle", "nozzle_psi"}
        for k in near
    ):
        level = span.items[i].concepts & {"floors_up", "floors_down", "down"}
        return not level or (i > span.lo and span.items[i - 1].kind == "num")
    return False


def _hose_follows(span: Span, i: int, hi: int) -> bool:
    """A length or a size, soon."""
    for k in range(i, min(i + 3, hi)):
        item = span.items[k]
        if item.kind == "num" and item.unit in ("ft", "in", "m", "mm"):
            return True
        if not item.free:
            return False
    return False
