"""Types the numbers of a lay by their units, by what stands beside them and by what is plausible."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from grammar.items import Item
from grammar.numbers import number_words
from grammar.readers.base import Span, in_unit
from grammar.readers.sizes import HOSES, NOMINAL_MM, TIPS, hose_in
from grammar.vocabulary import word_list


class Slot(NamedTuple):
    """One typed item. `kind`: len, hose, flow, npsi, tip, count, floor, rise, name, family, device, kind, split, …"""

    kind: str
    value: object
    at: int
    cost: float = 0.0
    form: str = ""
    """How a number was said, or the word itself."""


LABELS = frozenset(
    [
        "tip",
        "nozzle",
        "low_pressure",
        "nozzle_psi",
        "flowing",
        "through",
        "of_hose",
        "up",
        "down",
        "elevation",
        "by",
        "of_each",
        "for_noise",
        "intake_at",
        "at",
        "each",
        "pull",
        "lost_psi",
        "floors_up",
        "floors_down",
        "of",
        "into",
        "on_end",
        "swap",
        "with_crew",
        "ask_pressure",
        "show",
    ]
)
"""Concepts that explain a number beside them and nothing else."""


def _near(span: Span, i: int, step: int, lo: int, hi: int) -> Item | None:
    """The item beside, past words that say nothing."""
    k = i + step
    while lo <= k < hi:
        item = span.items[k]
        label = item.concepts & LABELS - {"for_noise", "of_each", "ask_pressure"}
        if item.kind == "sep":
            return None
        if not item.free or label or item.text in ("at", "@", "of", "x", "by", "with"):
            return item
        k += step
    return None


_NOZZLES = frozenset(("tip", "smooth_bore", "nozzle"))


def _of_another(span: Span, i: int, label: Item | None) -> bool:
    """ "15/16 tip on 1.75", "7/8 tip plus 2.5": the label has its number before it, or something parts them."""
    k = next(k for k in range(i - 1, -1, -1) if span.items[k] is label)
    if any(span.items[n].concepts & {"and", "on_end"} or span.items[n].text == "on" for n in range(k + 1, i)):
        return True
    own = span.items[k - 1] if k > span.lo else None
    return own is not None and own.kind == "num" and own.unit in ("in", None) and own.number <= 3.5


class _Beside:
    """What stands before and after a number."""

    __slots__ = ("after", "before", "item", "prior", "span", "tail")

    def __init__(self, span: Span, i: int, lo: int, hi: int) -> None:
        self.span = span
        self.item = span.items[i]
        self.prior = _near(span, i, -1, lo, hi)
        self.tail = _near(span, i, 1, lo, hi)
        self.before = self.prior.concepts | {self.prior.text} if self.prior else frozenset()
        if self.before & _NOZZLES and _of_another(span, i, self.prior):
            self.before -= _NOZZLES
        self.after = self.tail.concepts | {self.tail.text} if self.tail else frozenset()


def number_slots(span: Span, i: int, lo: int, hi: int) -> Iterator[Slot]:
    item = span.items[i]
    beside = _Beside(span, i, lo, hi)
    if item.form == "ordinal":
        yield from _ordinal(span, i, beside)
        return
    if "pair" in item.concepts:
        yield Slot("count", 2, i, 0.02)
        return
    metric = span.context.units == "metric"
    match item.unit:
        case "ft" | "m":
            yield from _feet(i, beside, in_unit(item, "ft") or 0.0)
        case "in":
            yield from _inches(span, i, beside, item.number, lo, hi)
        case "gpm" | "lpm":
            yield Slot("flow", in_unit(item, "gpm"), i)
        case "gal" | "l":
            if beside.before & {"flowing", "at", "@"} or beside.after & {"each", "total", "through"}:
                sure = beside.after & {"each", "total", "through"}
                yield Slot("flow", in_unit(item, "gpm", "gal", "l"), i, 0.02 if sure else 0.12)
            elif _at_a_nozzle(span, i, beside):
                yield Slot("flow", in_unit(item, "gpm", "gal", "l"), i, 0.05)
        case "psi" | "bar" | "kpa":
            yield from _psi(i, beside, in_unit(item, "psi") or 0.0)
        case "percent":
            yield Slot("percent", item.number, i)
        case None:
            yield from _bare(span, i, beside, lo, hi, metric)
    if item.unit is None and beside.before & {"intake_at"}:
        yield Slot("intake", in_unit(item, "psi", None), i, 0.02)


_OF_A_TANK = (
    "water_left",
    "tender",
    "needed_flow",
    "tank_time",
    "what_then",
    "refilled",
    "on_tank",
    "shuttle",
    "how_long",
    "last_word",
    "gauge_word",
    "tank",
    "fraction_word",
)


def _at_a_nozzle(span: Span, i: int, beside: _Beside) -> bool:
    """ "150 gallons" beside a nozzle or hose, with no tank in it, is what is flowed a minute (common practice)."""
    if any(not item.concepts.isdisjoint(_OF_A_TANK) or "tank" in item.text for item in span.items):
        return False
    before = {word for item in span.items[span.lo : i] for word in item.text.split()}
    anywhere = before | {word for item in span.items[i : span.hi] for word in item.text.split()}
    if before & word_list("water_had") or anywhere & word_list("water_held"):
        return False  # "we have 250 gallons, crosslay 1 on fog": what is aboard or gone, not what flows
    nozzle = (beside.before | beside.after) & {"fog", "nozzle", "tip", "smooth_bore", "cellar", "on"}
    return bool(nozzle) or any(_other_hose(span, k) for k in range(span.lo, span.hi) if k != i)


_STANDING = frozenset(
    (
        "on",
        "up on",
        "up to",
        "up in",
        "for",
        "working on",
        "down to",
        "down on",
        "flowing on",
        "off on",
        "up on the",
        "down in",
    )
)
"""Words before a floor's bare number: "crosslay 2 on three", "pack flowing on nine"."""
_TALLEST = 60


def _led_to_floor(span: Span, i: int) -> bool:
    k = i - 1
    while k > span.lo and span.items[k].text in ("the", "floor"):
        k -= 1
    if k < span.lo:
        return False
    leads = span.items[k]
    return leads.text in _STANDING or ("ask_pressure" in leads.concepts and leads.text.split()[-1] in _STANDING)


def _on_floor(span: Span, i: int, beside: _Beside, value: float) -> Iterator[Slot]:
    """ "On three", "up to four": a floor, where a line or hose is told of and nothing else is counted."""
    if beside.item.slip or not _led_to_floor(span, i) or not 0 < value <= _TALLEST or value % 1:
        return
    tail = span.items[i + 1] if i + 1 < span.hi else None
    counted = beside.after & (
        _COUNTED | {"length_word", "tip", "by", "x", "of_each", "nozzle", "ldh", "big_line", "booster"}
    )
    if counted or (tail is not None and tail.kind in ("num", "line", "family")):
        return
    yield Slot("floor", int(value), i, 0.05)


def _ordinal(span: Span, i: int, beside: _Beside) -> Iterator[Slot]:
    value = int(beside.item.number)
    if beside.after & {"line", "legs"}:
        yield Slot("nth", value, i)
    elif beside.before & {"to", "to the", "into", "on", "and", "not"} or beside.tail is None or _led_to_floor(span, i):
        yield Slot("floor", value, i, 0.03 if span.kinds("floor") and _led_to_floor(span, i) else 0.15)


def _of_hundreds(item: Item) -> bool:
    """ "Two hundred": with "lines" after it also two of a hundred."""
    words = item.text.split()
    return len(words) > 1 and words[0] in number_words().ones and words[0] != "one" and words[1] == "hundred"


def _feet(i: int, beside: _Beside, value: float) -> Iterator[Slot]:
    near = beside.before | beside.after
    down = "down" in near
    hill = beside.tail is not None and beside.tail.text in ("hill", "elevated")  # "200 feet on a hill": its length
    up = "up" in near or ("elevation" in near and not down and not hill)
    if down:
        yield Slot("rise", -abs(value), i)
    elif up:
        yield Slot("rise", value, i)
    elif beside.span.has("aerial") and value <= 150 and beside.before & {"at", "@"}:
        yield Slot("rise", value, i, 0.1)
        yield Slot("len", value, i, 0.3)
    else:
        yield Slot("len", value, i, form="hundreds" if _of_hundreds(beside.item) else beside.item.form)


def _inches(span: Span, i: int, beside: _Beside, value: float, lo: int, hi: int) -> Iterator[Slot]:
    elsewhere = any(_other_hose(span, k) for k in range(lo, hi) if k != i)
    if beside.after & {"tip", "smooth_bore", "nozzle"} or "tip" in beside.before:
        lone = (
            not elsewhere
            and "tip" not in beside.after
            and any(span.items[k].unit in ("ft", "m") for k in range(lo, hi) if span.items[k].kind == "num")
        )
        yield Slot("tip", value, i, 0.3 if lone else 0.0)
        if lone:
            yield Slot("hose", value, i, 0.03)
        return
    sized = _is_hose(span, value)
    if value < 1 and value != 0.75:
        yield Slot("tip", value, i, 0.02)
        return
    if value in (1.125, 1.375, 1.0625, 1.1875):
        yield Slot("tip", value, i, 0.03)
        return
    nozzle_before = bool(beside.before & {"smooth_bore", "nozzle"})
    if nozzle_before or (elsewhere and value in TIPS and value <= 2 and beside.before & {"with", "with a"}):
        yield Slot("tip", value, i, 0.1)
    if "plural" in beside.item.concepts and sized:
        yield Slot("hose", value, i, 0.0)
        return
    run = bool(beside.before & {"of", "of_each", "of_hose"})  # "a monitor off 200 feet of three inch"
    if (
        value in TIPS
        and value < 3
        and _gun(span)
        and not run
        and not beside.after & {"line", "of_hose", "legs", "lines"}
    ):
        laid = not elsewhere and any(span.items[k].unit in ("ft", "m") for k in range(lo, hi))
        yield Slot("tip", value, i, 0.25 if laid else 0.05)
        yield Slot("hose", value, i, 0.05 if laid else 0.25)
        return
    if value == 1.25:
        yield Slot("tip", value, i, 0.08 if elsewhere or span.kinds("line") else 0.3)
        yield Slot("hose", value, i, 0.25)
        return
    yield Slot("hose", value, i, 0.0 if sized else 0.25)


def _is_hose(span: Span, value: float) -> bool:
    return value in span.context.hose_in or value in HOSES


def _other_hose(span: Span, k: int) -> bool:
    item = span.items[k]
    if item.kind == "line":
        return True
    return item.kind == "num" and (
        (item.unit == "in" and item.number >= 1.5)
        or (item.unit is None and item.number in (1.5, 1.75, 2.5) and not _tip_after(span, k))
    )


def _gun(span: Span) -> bool:
    return span.has("deck_gun", "monitor", "aerial") or any(
        span.items[k].value in _guns(span) for k in span.kinds("line")
    )


def _guns(span: Span) -> tuple[str, ...]:
    return tuple(line.key for line in span.context.rig_lines if line.device in ("deck_gun", "monitor", "aerial"))


def _psi(i: int, beside: _Beside, value: float) -> Iterator[Slot]:
    if beside.before & {"intake_at"} or beside.after & {"intake_at"}:
        yield Slot("intake", value, i)
    elif (beside.after | beside.before) & {"pump_word"} and not (beside.after | beside.before) & {
        "nozzle_psi",
        "tip",
        "nozzle",
    }:
        yield Slot("pump_psi", value, i)
    else:
        told = (beside.after | beside.before) & {"nozzle_psi", "tip", "nozzle"}
        yield Slot("npsi", value, i, 0.0 if told else 0.08 if value <= 105 else 0.4)
        yield Slot("pump_psi", value, i, 0.12)


_COUNTED = frozenset(("line", "legs", "of_hose", "monitor", "crosslay"))


def _bare(span: Span, i: int, beside: _Beside, lo: int, hi: int, metric: bool) -> Iterator[Slot]:
    """A number without a unit."""
    item = beside.item
    value = item.number
    whole = value == int(value)
    if whole and 0 < value < 10 and i > lo and span.items[i - 1].text in word_list("lines_numbered"):
        if beside.tail is not None and beside.tail.kind == "num":
            yield Slot("label", None, i)  # "line two, two hundred feet of …": which one it is, not how many
            return
        yield Slot("nth", int(value), i)
    yield from _on_floor(span, i, beside, value)
    if whole and 0 < value <= 40:
        yield from _count(span, i, beside, hi)
    yield from _bare_size(span, i, beside, lo, hi)
    if beside.before & {"intake_at"} or beside.after & {"intake_at"}:
        yield Slot("intake", in_unit(item, "psi", None), i, 0.02)
        return
    above = beside.tail is not None and beside.tail.text in word_list("slots_from_me")
    if whole and above and 5 <= value <= 600:
        feet = value / 0.3048 if metric else value
        yield Slot("rise", -feet if "down" in beside.after else feet, i, 0.02)
        return
    if whole and abs(value) >= 10:
        yield from _bare_length(span, i, beside, value / 0.3048 if metric else value, value)
        yield from _bare_flow(span, i, beside, value / 3.785411784 if metric else value, value, lo)
        yield from _bare_psi(span, i, beside, lo, in_unit(item, "psi", None) or value)
    if value <= 6 and whole and beside.after & {"floors_up"}:
        yield Slot("floor", int(value) + 1, i, 0.02)
    if value <= 6 and whole and beside.after & {"floors_down"}:
        below = beside.tail is not None and beside.tail.text.endswith(("below grade", "underground"))
        yield Slot("floor", -int(value), i, 0.02 if below else 0.25)
    if whole and i > lo and span.items[i - 1].text in ("and", "&") and value < 10:
        sibling = _sibling(span, i, int(value))
        if sibling:
            yield Slot("name", sibling, i, 0.05)
    if whole and 0 < value < 10 and i > lo and span.items[i - 1].kind == "family":
        member = _member(span, i - 1, int(value))
        if member:
            yield Slot("name", member, i, 0.0)


def _count(span: Span, i: int, beside: _Beside, hi: int) -> Iterator[Slot]:
    value = int(beside.item.number)
    if beside.item.form not in ("int", "hundreds"):
        return
    if value > 12 and not beside.after & _COUNTED:
        return
    tail = beside.tail
    if beside.after & _COUNTED or (tail is not None and tail.kind in ("family",)) or beside.after & {"each"}:
        yield Slot("count", value, i, 0.0)
    elif "of them" in _text_after(span, i, hi):
        yield Slot("count", value, i, 0.02)
    elif beside.after & {"x", "by"}:
        yield Slot("count", value, i, 0.03)
    elif tail is not None and tail.kind == "num" and tail.form != "ordinal":
        yield Slot("count", value, i, 0.06 if value > 1 or beside.item.text in ("one", "1") else 0.2)
    elif tail is not None and (tail.concepts & {"booster", "ldh", "big_line"} or tail.kind == "line"):
        yield Slot("count", value, i, 0.2)
    elif beside.item.text in ("one",) and beside.after & {"at"}:
        yield Slot("count", value, i, 0.1)
    elif value <= 4 and beside.after & {"fog", "smooth_bore"}:
        yield Slot("count", value, i, 0.4)


def _text_after(span: Span, i: int, hi: int) -> str:
    return " ".join(item.text for item in span.items[i + 1 : min(i + 3, hi)])


def _bare_size(span: Span, i: int, beside: _Beside, lo: int, hi: int) -> Iterator[Slot]:
    """A bare number as a hose size or a tip: told by its fraction, its form, or a label beside it."""
    item = beside.item
    value = item.number
    labelled = beside.after & {"tip", "nozzle", "smooth_bore"} or beside.before & {"tip", "smooth_bore"}
    if labelled and value <= 3.5:
        yield Slot("tip", value, i, 0.01)
        return
    if item.form == "fraction":
        if beside.after & {"of", "of_each"} and not _tip_after(span, i):
            return  # "half of 300 feet"
        if value in TIPS:
            yield Slot("tip", value, i, 0.02 if value not in (0.5, 0.75, 0.25) else 0.3)
        if value == 0.75:
            yield Slot("hose", value, i, 0.0 if beside.after & {"booster", "line", "of_hose"} else 0.45)
        return
    if item.form in ("mixed", "decimal"):
        if value in (1.125, 1.25, 1.375, 1.0625, 1.1875):
            yield Slot("tip", value, i, 0.04)
            if value == 1.25:
                yield Slot("hose", value, i, 0.5)
        elif _is_hose(span, value) and value != int(value):
            run = beside.before & {"of", "of_each", "of_hose"}
            if (
                _gun(span)
                and not run
                and not beside.after & {"line", "of_hose"}
                and "plural" not in beside.item.concepts
            ):
                others = any(_other_hose(span, k) for k in range(lo, hi) if k != i)
                laid = not others and any(span.items[k].unit in ("ft", "m") for k in range(lo, hi))
                yield Slot("tip", value, i, 0.2 if laid else 0.06)
                yield Slot("hose", value, i, 0.06 if laid else 0.2)
            else:
                yield Slot("hose", value, i, 0.01)
        elif value < 8:
            yield Slot("hose", value, i, 0.3)
        return
    if value in (1, 2, 3, 4, 5, 6) and beside.before & {"of", "of_each", "of_hose"} and value >= 2:
        yield Slot("hose", value, i, 0.12)
    if (
        span.context.units == "metric"
        and value in NOMINAL_MM
        and (beside.before & {"of", "of_each", "line", "of_hose"} or (value <= _SMALL_MM and _metres(span, lo, hi)))
    ):
        yield Slot("hose", hose_in(value, span.context), i, 0.15)
    typed = item.text[:1].isdigit() and not beside.before & {"of", "of_hose"}
    labelled_flow = beside.before & {"at", "@", "flowing"}
    hundredths = span.context.units != "metric" and value in (150, 175, 250) and value / 100 in span.context.hose_in
    if not labelled_flow and not typed and hundredths:
        spelled = item.form == "digits" and bool(beside.before & {"of", "of_hose"})  # "200 of one seven five"
        yield Slot("hose", value / 100, i, 0.06 if spelled else 0.3 if beside.before & {"of", "of_hose"} else 0.36)


_SMALL_MM = 77
"""Above it a bare number may as well be a flow: "60 metres, 150"."""


def _metres(span: Span, lo: int, hi: int) -> bool:
    """A length is told beside it: "60 metres, 45, second floor"."""
    return any(span.items[k].unit == "m" for k in range(lo, hi))


def _tip_after(span: Span, i: int) -> bool:
    return any("tip" in item.concepts for item in span.items[i + 1 : min(i + 3, span.hi)])


def _bare_length(span: Span, i: int, beside: _Beside, feet: float, said: float) -> Iterator[Slot]:
    if said > 9000:
        return
    step = abs(said) % 50 == 0
    cost = 0.1 if step else 0.2 if abs(said) % 25 == 0 else 0.75 if said % 5 == 0 else 1.4
    tail = beside.tail
    if beside.after & {"of", "of_each", "of_hose"} or (tail is not None and "hose_said" in tail.concepts):
        cost -= 0.07
    if "plural" in beside.item.concepts:
        cost += 0.05
    if beside.before & {"flowing"} or (beside.after & {"each", "total"} and not step):
        cost += 1.0
    if beside.before & {"at", "@"}:
        cost += 0.12
    if "nozzle_psi" in beside.after:
        cost += 1.0
    if span.has("is:line", "is:family") and not any(_other_hose(span, k) for k in span.kinds("num")):
        cost += 1.0 if _gun(span) else 0.4  # a line of the rig has its length: this may be a flow, or a pressure
    yield Slot("len", feet, i, cost, beside.item.form)


_LEAST_APART = 90
"""Flow of a hand line that may stand by itself between pauses (common practice: the least is 95 gpm)."""
_MOST_PSI = 400
"""Above it a number after "at" is no pump's pressure."""


def _bare_flow(span: Span, i: int, beside: _Beside, gpm: float, said: float, lo: int) -> Iterator[Slot]:
    if said < 5 or said > 4000:
        return
    if (
        i > span.lo
        and span.items[i - 1].text == "that"
        and not beside.after & {"of", "of_each", "of_hose"}
        and said >= 60
    ):
        yield Slot("flow", gpm, i, 0.02)  # "flowing 750 … to get that 750 to engine 31"
        return
    drawn = beside.prior is not None and beside.prior.text in word_list("slots_drawn") and said >= 100
    if beside.before & {"flowing"} or beside.after & {"total"} or drawn:
        yield Slot("flow", gpm, i, 0.02)
        return
    if "nozzle_psi" in beside.after and said > MOST_NOZZLE_PSI:
        yield Slot("flow", gpm, i, 0.03)  # "a buck fifty at the tip": no nozzle has that pressure
        return
    if beside.before & {"fog"} or beside.after & {"fog"}:
        yield Slot("flow", gpm, i, 0.1)
    tail = beside.tail
    joined = i > lo and "and" in span.items[i - 1].concepts
    apart = (
        beside.prior is None
        and tail is None
        and said >= _LEAST_APART
        and not joined
        and any(_other_hose(span, k) for k in range(lo, i))
    )
    if beside.after & {"eductor"}:
        yield Slot("flow", gpm, i, 0.02)  # "the 95 eductor"
        return
    if apart and not span.has("is:line", "is:family", "line"):
        yield Slot("flow", gpm, i, 0.15)  # "600 of 2½, two fifty, 80 feet up"
        return
    if beside.after & {"at", "@"} and span.has("fog", "cellar", "piercing", "nozzle"):
        yield Slot("flow", gpm, i, 0.05)
    at = bool(beside.before & {"at", "@"})
    if at and said <= 120 and _after_tip(span, i):
        return
    through = "through" in beside.after
    cost = (
        0.04
        if through
        else 0.05
        if at and _right_behind_hose(span, i)
        else (
            0.12 if said > _MOST_PSI or any("hose_said" in span.items[k].concepts for k in span.kinds("num")) else 0.2
        )
        if at
        else 0.5
        if said % 25 == 0 or said % 10 == 0 or said in (95, 125, 185)
        else 0.75
        if said % 5 == 0
        else 1.5
    )
    if tail is not None and "each" in tail.concepts:
        cost -= 0.15
    named = at and span.has("is:line", "is:family") and not any(_other_hose(span, k) for k in span.kinds("num"))
    yield Slot("flow", gpm, i, max(cost, 0.02), "at" if named else "")


MOST_NOZZLE_PSI = 110
"""Above this no hand line nozzle is rated; common practice."""


def _right_behind_hose(span: Span, i: int) -> bool:
    """ "300 of inch and three quarter at one fifty"."""
    size = span.items[i - 2] if i - 2 >= span.lo else None
    return (
        size is not None
        and size.kind == "num"
        and (size.unit == "in" or "hose_said" in size.concepts)
        and size.number > 1.4
    )


def _said_before(span: Span, i: int, value: float) -> bool:
    return any(item.kind == "num" and item.value == value for item in span.items[:i])


def _bare_psi(span: Span, i: int, beside: _Beside, lo: int, value: float) -> Iterator[Slot]:
    if not 15 <= value <= 200:
        return
    if (beside.before | beside.after) & {"nozzle_psi"}:
        yield Slot("npsi", value, i, 0.01 if value <= MOST_NOZZLE_PSI else 0.4)
        return
    if beside.before & {"at", "@"}:
        prior = beside.prior
        k = i - 1
        while k >= lo and span.items[k] is not prior:
            k -= 1
        earlier = span.items[k - 1] if k > lo else None
        tip = earlier is not None and (
            earlier.concepts & {"tip", "smooth_bore", "nozzle"}
            or (
                earlier.kind == "num"
                and (
                    earlier.form == "fraction"
                    or earlier.unit == "gpm"
                    or (earlier.unit is None and span.has("fog", "cellar"))
                )
            )
        )
        if tip:
            yield Slot("npsi", value, i, 0.05)


def _after_tip(span: Span, i: int) -> bool:
    """ "15/16 tip at 50": a nozzle pressure."""
    for k in range(i - 1, max(i - 4, span.lo - 1), -1):
        item = span.items[k]
        size = item.kind == "num" and item.unit in (None, "in") and item.number in TIPS
        if item.concepts & {"tip", "smooth_bore"} or (item.kind == "num" and item.form == "fraction"):
            return True
        if size and _gun(span) and item.form in ("mixed", "decimal"):
            return True
        if item.kind == "num" and not (item.unit is None and item.number < 2):
            return False
    return False


def _sibling(span: Span, i: int, number: int) -> str | None:
    """ "crosslay one and two": the second of the same family."""
    for k in range(i - 1, span.lo - 1, -1):
        item = span.items[k]
        if item.kind == "line":
            stem, _, last = str(item.value).rpartition("_")
            key = f"{stem}_{number}"
            return key if last.isdigit() and any(line.key == key for line in span.context.rig_lines) else None
        if item.kind == "family":
            return _member(span, k, number)
        if not item.free and item.kind != "num":
            return None
    return None


def _member(span: Span, k: int, number: int) -> str | None:
    keys = span.items[k].value
    assert isinstance(keys, tuple)
    return next((str(key) for key in keys if str(key).rpartition("_")[2] == str(number)), None)
