"""Who a patient is and what happened, from the facts of a message; all else stays in the words that were said."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from grammar.commands_medical import PatientTold
from grammar.scribe.clauses import Clause, denied
from grammar.scribe.matching import Found

_LB = 0.45359237
"""kg a pound (NIST Handbook 44, exact)."""
_LISTED = 6
"""Words of a further part of a list at most."""
_OLDEST = 110
_PERSON = frozenset(("sex", "patient_word", "age", "sexed_age", "patient", "who"))

Told = dict[str, Any]


def patient_told(found: Sequence[Found], parts: Sequence[Clause]) -> PatientTold | None:
    """What is told of who they are and what happened; None where nothing is."""
    told: Told = {}
    for k, clause in enumerate(parts):
        for fact in clause.facts:
            if fact.kind in _TAKEN and not (fact.kind in _DENIABLE and denied(clause, fact)):
                _TAKEN[fact.kind](fact, told, parts[k:])
    if "age" not in told and any(fact.kind in _PERSON for fact in found):
        about = next((fact.values["age"] for fact in found if fact.kind == "about_age"), 0)
        told |= {"age": about} if 0 < about <= _OLDEST else {}
    if not told and not any(fact.kind in ("finding", "mechanism") for fact in found):
        return None
    return PatientTold(**told)


def _age(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    values = fact.values
    told["age"] = values["age"]
    if "age_unit" in values:
        told["age_unit"] = values["age_unit"]
    sex = values.get("sex") or values.get("sexed") or values.get("sexed_long")
    if sex:
        told["sex"] = sex


def _sex(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    told.setdefault("sex", fact.values["sex"])


def _complaint(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    said = fact.values.get("complaint") or fact.values.get("words") or fact.values.get("mechanism")
    told["complaint"] = ", ".join(dict.fromkeys(filter(None, (told.get("complaint"), said))))


def _began(name: str) -> Callable[[Found, Told, Sequence[Clause]], None]:
    """Onset, or last known well: so long ago, or at a time of day."""

    def take(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
        if "span" in fact.values:
            told[f"{name}_s"] = fact.values["span"]
        if "clock" in fact.values:
            told[f"{name}_time"] = fact.values["clock"]

    return take


def _listed(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    """Allergies, medicines, history: in the words that were said, with the rest of their list."""
    said = fact.values.get(fact.kind) or fact.values.get("words")
    if said is None or fact.kind == "medicines":
        said = " ".join(behind[0].words[fact.start : fact.end])
    told[fact.kind] = ", ".join((said, *_more(behind[1:])))


def _more(behind: Sequence[Clause]) -> Iterator[str]:
    """ "Metoprolol, lisinopril and eliquis": clauses behind a list that tell nothing by themselves are more of it."""
    for part in behind:
        if part.facts or len(part.said) > _LISTED:
            return
        yield " ".join(part.said)


def _weight(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    told["weight_kg"] = fact.values["weight"] * (_LB if fact.values.get("unit") == "lb" else 1.0)


def _disposition(fact: Found, told: Told, behind: Sequence[Clause]) -> None:
    told["disposition"] = fact.values["disposition"]
    to = fact.values.get("destination") or fact.values.get("few")
    if to:
        told["to"] = to


_TAKEN: dict[str, Callable[[Found, Told, Sequence[Clause]], None]] = {
    "age": _age,
    "sexed_age": _age,
    "sex": _sex,
    "complaint": _complaint,
    "mechanism": _complaint,
    "onset": _began("onset"),
    "well": _began("well"),
    "allergies": _listed,
    "medicines": _listed,
    "history": _listed,
    "weight": _weight,
    "unstable": lambda fact, told, behind: told.update(unstable=fact.values["unstable"] == "yes"),
    "trapped": lambda fact, told, behind: told.update(trapped=True),
    "freed": lambda fact, told, behind: told.update(trapped=False),
    "born": lambda fact, told, behind: told.update(born=True),
    "disposition": _disposition,
}
_DENIABLE = frozenset(("complaint", "mechanism", "trapped"))
"""What isn't told behind a denial: "no chest pain"."""
