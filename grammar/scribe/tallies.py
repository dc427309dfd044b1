"""Tallies of a triage in a message: counted, changed, moved, gone, and what is wanted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, cast

from grammar.commands_medical import Triage, TriageGroup
from grammar.numbers import numbers_at
from grammar.scribe.clauses import Clause
from grammar.scribe.matching import Found, words_of_care


def triage(found: Sequence[Found], parts: Sequence[Clause], text: str) -> Iterator[Triage]:
    kinds = {fact.kind for fact in found}
    place = next((_place(fact, clause) for clause in parts for fact in clause.of("place")), None)
    unit = next((fact.values["unit"] for fact in found if "unit" in fact.values), None)
    if "triage_started" in kinds:
        yield Triage("started")
    if "all_gone" in kinds:
        yield Triage("transported", all=True, unit=unit)
    for fact in (one for one in found if one.kind == "changed"):
        one = TriageGroup(fact.values["category"], int(fact.values.get("count", 1)))
        yield Triage("changed", (one,), to_category=fact.values["category_to"])
    groups = tuple(_group(fact) for fact in found if fact.kind == "group")
    if groups:
        gone = "gone" in kinds or any(f.kind in ("disposition", "transferred") for f in found)
        if gone:
            yield Triage("transported", groups, unit=unit or _company(parts), place=None)
        elif "moved" in kinds:
            yield Triage("moved", groups, place=_moved_to(found, parts))
        else:
            total = any(
                {"total", "now", "altogether", "all"} & {clause.words[i] for i in clause.left}
                and not clause.has("changed")
                for clause in parts
                if clause.has("group")
            )
            yield Triage("total" if total and "total" in text.casefold() else "counted", groups, place=place)
    elif "changed_patient" in kinds and "changed" not in kinds:
        to = next(fact.values["category"] for fact in found if fact.kind == "changed_patient")
        yield Triage("changed", to_category=to)
    for fact in (one for one in found if one.kind == "wanted"):
        yield Triage("wanted", count=int(fact.values.get("count", 1)), want="ambulances")
    for fact in (one for one in found if one.kind == "total" and not groups):
        yield Triage("total", count=int(fact.values["count"]), place=place)


def _company(parts: Sequence[Clause]) -> str | None:
    words = parts[0].words if parts else []
    companies = words_of_care().get("companies", frozenset())
    for i, word in enumerate(words[:-1]):
        if word in companies:
            number = next((n for n in numbers_at(words, i + 1) if n.form in ("int", "digits")), None)
            if number is not None:
                return f"{word} {int(number.value)}"
    return None


def _moved_to(found: Sequence[Found], parts: Sequence[Clause]) -> str | None:
    fact = next(fact for fact in found if fact.kind == "moved")
    clause = next(part for part in parts if part.lo <= fact.start < part.hi)
    said = clause.words[fact.start : fact.end]
    return " ".join(said[said.index("to") + 1 :]).removeprefix("the ") if "to" in said else None


def _place(fact: Found, clause: Clause) -> str:
    return " ".join(clause.words[fact.start : fact.end])


def _group(fact: Found) -> TriageGroup:
    category = fact.values.get("category") or fact.values.get("categories")
    return TriageGroup(cast(Any, category), int(fact.values.get("count", 1)))
