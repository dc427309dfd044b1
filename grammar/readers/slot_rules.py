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

Tests are those of grammar/readers/signs.py.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from grammar.items import Item
from grammar.lexicon import by_language
from grammar.readers.base import Span, in_unit
from grammar.readers.signs import Site, Test, compiled, cost, declared
from grammar.readers.sizes import sizes
from grammar.readers.slot_facts import VALUES


class Slot(NamedTuple):
    """One typed item. `kind`: len, hose, flow, npsi, tip, count, floor, rise, name, family, device, kind, split, …"""

    kind: str
    value: object
    at: int
    cost: float = 0.0
    form: str = ""
    """How a number was said, or the word itself."""


def ways(span: Span, i: int) -> tuple[Slot, ...]:
    """The ways to type an item, each kind of slot once."""
    site, found = Site(span, i), dict[str, Slot]()
    item = site.item
    for rule in _rules().get(_class(item), ()):
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
    return tuple(found.values())


def _class(item: Item) -> str:
    """The class of rules that an item goes by."""
    if item.kind != "num":
        return "word" if item.kind == "term" else item.kind
    if item.form == "ordinal":
        return "ordinal"
    return "pair" if "pair" in item.concepts else _CLASSES.get(item.unit or "", "other")


_CLASSES: Mapping[str, str] = {
    "": "bare", "ft": "feet", "m": "feet", "in": "inches", "gpm": "gpm", "lpm": "gpm", "gal": "gallons", "l": "gallons",
    "psi": "psi", "bar": "psi", "kpa": "psi", "percent": "percent",
}  # fmt: skip


# ----------------------------------------------------------------------------------------------------------- the table


class Rule(NamedTuple):
    """One row of the table; the fields stand as in the module's docstring."""

    kind: str
    tests: tuple[Test, ...]
    limits: tuple[float, float] | None
    step: float
    among: str
    value: object
    of: Callable[[Site], object] | None
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


@by_language
def _rules() -> Mapping[str, tuple[Rule, ...]]:
    """The rules by class, as the language declares them."""
    return {name: tuple(map(_rule, rows)) for name, rows in declared("typing").items()}


def _rule(row: Mapping[str, Any]) -> Rule:
    limits = row.get("range")
    return Rule(
        row.get("is", ""),
        tuple(compiled(test) for test in row.get("when", ())),
        (limits[0], limits[1]) if limits else None,
        row.get("step", 0),
        row.get("sizes", ""),
        row.get("value"),
        VALUES[row["of"]] if "of" in row else None,
        cost(row.get("cost", "sure")),
        row.get("adds", False),
        row.get("last", False),
        row.get("form", ""),
    )
