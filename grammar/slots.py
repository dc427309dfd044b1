"""Slots: the typed values a command is filled with: numbers by unit, name or range; units, places, times.

    [slot.gauge]
    units = ["psi", "bar"]        said in one of these it is one; the first is the unit of the value
    bare = [100, 6000]            a number without a unit is one within these
    range = [0, 6000]             outside these it is asked about, never taken
    named = ["gauge_word"]        terms that name it, right before or after ("word:ahead": a word of that list)
    named_bare = [0, 300]         a number without a unit is one within these where it is named
    share = 1                     a share, "a half", "50 percent", of this much
    only_named = true             without such a term beside it, it is none
    unnamed = [500, 20000]        without one, only within these
    gauge = true                  a cylinder's gauge: a bare number is bar where people speak metric
    whole = true
    draw = "gauge"                the numbers that drawn sentences say

    examples = ["check the roof"]  the words that drawn sentences say where a slot keeps words

    [slot.form]
    choices = { pdf = ["pdf_word"] }    value -> terms; drawn sentences say the first

    [slot.unit]
    kind = "unit"                 or place, time, topic, said (the words; `named`: beside such a term), rest

Which number fills which slot is decided for all of them together: the way that leaves fewest over, then the surest.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from grammar.items import Item
from grammar.lexicon import by_language, language
from grammar.readers.base import Span, Take, gauge_psi, in_unit
from grammar.vocabulary import vocabulary, word_list

_NAMED, _UNIT, _NAMED_BARE, _BARE, _SHARED, _LEFT = 0.0, 0.01, 0.015, 0.02, 0.1, 1.0
"""What it costs to fill a slot with a number that is named, has the unit, is bare but named, or is bare; with a bare
one that another slot could take as well; and what a number costs that fills none."""
_REACH = 3
_ANY = (-1e9, 1e9)


class Slot(NamedTuple):
    """One declared slot; the fields stand as in the module's docstring."""

    name: str
    kind: str
    units: tuple[str, ...]
    bare: tuple[float, float] | None
    named_bare: tuple[float, float] | None
    share: float | None
    limits: tuple[float, float]
    named: tuple[str, ...]
    only_named: bool
    unnamed: tuple[float, float]
    gauge: bool
    whole: bool
    ordinal: bool
    choices: Mapping[Any, tuple[str, ...]]
    draw: str | None
    examples: tuple[str, ...]


@by_language
def slots() -> dict[str, Slot]:
    """Every slot of the language, by name."""
    return {name: _slot(name, spec) for name, spec in language()["slot"].items()}


def _slot(name: str, spec: dict[str, Any]) -> Slot:
    kind = spec.get("kind", "choice" if "choices" in spec else "number")
    bare, named_bare = spec.get("bare"), spec.get("named_bare")
    return Slot(
        name,
        kind,
        tuple(spec.get("units", ())),
        (bare[0], bare[1]) if bare else None,
        (named_bare[0], named_bare[1]) if named_bare else None,
        spec.get("share"),
        tuple(spec.get("range", _ANY)),
        tuple(spec.get("named", ())),
        spec.get("only_named", False),
        tuple(spec.get("unnamed", _ANY)),
        spec.get("gauge", False),
        spec.get("whole", False),
        spec.get("ordinal", False),
        {value: tuple(terms) for value, terms in spec.get("choices", {}).items()},
        spec.get("draw"),
        tuple(spec.get("examples", ())),
    )


def fill(wanted: Mapping[str, Slot], take: Take) -> dict[str, Any]:
    """Fills the slots from what is said and not yet explained: field -> value."""
    values: dict[str, Any] = {}
    numbers = {field: slot for field, slot in wanted.items() if slot.kind == "number"}
    if numbers:
        values |= _numbers(numbers, take)
    for field, slot in wanted.items():
        if slot.kind != "number":
            value = _other(slot, take)
            if value is not None:
                values[field] = value
    return values


def _other(slot: Slot, take: Take) -> Any:
    match slot.kind:
        case "choice":
            return _chosen(slot, take)
        case "unit":
            return take.unit()
        case "place":
            return take.place()
        case "time":
            return take.time()
        case "rest":
            return _rest(take)
        case "topic":
            return _topic(take)
        case "said":
            return take.span.text() if not slot.named or take.terms(*slot.named) else None
        case _:
            raise ValueError(f"slot {slot.name}: no kind is called {slot.kind}")


def _chosen(slot: Slot, take: Take) -> Any:
    """The value whose term is said: a cue may be the term too; what stands before the cue addresses somebody."""
    cue = (take.used & -take.used).bit_length() - 1
    for k in range(max(len(terms) for terms in slot.choices.values())):
        for value, terms in slot.choices.items():
            if k < len(terms) and (at := [i for i in take.span.where(terms[k]) if i >= cue]):
                take.mark(*at)
                return value
    return None


def _rest(take: Take) -> str | None:
    """The words after all that is explained, else those between the cue and the last of it: kept as said."""
    items, span = take.span.items, take.span
    known = [i for i in range(span.lo, span.hi) if take.taken(i)]
    for lo, hi in ((known[-1] + 1, span.hi), (known[0] + 1, known[-1])):
        hi = next((i for i in range(lo, hi - 1) if _asks_more(items, i)), hi)
        said = [i for i in range(lo, hi) if items[i].kind != "sep" and not take.taken(i)]
        first = ""
        leads = word_list("rest_leads")
        while said and first not in word_list("rest_to_do") and (items[said[0]].text in leads or items[said[0]].free):
            first, said = items[said[0]].text, said[1:]  # what is to be done is all of it, "look" and "go back" too
        around = leads if hi < span.hi else frozenset[str]()
        while said and (items[said[-1]].text in around or "tail_word" in items[said[-1]].concepts):
            said = said[:-1]
        if said:
            take.mark(*range(lo, hi))
            return " ".join(items[i].text for i in said)
    return None


def _asks_more(items: list[Item], i: int) -> bool:
    """ "… and tell me what crosslay 2 wants": a question by itself, no more of what the words are about."""
    after = items[i + 1]
    return "and" in items[i].concepts and not after.concepts.isdisjoint(
        ("ask_pressure", "ask_flow", "tank_time", "par_request")
    )


def _topic(take: Take) -> str | None:
    """The help topic that the words not yet explained name; then all of them are."""
    items = take.span.items
    cue = (take.used & -take.used).bit_length()
    rest = [i for i in take.open() if items[i].kind != "sep" and i >= cue]
    said = " ".join(items[i].text for i in rest)
    for topic in vocabulary().topics:
        for name in (topic.name, *topic.also):
            if name in said.split() or f"{name}s" in said.split() or (" " in name and name in said):
                take.mark(*rest)
                return topic.name
    return None


# ------------------------------------------------------------------------------------------------------------- numbers


def _numbers(wanted: Mapping[str, Slot], take: Take) -> dict[str, float | int]:
    span = take.span
    at = [i for i in take.open() if span.items[i].kind == "num" and "pair" not in span.items[i].concepts]
    ways = {
        i: {field: found for field, slot in wanted.items() if (found := _fits(slot, span, take, i)) is not None}
        for i in at
    }
    _, chosen = _assign(at, ways, frozenset())
    values: dict[str, float | int] = {}
    for i, field in chosen:
        cost, value = ways[i][field]
        take.mark(i, *_names(wanted[field], span, i))
        take.cost += cost if cost >= _SHARED else 0.0
        values[field] = int(value) if wanted[field].whole else value
    return values


def _fits(slot: Slot, span: Span, take: Take, i: int) -> tuple[float, float] | None:
    """The number as this slot's value, and how sure that is; None where it can't be."""
    item = span.items[i]
    if (item.form == "ordinal") != slot.ordinal:
        return None
    value = _value(slot, item)
    if value is None or not slot.limits[0] <= value <= slot.limits[1] or (slot.whole and value != int(value)):
        return None
    if _names(slot, span, i):
        within = slot.named_bare or _ANY
        named = _NAMED if item.unit is not None or slot.named_bare is None else _NAMED_BARE
        return (named, value) if item.unit is not None or within[0] <= value <= within[1] else None
    if slot.only_named or not slot.unnamed[0] <= value <= slot.unnamed[1]:
        return None
    if item.unit is not None or slot.share:
        return _UNIT, value
    return (_BARE, value) if slot.bare and slot.bare[0] <= value <= slot.bare[1] else None


def _value(slot: Slot, item: Item) -> float | None:
    if slot.gauge:
        return gauge_psi(item)
    if slot.share:
        return _share(slot.share, item)
    bare = [None] if slot.bare or slot.named_bare else []
    return in_unit(item, *slot.units, *bare) if slot.units else _bare(item)


def _share(whole: float, item: Item) -> float | None:
    if item.unit == "percent":
        return item.number / 100 * whole
    return item.number * whole if item.unit is None and item.form == "fraction" and 0 < item.number < 1 else None


def _bare(item: Item) -> float | None:
    return item.number if item.unit is None else None


def _names(slot: Slot, span: Span, i: int) -> list[int]:
    """The term that names the slot: before the number or after it, with nothing between that says anything."""
    lists = [name.removeprefix("word:") for name in slot.named if name.startswith("word:")]
    for step in (-1, 1):
        for k in range(i + step, i + step * (_REACH + 1), step):
            if not span.lo <= k < span.hi:
                break
            item = span.items[k]
            if not item.concepts.isdisjoint(slot.named) or any(item.text in word_list(name) for name in lists):
                return [k]
            if item.kind == "num" and item.unit is not None and item.unit not in slot.units:
                continue  # "20 feet of 6 inch suction"
            if not item.free or (item.kind == "sep" and (step > 0 or item.text not in ":,")):
                break
    return []


def _assign(
    at: list[int], ways: Mapping[int, Mapping[str, tuple[float, float]]], used: frozenset[str]
) -> tuple[float, tuple[tuple[int, str], ...]]:
    """The cheapest way to give each number a slot of its own."""
    if not at:
        return 0.0, ()
    first, rest = at[0], at[1:]
    cost, chosen = _assign(rest, ways, used)
    best = (cost + _LEFT, chosen)
    free = [field for field in ways[first] if field not in used]
    for k, field in enumerate(free):
        own = ways[first][field][0]
        cost, chosen = _assign(rest, ways, used | {field})
        total = cost + own + (k * _BARE if own >= _BARE else 0.0)
        if total < best[0]:
            best = (total, ((first, field), *chosen))
    return best
