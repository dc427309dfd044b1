"""Hose counted in lengths: "four lengths of 2½", "three sections", turned to feet once for all readers."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.commands import Context
from grammar.items import Item
from grammar.readers.base import in_unit

PIECE_FT = 50.0
"""A length of fire hose, feet (NFPA 1961 names 50 ft and 100 ft; 50 is the usual one), where the rig has no other."""
_MOST = 40
_PIECES_FT = (15.0, 110.0)
"""A piece of hose said with its own length: "four 50-foot lengths", feet."""
_OTHERWISE = frozenset(
    (
        "add_hose",
        "burst",
        "another",
        "replaced",
        "moved",
        "lost_psi",
        "can_add",
        "not",
        "correction",
        "timer",
        "restore",
    )
)
"""Beside these a length is something that is done to a line: its own reader counts it."""
_REACH = 3
_SIZES_BEHIND = 4


_POINTERS = frozenset(("it", "that", "this", "the same", "same", "them", "that hose", "it at"))


def same_hose(items: list[Item]) -> list[Item]:
    """ "Five inch …, and what do I lose in 300 feet of it": the size that was said last stands for "it"."""
    out: list[Item] = []
    for k, item in enumerate(items):
        points = item.text in _POINTERS and k > 1 and items[k - 1].text == "of" and items[k - 2].unit in ("ft", "m")
        sizes = [one for one in out if one.kind == "num" and (one.unit == "in" or "hose_said" in one.concepts)]
        if points and sizes:
            size = Item("num", item.start, item.end, value=sizes[-1].value, unit="in", form="int", text=item.text)
            size.polarity = item.polarity
            out.append(size)
        else:
            out.append(item)
    return out


def listed(items: list[Item]) -> list[Item]:
    """ "150 and 200 of inch and three quarter": lengths that share the size which is told behind the last."""
    out = list(items)
    for k in range(len(items) - 3, -1, -1):
        size = out[k + 4] if k + 4 < len(out) else None
        if size is None or not (_even_feet(out[k]) and _even_feet(out[k + 2]) and out[k + 3].text == "of"):
            continue
        between = out[k + 1].text == "," or "and" in out[k + 1].concepts
        first = not any(_sized(item) for item in out[:k]) and (k == 0 or out[k - 1].text not in ("at", "flowing", "of"))
        if between and _sized(size) and first:
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
        end, feet = _lengths_at(items, k, context)
        if feet is None:
            out.append(items[k])
            k += 1
            continue
        first = items[k]
        whole = Item("num", first.start, items[end - 1].end, value=feet, unit="ft", form="int", cost=first.cost)
        whole.text = " ".join(item.text for item in items[k:end])
        whole.polarity = first.polarity
        whole.slip = sum(item.slip for item in items[k:end])
        out.append(whole)
        k = end
    return out


def _lengths_at(items: Sequence[Item], k: int, context: Context) -> tuple[int, float | None]:
    count = items[k]
    if _counted_pieces(items, k):  # "four fifty-foot lengths" is four of 50 ft, not 450
        many, feet = divmod(in_unit(count, "ft") or 0.0, 100)
        return (k + 2, many * feet) if not _done_to_a_line(items, k) else (k, None)
    if count.kind != "num" or count.unit is not None or not 1 <= count.number <= _MOST or count.number % 1:
        return k, None
    if count.form not in ("int", "hundreds") or _done_to_a_line(items, k):
        return k, None
    after, own = k + 1, None
    if after < len(items) and items[after].kind == "num":  # "four 50-foot lengths"
        own = in_unit(items[after], "ft", "m", None)
        if own is None or not _PIECES_FT[0] <= own <= _PIECES_FT[1]:
            return k, None
        after += 1
    if after >= len(items) or "length_word" not in items[after].concepts:
        return (k + 1, count.number * _piece(items, k, k, context)) if _linked_length(items, k) else (k, None)
    if own is None:
        own = _piece(items, k, after, context)
    return after + 1, count.number * own


def _counted_pieces(items: Sequence[Item], k: int) -> bool:
    count = items[k]
    if count.kind != "num" or count.unit != "ft" or count.form != "hundreds" or k + 1 >= len(items):
        return False
    return "length_word" in items[k + 1].concepts


def _linked_length(items: Sequence[Item], k: int) -> bool:
    """ "Two lengths of 1¾ off the end of six of 3 inch": lengths again, the word left out."""
    if not any("length_word" in item.concepts for item in items[:k]) or k + 2 >= len(items):
        return False
    linked = k > 0 and not items[k - 1].concepts.isdisjoint(("into", "on_end")) and items[k - 1].text != "on"
    size = items[k + 2]
    return (
        linked
        and items[k + 1].text == "of"
        and size.kind == "num"
        and bool(size.unit == "in" or "hose_said" in size.concepts)
    )


def _done_to_a_line(items: Sequence[Item], k: int) -> bool:
    near = items[max(k - _REACH, 0) : k]
    return any(not item.concepts.isdisjoint(_OTHERWISE) or item.text in ("short", "down") for item in near)


def _piece(items: Sequence[Item], k: int, at: int, context: Context) -> float:
    """How long the rig's pieces are of the hose that is named beside."""
    beside = [*items[at + 1 : at + 1 + _SIZES_BEHIND], *reversed(items[max(k - 2, 0) : k])]
    sizes = [item.number for item in beside if item.kind == "num" and item.unit in ("in", None)]
    return next((feet for size in sizes for inches, feet in context.pieces if abs(inches - size) < 0.01), PIECE_FT)
