"""Types the items of a lay by one declared table: which number is the length, the size, the flow, the tip …

The table is `language/typing.toml`. Its rules stand in classes (a number by its unit, a word, a name, …), are tried in
order, and each that holds gives the item one slot of its kind at most; `last` ends the class. A rule:

    is = "flow"                       the kind of slot
    when = ["before at", "!gun"]      all of these hold; "a | b": one of them
    range = [5, 4000]  step = 25  sizes = "tips"        of the number as it was said
    value = …                         the slot's value, where it isn't the number in the unit of its kind
    of = "below"                      or a function of this file that gives the value (none: no slot)
    cost = "likely"                   a name of grammar/costs.py; sure where none is given
    adds = true                       the slot of that kind given before costs so much more

A test looks at signs: terms, words, `is:kind`, `unit:ft`, `form:mixed`, `sized` (names a size or a length), `a_hose`.
It looks at the item's `own` signs, its `text`, what is `before` or `after` it past words that say nothing, `near`
(either), right `prev` or `next`, `soon` (two on), `close` (three either way), anywhere `behind`, `ahead`, `elsewhere`
or in all (`has`; `message`: beyond the stretch too); `said` and `told` look at single words, of all and before it.
A word that begins with $ is a word list. Any other test is a fact: one that the table declares, else one of this file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from grammar import costs
from grammar.items import Item
from grammar.lexicon import ENGLISH, by_language, language, speaking
from grammar.numbers import number_words
from grammar.readers.base import Span, in_unit
from grammar.readers.sizes import hose_in, sizes
from grammar.readers.supply_lay import is_supply, ldh_in
from grammar.vocabulary import word_list as declared_words


class Slot(NamedTuple):
    """One typed item. `kind`: len, hose, flow, npsi, tip, count, floor, rise, name, family, device, kind, split, …"""

    kind: str
    value: object
    at: int
    cost: float = 0.0
    form: str = ""
    """How a number was said, or the word itself."""


Signs = frozenset[str]
_NONE: Signs = frozenset()
_GUNS = frozenset(("deck_gun", "monitor", "aerial"))
_NOZZLES = frozenset(("tip", "smooth_bore", "nozzle"))
_OF_NOZZLE_IN = 3.5
"""A number up to this before "tip" is the tip's, inches: the largest of a master stream."""


@by_language
def word_list(name: str) -> Signs:
    """A word list of the language; where it has none the English one, which holds terms."""
    found = declared_words(name)
    if not found:
        with speaking(ENGLISH):
            found = declared_words(name)
    return found


class Sites:
    """The items of a stretch with their signs."""

    def __init__(self, span: Span) -> None:
        self.span = span
        self.signs = [_signs(span, k) for k in range(len(span.items))]

    def slots(self, i: int) -> Iterator[Slot]:
        """The ways to type an item, each kind of slot once."""
        item = self.span.items[i]
        site, found = Site(self, i), dict[str, Slot]()
        for rule in _table().classes.get(_class(self.span, item), ()):
            if (rule.kind in found) != rule.adds or not rule.holds(site):
                continue
            if not rule.kind:
                break
            if rule.adds:
                found[rule.kind] = found[rule.kind]._replace(cost=found[rule.kind].cost + rule.cost)
            elif (value := rule.gives(site)) is not None or rule.of is None:
                form = item.form if item.kind == "num" else item.text
                found[rule.kind] = Slot(rule.kind, value, i, rule.cost, rule.form or form)
            else:
                continue
            if rule.last:
                break
        yield from found.values()


def _class(span: Span, item: Item) -> str:
    """The class of rules that an item goes by."""
    if item.kind != "num":
        return "word" if item.kind == "term" else item.kind
    return (
        "ordinal"
        if item.form == "ordinal"
        else "pair"
        if "pair" in item.concepts
        else _CLASSES.get(item.unit or "", "other")
    )


_CLASSES: Mapping[str, str] = {
    "": "bare", "ft": "feet", "m": "feet", "in": "inches", "gpm": "gpm", "lpm": "gpm", "gal": "gallons", "l": "gallons",
    "psi": "psi", "bar": "psi", "kpa": "psi", "percent": "percent",
}  # fmt: skip


class Site:
    """An item of a stretch, with what stands around it."""

    __slots__ = ("beside", "i", "item", "signs", "span")

    def __init__(self, sites: Sites, i: int) -> None:
        self.span, self.signs, self.i = sites.span, sites.signs, i
        self.item = self.span.items[i]
        self.beside = {-1: self._near(-1), 1: self._near(1)}

    def of(self, k: int) -> Signs:
        """The signs of an item of the stretch."""
        return self.signs[k] if self.span.lo <= k < self.span.hi else _NONE

    def _near(self, step: int) -> Signs:
        """What stands beside, past words that say nothing, before the next pause."""
        k, items = self.i + step, self.span.items
        while self.span.lo <= k < self.span.hi and items[k].kind != "sep":
            if not items[k].free or not self.signs[k].isdisjoint(word_list("typing_labels")):
                return self.signs[k] - _NOZZLES if step < 0 and self._of_another(k) else self.signs[k]
            k += step
        return _NONE

    def _of_another(self, k: int) -> bool:
        """ "15/16 tip on 1.75", "7/8 tip plus 2.5": the nozzle has its number before it, or something parts them."""
        if self.signs[k].isdisjoint(_NOZZLES):
            return False
        if any(not self.signs[n].isdisjoint(("and", "on_end", "on")) for n in range(k + 1, self.i)):
            return True
        own = self.span.items[k - 1] if k > self.span.lo else None
        return own is not None and own.kind == "num" and own.unit in ("in", None) and own.number <= _OF_NOZZLE_IN

    def seen(self, where: str) -> Iterator[Signs]:
        """The signs of what stands there."""
        i, lo, hi = self.i, self.span.lo, self.span.hi
        if where in _BESIDE:
            yield from (self.beside[step] for step in _BESIDE[where])
        elif where in ("said", "told"):
            yield from (frozenset(item.text.split()) for item in self.span.items[lo : hi if where == "said" else i])
        elif where == "text":
            yield frozenset((self.item.text,))
        elif where == "message":
            yield from self.signs
        else:
            yield from map(self.of, _WHERE[where](i, lo, hi))


_BESIDE: Mapping[str, Sequence[int]] = {"before": (-1,), "after": (1,), "near": (-1, 1)}
_WHERE: Mapping[str, Callable[[int, int, int], Sequence[int]]] = {
    "own": lambda i, lo, hi: (i,),
    "prev": lambda i, lo, hi: (i - 1,),
    "next": lambda i, lo, hi: (i + 1,),
    "second_before": lambda i, lo, hi: (i - 2,),
    "soon": lambda i, lo, hi: range(i + 1, i + 3),
    "close": lambda i, lo, hi: (*range(i - 3, i), *range(i + 1, i + 4)),
    "behind": lambda i, lo, hi: range(lo, i),
    "ahead": lambda i, lo, hi: range(i + 1, hi),
    "elsewhere": lambda i, lo, hi: (*range(lo, i), *range(i + 1, hi)),
    "has": lambda i, lo, hi: range(lo, hi),
    "text": lambda i, lo, hi: (),
    "message": lambda i, lo, hi: (),
    "said": lambda i, lo, hi: (),
    "told": lambda i, lo, hi: (),
}


def _signs(span: Span, k: int) -> Signs:
    """What tests ask of an item."""
    item = span.items[k]
    signs = {*item.concepts, item.text, f"is:{item.kind}"}
    if item.kind == "line":
        signs.add("a_hose")
        signs.update(line.device for line in span.context.rig_lines if line.key == item.value and line.device)
    elif item.kind == "num":
        signs |= {f"unit:{item.unit}", f"form:{item.form}", f"n:{item.number:g}"}
        if sized(item):
            signs.add("sized")
        if item.number in sizes("tips"):
            signs.add("a_tip")
        if sized(item) and item.number < 2:  # "small line" names such hose
            signs.add("small")
        tip = any("tip" in one.concepts for one in span.items[k + 1 : min(k + 3, span.hi)])
        bare = item.unit is None and item.number in sizes("plain_hoses") and not tip
        if bare or (item.unit == "in" and item.number >= min(sizes("plain_hoses"))):
            signs |= {"a_hose", "hose_number"}
    elif "sprinkler" in item.concepts and "fire_connection" not in item.concepts:
        signs.add("sprinklers")
    return frozenset(signs)


def sized(item: Item) -> bool:
    """A number that is the size or the length of hose."""
    return item.kind == "num" and (item.unit in ("in", "mm", "ft", "m") or "hose_said" in item.concepts)


# ----------------------------------------------------------------------------------------------------------- the table

Test = Callable[[Site], bool]
Value = Callable[[Site], object]


class Rule(NamedTuple):
    """One row of the table; the fields stand as in the module's docstring."""

    kind: str
    tests: tuple[Test, ...]
    limits: tuple[float, float] | None
    step: float
    among: str
    value: object
    of: Value | None
    cost: float
    adds: bool
    last: bool
    form: str

    def holds(self, site: Site) -> bool:
        """Whether the item is what this rule is about."""
        number = site.item.value if isinstance(site.item.value, int | float) else 0.0
        if self.limits is not None and not self.limits[0] <= number <= self.limits[1]:
            return False
        if (self.step and number % self.step) or (self.among and number not in sizes(self.among)):
            return False
        return all(test(site) for test in self.tests)

    def gives(self, site: Site) -> object:
        """The slot's value; None where there is none."""
        if self.of is not None:
            return self.of(site)
        if self.value is not None or site.item.kind != "num":
            return site.item.value if self.value == "own" else self.value
        value = in_unit(site.item, *_UNITS.get(self.kind, ("in",)), None)
        return int(value) if value is not None and self.kind in _WHOLE else value


_UNITS: Mapping[str, tuple[str, ...]] = {
    "len": ("ft",), "rise": ("ft",), "flow": ("gpm", "gal", "l"), "npsi": ("psi",), "pump_psi": ("psi",),
    "intake": ("psi",), "percent": ("percent",),
}  # fmt: skip
_WHOLE = frozenset(("count", "nth", "floor"))


class Table(NamedTuple):
    """The rules by class, as the language declares them."""

    classes: Mapping[str, tuple[Rule, ...]]


@by_language
def _table() -> Table:
    spec = language().get("typing")
    if spec is None:  # the rules speak of terms, which every language has
        with speaking(ENGLISH):
            return _table()
    facts = {name: tuple(tests) for name, tests in spec["fact"].items()}
    return Table({name: tuple(_rule(row, facts) for row in rows) for name, rows in spec["rules"].items()})


def _rule(row: Mapping[str, Any], facts: Mapping[str, Sequence[str]]) -> Rule:
    limits = row.get("range")
    return Rule(
        row.get("is", ""),
        tuple(_either(test, facts) for test in row.get("when", ())),
        (limits[0], limits[1]) if limits else None,
        row.get("step", 0),
        row.get("sizes", ""),
        row.get("value"),
        _VALUES[row["of"]] if "of" in row else None,
        getattr(costs, row.get("cost", "sure").upper()),
        row.get("adds", False),
        row.get("last", False),
        row.get("form", ""),
    )


def _either(said: str, facts: Mapping[str, Sequence[str]]) -> Test:
    ways = [_test(one.strip(), facts) for one in said.split(" | ")]
    return ways[0] if len(ways) == 1 else lambda site: any(way(site) for way in ways)


def _test(said: str, facts: Mapping[str, Sequence[str]]) -> Test:
    if said.startswith("!"):
        other = _test(said[1:], facts)
        return lambda site: not other(site)
    name, *words = said.split()
    if name in _BESIDE or name in _WHERE:
        return partial(_sees, where=name, signs=_listed(" ".join(words)))
    if name in facts:
        parts = [_either(test, facts) for test in facts[name]]
        return lambda site: all(part(site) for part in parts)
    return _FACTS[name]


def _listed(words: str) -> Signs:
    """Signs, parted by spaces; a comma between them where they are of several words."""
    found = [one.strip() for one in (words.split(",") if "," in words else words.split())]
    lists = [word_list(one[1:]) for one in found if one.startswith("$")]
    return frozenset(one for one in found if not one.startswith("$")).union(*lists)


def _sees(site: Site, where: str, signs: Signs) -> bool:
    return any(not seen.isdisjoint(signs) for seen in site.seen(where))


# ------------------------------------------------------------------------------- facts and values of this file's making


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


def _at_a_tip(site: Site) -> bool:
    """ "15/16 tip at 50", "smooth bore 7/8, 50": what stands before is a tip, or a size that a gun's tip has."""
    for k in range(site.i - 1, max(site.i - 4, site.span.lo - 1), -1):
        signs, item = site.of(k), site.span.items[k]
        if signs & {"tip", "smooth_bore", "form:fraction"}:
            return True
        if "a_tip" in signs and signs & {"form:mixed", "form:decimal"} and _sees(site, "has", _GUNS):
            return True
        if item.kind == "num" and not (item.unit is None and item.number < 2):
            return False
    return False


def _labels(site: Site) -> bool:
    """A number or a nozzle stands beside: alone, "floor" or "down" explains nothing."""
    beside = _sees(site, "close", frozenset(("is:num", "is:line", "is:floor", "fog", *_NOZZLES, "nozzle_psi")))
    level = site.of(site.i) & {"floors_up", "floors_down", "down"}
    return beside and (not level or "is:num" in site.of(site.i - 1))


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
        if level or signs & {"unit:ft", "unit:m"} or ("is:num" in signs and "floor" in own):
            return True
    return False


def _hose_next(site: Site) -> bool:
    """A length or a size, soon."""
    for k in range(site.i + 1, min(site.i + 4, site.span.hi)):
        if site.of(k) & {"unit:ft", "unit:in", "unit:m", "unit:mm"}:
            return True
        if not site.span.items[k].free:
            break
    return False


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


def _of_two_runs(site: Site) -> bool:
    """ "Both 300 feet of 2½ and 50 feet of 1¾": those two, each once."""
    ahead = range(site.i + 1, site.span.hi)
    joined = next((k for k in ahead if "and" in site.of(k)), -1)
    feet = [k for k in ahead if site.of(k) & {"unit:ft", "unit:m"}]
    lines = any("line" in site.of(k) for k in range(site.i + 1, joined))
    return joined > 0 and not lines and any(k < joined for k in feet) and any(k > joined for k in feet)


def _runs_on(site: Site) -> bool:
    """ "Crosslay 1 and the rear line are both flowing": no count of what follows."""
    after = next((site.of(k) for k in range(site.i + 1, site.span.hi) if not site.span.items[k].free), _NONE)
    return _sees(site, "behind", frozenset(("is:line", "is:family", "is:num"))) and bool(
        after & {"flow_on", "charge", "charged_state"}
    )


def supplies(span: Span, i: int) -> bool:
    """The rig's supply line: its name says what the hose is for, the hose is said beside it."""
    line = next((line for line in span.context.rig_lines if line.key == span.items[i].value), None)
    if line is None or line.device is not None or line.hose_in is None or not is_supply(span.context, line.hose_in):
        return False
    return span.has("ldh") or any(sized(span.items[k]) for k in span.kinds("num"))


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


def _denies(site: Site) -> bool:
    """ "Fog, not smooth bore": a part of the lay behind it is said not to be so."""
    ahead = range(site.i + 1, min(site.i + 5, site.span.hi))
    parts = word_list("typing_parts")
    return any("not" in site.span.items[k].polarity and site.of(k) & parts for k in ahead)


def _counted_hundred(site: Site) -> bool:
    """ "Two hundred": with "lines" after it also two of a hundred."""
    words, said = site.item.text.split(), number_words()
    counted = len(words) > 1 and said.ones.get(words[0], 0) > 1
    return counted and said.scales.get(words[1]) == 100


def _fogged(site: Site) -> bool:
    """ "Fog 150 at 75": what stands before is the flow of a nozzle for a rated pressure."""
    return site.i > 1 and "unit:None" in site.of(site.i - 2) and _sees(site, "has", frozenset(("fog", "cellar")))


def _feet(site: Site) -> float:
    return in_unit(site.item, "ft", None) or 0.0


_FACTS: Mapping[str, Test] = {
    "metric": lambda site: site.span.context.units == "metric",
    "whole": lambda site: site.item.number == int(site.item.number),
    "slipped": lambda site: site.item.slip > 0,
    "denied": lambda site: "not" in site.item.polarity,
    "free": lambda site: site.item.free,
    "known_hose": lambda site: site.item.number in site.span.context.hose_in or site.item.number in sizes("hoses"),
    "hundredth_hose": lambda site: site.item.number / 100 in site.span.context.hose_in,
    "typed": lambda site: site.item.text[:1].isdigit(),
    "followed": lambda site: bool(site.beside[1]),
    "alone": lambda site: not site.beside[1] and not site.beside[-1],
    "of_them": lambda site: "of them" in " ".join(one.text for one in site.span.items[site.i + 1 : site.i + 3]),
    "underground": lambda site: any(one.endswith(("below grade", "underground")) for one in site.beside[1]),
    "high_place": lambda site: site.item.value in word_list("typing_high"),
    "denies": _denies,
    "fogged": _fogged,
    "led_to_floor": _led_to_floor,
    "at_a_tip": _at_a_tip,
    "labels": _labels,
    "climbs_so_far": _climbs_so_far,
    "hose_next": _hose_next,
    "fed": _fed,
    "of_two_runs": _of_two_runs,
    "runs_on": _runs_on,
    "supplies": lambda site: supplies(site.span, site.i),
    "member_next": _member_next,
    "counted_hundred": _counted_hundred,
}
_VALUES: Mapping[str, Value] = {
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
