"""Whether a message is about a patient: certain facts, or weak ones that show it together or on a medical call."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.commands import Context
from grammar.scribe.matching import MARKS, Found, words_of_care

_PLAINLY_GAUGED = (14, 26)
"""Gauges of a needle: beside a place of the body it can be nothing else."""


def claimed(words: Sequence[str], found: Sequence[Found], on_call: bool, context: Context) -> bool:
    """Whether the scribe reads the message; else the rest of the grammar does."""
    care = words_of_care()
    content = [word for word in words if word not in MARKS]
    strong = [fact for fact in found if _is_strong(fact, on_call)]
    weak = {fact.kind for fact in found}
    if context.mayday_open and not any(fact.kind in ("drug", "vital", "procedure") for fact in strong):
        return False
    if content in (["no", "pulse"], ["no", "pulses"]):
        return False
    if not strong and not care["arrest"].isdisjoint(words):
        drugs = {fact.values["drug"] for fact in found if fact.kind == "drug"}
        if weak - {"drug"} <= care["kinds_of_the_arrest"] and not drugs - {"epinephrine"}:
            return bool(drugs) and _fuller_dose(found)
    pumping = not (care["pump_on_call"] if on_call else care["pump"]).isdisjoint(words)
    if strong:
        signs = sum(fact.kind in ("vital", "gauge") for fact in strong)
        laying = not on_call and not care["laid"].isdisjoint(words)  # "inch and a half puls a hundred": a lay
        return not pumping or {"drug", "dose"} <= weak or signs > laying
    return not pumping and (_shown_together(words, found, weak) or _shown_on_call(words, found, weak, on_call, context))


def _is_strong(fact: Found, on_call: bool) -> bool:
    """A number of a patient is one on a call only; epinephrine may be the arrest's."""
    if fact.fact.weak or (fact.kind == "patient" and not on_call):
        return False
    return fact.values.get("drug") != "epinephrine"


def _fuller_dose(found: Sequence[Found]) -> bool:
    """Epinephrine by a route or in a dose that the arrest's own words don't say."""
    doses = [
        (fact.values.get("dose", fact.values.get("amount", 1.0)), fact.values.get("dose_unit", "mg"))
        for fact in found
        if fact.kind == "dose" or "amount" in fact.values or "dose_unit" in fact.values
    ]
    return any(fact.kind in ("route", "by") for fact in found) or any(dose != (1.0, "mg") for dose in doses)


def _shown_together(words: Sequence[str], found: Sequence[Found], weak: set[str]) -> bool:
    """Facts that show it wherever they stand together."""
    care = words_of_care()
    pairs = ({"route", "site"}, {"drug", "by"}, {"drug", "dose"}, {"drug", "route"}, {"who", "about_age"})
    if any(pair <= weak for pair in pairs) or sum(fact.kind == "group" for fact in found) > 1:
        return True
    if "drug" in weak and not (care["done"] | {"in", "down"}).isdisjoint(words):
        return True
    low, high = _PLAINLY_GAUGED
    if "site" in weak and any(fact.kind == "gauge" and low <= fact.values["gauge"] <= high for fact in found):
        return True
    shown = weak & care["kinds_showing"]
    if shown & care["kinds_anchoring"] == {"procedure"} and shown <= {"procedure", "dose", "oxygen_flow"}:
        return False  # "oxygen at 15 liters": how long its cylinder lasts, elsewhere
    return len(shown) > 1 and bool(shown & care["kinds_anchoring"])


def _shown_on_call(
    words: Sequence[str], found: Sequence[Found], weak: set[str], on_call: bool, context: Context
) -> bool:
    """A single one, where patients are spoken of anyway."""
    if not on_call or (weak == {"vital"} and "percent" in words and _content(words, found)):
        return False
    claims = weak & words_of_care()["kinds_claiming"]
    if claims <= {"trapped", "freed"}:
        return "freed" in claims and context.trapped
    return bool(claims)


def _content(words: Sequence[str], found: Sequence[Found]) -> bool:
    """Words that say more than the facts."""
    taken = {i for fact in found for i in range(fact.start, fact.end)}
    plain = words_of_care()["plain"]
    return any(i not in taken and word not in plain and word not in MARKS for i, word in enumerate(words))
