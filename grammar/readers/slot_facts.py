"""What only a function can say of an item of a lay: facts for tests, and values of slots."""

from __future__ import annotations

from collections.abc import Callable

from grammar.commands import PumpPressure
from grammar.items import Item
from grammar.numbers import number_words
from grammar.readers.base import Span, in_unit
from grammar.readers.signs import FACTS, NONE, NOZZLES, Site, fact, sized, word_list
from grammar.readers.sizes import hose_in, sizes
from grammar.readers.supply_lay import is_supply, ldh_in


@fact
def _led_to_floor(site: Site) -> bool:
    """ "On three", "up to the fourth floor"."""
    k = site.i - 1
    while k > site.span.lo and site.span.items[k].text in word_list("typing_of_floors"):
        k -= 1
    leads = site.span.items[k] if k >= site.span.lo else None
    if leads is None:
        return False
    asks = "ask_pressure" in leads.concepts and leads.text.split()[-1] in word_list("typing_standing")
    return asks or leads.text in word_list("typing_standing")


@fact
def _at_a_tip(site: Site) -> bool:
    """ "15/16 tip at 50", "smooth bore 7/8, 50": what stands before is a tip, or a size that a gun's tip has."""
    for k in range(site.i - 1, max(site.i - 4, site.span.lo - 1), -1):
        signs, item = site.of(k), site.span.items[k]
        if signs & {"tip", "smooth_bore", "form:fraction"}:
            return True
        if (
            "a_tip" in signs
            and signs & {"form:mixed", "form:decimal"}
            and site.sees("has", "deck_gun", "monitor", "aerial")
        ):
            return True
        if item.kind == "num" and not (item.unit is None and item.number < 2):
            return False
    return False


@fact
def _labels(site: Site) -> bool:
    """A number or a nozzle stands beside: alone, "floor" or "down" explains nothing."""
    beside = site.sees("close", "is:num", "is:line", "is:floor", "fog", *NOZZLES, "nozzle_psi")
    level = site.of(site.i) & {"floors_up", "floors_down", "down"}
    return beside and (not level or "is:num" in site.of(site.i - 1))


@fact
def _climbs_so_far(site: Site) -> bool:
    """ "30 feet uphill", "two floors above": how far stands beside it."""
    own = site.item.text
    if own in word_list("typing_slopes"):
        return False
    for step in (-1, 1):
        k = site.i + step
        while "is:sep" not in site.of(k) and site.of(k) and site.span.items[k].free:
            k += step
        signs = site.of(k)
        level = bool(signs & {"floors_up", "floors_down", "elevation", "up", "down", "is:floor"}) and "hill" not in own
        if level or signs & {"u:ft", "u:m"} or ("is:num" in signs and "floor" in own):
            return True
    return False


@fact
def _hose_next(site: Site) -> bool:
    """A length or a size, soon."""
    for k in range(site.i + 1, min(site.i + 4, site.span.hi)):
        if site.of(k) & {"u:ft", "u:in", "u:m", "u:mm"}:
            return True
        if not site.span.items[k].free:
            break
    return False


@fact
def _fed(site: Site) -> bool:
    """ "100 feet of 3 inch to the FDC", "siamese is 150 feet of 2½ away": hose stands right beside it."""
    i = site.i
    for near in (range(i - 1, i - 5, -1), range(i + 1, i + 4)):
        for k in near:
            signs = site.of(k)
            if signs & {"is:sep", "standpipe", "tip"}:
                break
            if signs & {"sized", "line"}:
                return True
    return False


@fact
def _of_two_runs(site: Site) -> bool:
    """ "Both 300 feet of 2½ and 50 feet of 1¾": those two, each once."""
    ahead = range(site.i + 1, site.span.hi)
    joined = next((k for k in ahead if "and" in site.of(k)), -1)
    feet = [k for k in ahead if site.of(k) & {"u:ft", "u:m"}]
    lines = any("line" in site.of(k) for k in range(site.i + 1, joined))
    return joined > 0 and not lines and any(k < joined for k in feet) and any(k > joined for k in feet)


@fact
def _runs_on(site: Site) -> bool:
    """ "Crosslay 1 and the rear line are both flowing": no count of what follows."""
    after = next((site.of(k) for k in range(site.i + 1, site.span.hi) if not site.span.items[k].free), NONE)
    return site.sees("behind", "is:line", "is:family", "is:num") and bool(
        after & {"flow_on", "charge", "charged_state"}
    )


def supplies(span: Span, i: int) -> bool:
    """The rig's supply line: its name says what the hose is for, the hose is said beside it."""
    line = next((line for line in span.context.rig_lines if line.key == span.items[i].value), None)
    if line is None or line.device is not None or line.hose_in is None or not is_supply(span.context, line.hose_in):
        return False
    return span.has("ldh") or any(sized(span.items[k]) for k in span.kinds("num"))


@fact
def _member_next(site: Site) -> bool:
    """ "Cross lays one and two": those two, not all of the name."""
    after = site.span.items[site.i + 1] if site.i + 1 < site.span.hi else None
    if after is None or after.kind != "num" or after.unit is not None or not 0 < after.number < 10:
        return False
    return _member(site.item, after.number) is not None


def _member(family: Item, number: float) -> str | None:
    keys = family.value if isinstance(family.value, tuple) else ()
    return next((str(key) for key in keys if str(key).rpartition("_")[2] == f"{number:g}"), None)


def _sibling(site: Site) -> str | None:
    """ "Crosslay one and two": the second of the same family."""
    for k in range(site.i - 1, site.span.lo - 1, -1):
        item = site.span.items[k]
        if item.kind == "line":
            stem, _, last = str(item.value).rpartition("_")
            key = f"{stem}_{site.item.number:g}"
            return key if last.isdigit() and any(line.key == key for line in site.span.context.rig_lines) else None
        if item.kind == "family":
            return _member(item, site.item.number)
        if not item.free and item.kind != "num":
            return None
    return None


def _own_pack(site: Site) -> str | None:
    """The rig's one pack for standpipes: "the pack"."""
    packs = [line.key for line in site.span.context.rig_lines if line.device == "high_rise_pack"]
    return packs[0] if len(packs) == 1 else None


def _small_hose(site: Site) -> float | None:
    """The rig's one hand line smaller than 2 in and no booster: the "small line" (common practice)."""
    small = [size for size in site.span.context.own_hose_in if 1.5 <= size < 2]
    return small[0] if len(small) == 1 else None


def _division(site: Site) -> int | None:
    """ "Division 3": that floor."""
    number = str(site.item.value).removeprefix("division ")
    return int(number) if number.isdigit() else None


@fact
def _denies(site: Site) -> bool:
    """ "Fog, not smooth bore": a part of the lay behind it is said not to be so."""
    ahead = range(site.i + 1, min(site.i + 5, site.span.hi))
    parts = word_list("typing_parts")
    return any("not" in site.span.items[k].polarity and site.of(k) & parts for k in ahead)


@fact
def _counted_hundred(site: Site) -> bool:
    """ "Two hundred": with "lines" after it also two of a hundred."""
    words, said = site.item.text.split(), number_words()
    counted = len(words) > 1 and said.ones.get(words[0], 0) > 1
    return counted and said.scales.get(words[1]) == 100


@fact
def _fogged(site: Site) -> bool:
    """ "Fog 150 at 75": what stands before is the flow of a nozzle for a rated pressure."""
    return site.i > 1 and "u:None" in site.of(site.i - 2) and site.sees("has", "fog", "cellar")


@fact
def _own_length(site: Site) -> bool:
    """ "Rear line, whole 250 of it": the length that a line told of has in the rig."""
    named = {site.span.items[k].value for k in site.span.kinds("line")}
    return any(line.key in named and line.length_ft == _feet(site) for line in site.span.context.rig_lines)


@fact
def _busy_ahead(site: Site) -> bool:
    """Something is said before the next line is named: "… is off, and hold off on crosslay two"."""
    named = next((k for k in range(site.i + 1, site.span.hi) if "is:line" in site.of(k)), site.i)
    return any(not site.span.items[k].free for k in range(site.i + 1, named))


@fact
def _nothing_else(site: Site) -> bool:
    """Nothing but a line is told beside it."""
    own = ("is:line", "line", "last_one", "all_lines", "charged_state")
    return all(k == site.i or not site.of(k).isdisjoint(own) for k in site.span.content())


def _feet(site: Site) -> float:
    return in_unit(site.item, "ft", None) or 0.0


FACTS.update(
    {
        "large": lambda site: site.item.number >= 50,
        "plural_text": lambda site: site.item.text.endswith("s"),
        "aim_size": lambda site: 20 <= site.item.number <= 2000,
        "several_words": lambda site: " " in site.item.text,
        "next_tall": lambda site: any("tall" in signs for signs in site.seen("next")),
        "a_stream": lambda site: any(
            site.sees("has", str(line.device))
            for line in site.span.context.lines
            if line.device in ("aerial", "monitor")
        ),
        "lines_seen": lambda site: bool(site.span.context.lines),
        "ends": lambda site: site.i + 1 >= site.span.hi,
        "few": lambda site: site.item.number < 12,
        "tip_size": lambda site: site.item.number <= 3,
        "spoken_to": lambda site: not site.span.context.group or site.span.context.addressed,
        "by_driver": lambda site: site.span.context.role == "driver",
        "number_follows": lambda site: site.i + 1 < len(site.span.items) and site.span.items[site.i + 1].kind == "num",
        "first": lambda site: site.i == site.span.lo,
        "ends_next": lambda site: site.i + 2 >= site.span.hi,
        "a_line_on": lambda site: any(line.on for line in site.span.context.lines),
        "near_start": lambda site: site.span.lo <= 2,
        "pressure_before": lambda site: isinstance((site.span.context.last or (None,))[-1], PumpPressure),
        "metric": lambda site: site.span.context.units == "metric",
        "whole": lambda site: site.item.number == int(site.item.number),
        "slipped": lambda site: site.item.slip > 0,
        "denied": lambda site: "not" in site.item.polarity,
        "free": lambda site: site.item.free,
        "known_hose": lambda site: site.item.number in site.span.context.hose_in or site.item.number in sizes("hoses"),
        "hundredth_hose": lambda site: site.item.number / 100 in site.span.context.hose_in,
        "typed": lambda site: site.item.text[:1].isdigit(),
        "followed": lambda site: bool(site.beside(1)),
        "alone": lambda site: not site.beside(1) and not site.beside(-1),
        "of_them": lambda site: "of them" in " ".join(one.text for one in site.span.items[site.i + 1 : site.i + 3]),
        "underground": lambda site: any(one.endswith(("below grade", "underground")) for one in site.beside(1)),
        "high_place": lambda site: site.item.value in word_list("typing_high"),
        "supplies": lambda site: supplies(site.span, site.i),
    }
)
VALUES: dict[str, Callable[[Site], object]] = {
    "below": lambda site: -abs(_feet(site)),
    "one_up": lambda site: int(site.item.number) + 1,
    "levels_down": lambda site: -int(site.item.number),
    "nominal": lambda site: hose_in(site.item.number, site.span.context),
    "hundredth": lambda site: site.item.number / 100,
    "ldh": lambda site: ldh_in(site.span.context),
    "own_pack": _own_pack,
    "small_hose": _small_hose,
    "sibling": _sibling,
    "member": lambda site: _member(site.span.items[site.i - 1], site.item.number),
    "division": _division,
    "text": lambda site: site.item.text,
}
