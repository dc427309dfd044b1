"""Hose counted in lengths: "four lengths of 2½", "three sections", turned to feet once for all readers."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.commands import Context
from grammar.items import Item
from grammar.readers.base import in_unit
from grammar.readers.signs import word_list

PIECE_FT = 50.0
"""A length of fire hose, feet (NFPA 1961 names 50 ft and 100 ft; 50 is the usual one), where the rig has no other."""
_MOST = 40
_PIECES_FT = (15, 110)
"""A piece of hose said with its own length: "four 50-foot lengths", feet."""
_REACH, _SIZES_BEHIND = 3, 4


def same_hose(items: list[Item]) -> list[Item]:
    """ "Five inch …, and what do I lose in 300 feet of it": the size that was said last stands for "it"."""
    out: list[Item] = []
    for k, item in enumerate(items):
        points = item.text in word_list("lengths_it") and k > 1 and items[k - 1].text == "of"
        size = next((one for one in reversed(out) if _sized(one)), None)
        length = k > 1 and items[k - 2].kind == "num" and (items[k - 2].unit in ("ft", "m") or _even_feet(items[k - 2]))
        if points and size is not None and length:
            out.append(_number(item, item, size.number, "in"))
        else:
            out.append(item)
    return out


def _number(first: Item, last: Item, value: float, unit: str) -> Item:
    """One number in place of the items from the first to the last."""
    one = Item("num", first.start, last.end, value=value, unit=unit, form="int", cost=first.cost, text=first.text)
    one.polarity = first.polarity
    return one


def listed(items: list[Item]) -> list[Item]:
    """ "150 and 200 of inch and three quarter": lengths that share the size which is told behind the last."""
    out = list(items)
    for k in range(len(items) - 3, -1, -1):
        size = out[k + 4] if k + 4 < len(out) else None
        if size is None or not (_even_feet(out[k]) and _even_feet(out[k + 2]) and out[k + 3].text == "of"):
            continue
        joined = out[k + 1].text == "," or "and" in out[k + 1].concepts
        leads = k == 0 or out[k - 1].text not in word_list("lengths_of_flows")
        if joined and leads and _sized(size) and not any(map(_sized, out[:k])):
            out[k + 1 : k + 1] = [out[k + 3].again(), size.again()]
    return out


def _sized(item: Item) -> bool:
    return item.kind == "num" and (item.unit == "in" or "hose_said" in item.concepts)


def _even_feet(item: Item) -> bool:
    if item.kind != "num" or item.unit not in (None, "ft") or item.form not in ("int", "hundreds"):
        return False
    return item.number >= PIECE_FT and item.number % (PIECE_FT / 2) == 0


def in_feet(items: list[Item], context: Context) -> list[Item]:
    """The items, with each number of lengths as one number of feet: so many of the rig's pieces of that hose."""
    out: list[Item] = []
    k = 0
    while k < len(items):
        end, feet = (k, None) if _done_to_a_line(items, k) else _lengths_at(items, k, context)
        if feet is None:
            out.append(items[k])
            k += 1
            continue
        whole = _number(items[k], items[end - 1], feet, "ft")
        whole.text = " ".join(item.text for item in items[k:end])
        whole.slip = sum(item.slip for item in items[k:end])
        out.append(whole)
        k = end
    return out


def _lengths_at(items: Sequence[Item], k: int, context: Context) -> tuple[int, float | None]:
    """The lengths that are counted there: where they end, and how many feet they are."""
    count, after = items[k], k + 1
    if count.kind == "num" and count.unit == "ft" and count.form == "hundreds" and _length_word(items, after):
        many, feet = divmod(count.number, 100)  # "four fifty-foot lengths" is four of 50 ft, not 450
        return after + 1, many * feet
    if not _counts(count):
        return k, None
    own: float | None = None
    if after < len(items) and items[after].kind == "num":  # "four 50-foot lengths"
        own = in_unit(items[after], "ft", "m", None)
        if own is None or not _PIECES_FT[0] <= own <= _PIECES_FT[1]:
            return k, None
        after += 1
    if _length_word(items, after):
        return after + 1, count.number * (_piece(items, k, after, context) if own is None else own)
    linked = own is None and _linked_length(items, k)
    return (k + 1, count.number * _piece(items, k, k, context)) if linked else (k, None)


def _counts(item: Item) -> bool:
    if item.kind != "num" or item.unit is not None or item.form not in ("int", "hundreds"):
        return False
    return 1 <= item.number <= _MOST and item.number % 1 == 0


def _length_word(items: Sequence[Item], k: int) -> bool:
    return k < len(items) and "length_word" in items[k].concepts


def _linked_length(items: Sequence[Item], k: int) -> bool:
    """ "Two lengths of 1¾ off the end of six of 3 inch": lengths again, the word left out."""
    linked = k > 0 and not items[k - 1].concepts.isdisjoint(("into", "on_end")) and items[k - 1].text != "on"
    counted = any("length_word" in item.concepts for item in items[:k])
    return linked and counted and k + 2 < len(items) and items[k + 1].text == "of" and _sized(items[k + 2])


def _done_to_a_line(items: Sequence[Item], k: int) -> bool:
    """Beside what is done to a line a length is counted by that reader."""
    near, otherwise = items[max(k - _REACH, 0) : k], word_list("lengths_otherwise")
    return any(not item.concepts.isdisjoint(otherwise) or item.text in otherwise for item in near)


def _piece(items: Sequence[Item], k: int, at: int, context: Context) -> float:
    """How long the rig's pieces are of the hose that is named beside."""
    beside = [*items[at + 1 : at + 1 + _SIZES_BEHIND], *reversed(items[max(k - 2, 0) : k])]
    sizes = [item.number for item in beside if item.kind == "num" and item.unit in ("in", None)]
    return next((feet for size in sizes for inches, feet in context.pieces if round(inches - size, 2) == 0), PIECE_FT)
