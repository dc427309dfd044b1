"""Types the items of a lay: all plausible typings of a stretch compete, cheapest first."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.costs import DOUBTFUL, UNLIKELY, UNSURE
from grammar.readers.base import Span
from grammar.readers.signs import word_list
from grammar.readers.slot_rules import Slot, ways


def typings(span: Span, most: int = 6) -> list[tuple[float, list[Slot]]]:
    """The cheapest typings of a stretch: (cost, slots in order). Items that can't be typed are left out."""
    beam: list[tuple[float, list[Slot]]] = [(0.0, [])]
    for _, options in _options(span):
        left = () if len(options) == 1 else (None,)
        grown = [
            (cost + (UNSURE if option is None else option.cost), slots if option is None else [*slots, option])
            for cost, slots in beam
            for option in (*options, *left)
        ]
        beam = sorted(grown, key=lambda way: way[0])[:most]
    return [way for way in beam if way[0] <= beam[0][0] + UNLIKELY]


def each_options(span: Span) -> list[tuple[int, tuple[Slot, ...]]]:
    """The typings of each item that has any, where several lines may be told of.

    "To" before a floor and "on" after a nozzle lead to nothing; "both" before a floor means the lines told before.
    """
    found = list(_options(span, word_list("typing_of_all")))
    out: list[tuple[int, tuple[Slot, ...]]] = []
    for n, (i, slots) in enumerate(found):
        slots = _of_all(span, found, n, out) or slots
        many = tuple(slot for slot in slots if slot.kind not in _OF_THE_MESSAGE)
        if slots:
            out.append((i, many or slots))
    return out


_OF_THE_MESSAGE = ("nth", "pump_psi", "intake")
_HUNG_ON = ("tip", "kind", "label")


def _of_all(
    span: Span, found: list[tuple[int, tuple[Slot, ...]]], n: int, before: list[tuple[int, tuple[Slot, ...]]]
) -> tuple[Slot, ...]:
    """What an item is beside several lines, if that is something else."""
    i, slots = found[n]
    kind, all_lines = slots[0].kind if slots else "", span.items[i].text in word_list("typing_of_all")
    leads = (kind == "into" or all_lines) and _leads_to_floor(found, n + 1)
    counted = all_lines and any(slot.kind == "count" for _, told in before[-3:] for slot in told)
    if all_lines and leads and not counted:
        return (Slot("sep", ";", i),)
    hung = kind == "onend" and bool(before) and before[-1][1][0].kind in _HUNG_ON and span.items[i].text != "off"
    # "two lines, both inch and three quarter"
    return (Slot("label", None, i),) if counted or leads or hung else ()


def _leads_to_floor(found: list[tuple[int, tuple[Slot, ...]]], n: int) -> bool:
    """Nothing but a floor or a place comes next."""
    while n < len(found) and found[n][1] and found[n][1][0].kind in ("into", "label"):
        n += 1
    return n < len(found) and bool(found[n][1]) and all(slot.kind in ("floor", "place") for slot in found[n][1])


def _options(span: Span, besides: frozenset[str] = frozenset()) -> Iterator[tuple[int, tuple[Slot, ...]]]:
    """The ways to type each item that has any, or stands in `besides`; what is said not to be so is no slot."""
    deniable = word_list("typing_deniable")
    for i in range(span.lo, span.hi):
        item, slots = span.items[i], ways(span, i)
        if "not" in item.polarity:
            slots = tuple(
                Slot("denied", slot.kind, i, slot.cost + DOUBTFUL) if slot.kind in deniable else slot for slot in slots
            )
        if slots or item.text in besides:
            yield i, slots
