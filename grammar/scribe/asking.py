"""Questions about patients: answered from the log where it is plain what is asked; nothing is logged by them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from grammar.commands_medical import CareAsked, HandOver
from grammar.scribe.matching import Found, values_of_care, words_of_care

Which = Literal["first", "last", "trend", "when", "count", "since", "left"]


def is_question(words: Sequence[str], text: str) -> bool:
    """By its mark, its first word, or an auxiliary with its subject, behind whoever is called."""
    if text.rstrip().endswith("?"):
        return True
    care = words_of_care()
    said = [word for word in words if word not in (",", ".", "hey", "and", "so", "ok", "okay", "uh", "um", "crosslay")]
    for k in range(min(3, len(said))):
        if said[k] in care["questions"] and (
            k == 0 or said[k - 1] in ("officer", "command", "crew", "medic", "driver", "cap")
        ):
            return True
        if said[k] in care["auxiliaries"] and k + 1 < len(said) and said[k + 1] in care["subjects"] and k == 0:
            return True
    return bool(said) and said[0] in ("want", "wanna", "any", "anybody", "anyone", "need") and "me" in said[:3]


def asked(words: Sequence[str], found: Sequence[Found], text: str) -> CareAsked | HandOver | None:
    """What is asked, where it is about patients."""
    said = set(words)
    patient = next(
        (f"{int(f.values['number'])}" for f in found if f.kind in ("patient", "hand_over") and "number" in f.values),
        None,
    )
    if any(fact.kind == "hand_over" for fact in found):
        return HandOver(patient)
    about = _about_what(words, said, found)
    return about if about is None else CareAsked(about.about, about.name, about.which, patient)


def _about_what(words: Sequence[str], said: set[str], found: Sequence[Found]) -> CareAsked | None:
    drug = next((fact.values["drug"] for fact in found if fact.kind == "drug"), None)
    procedure = next(
        (fact.values["procedure"] for fact in found if fact.kind == "procedure" and not fact.fact.weak), None
    )
    vital = _vital_named(words)
    which = _which(words, said)
    if said & {"well", "normal", "lkw"} and {"last"} & said:
        return CareAsked("clocks", "well", "since")
    if said & {"allergies", "allergic", "allergy", "meds", "medications", "age", "complaint", "onset"}:
        return CareAsked("history")
    if said & {"shocks", "shock", "shocked", "cpr", "compressions", "epi", "epis", "epinephrine"} and drug in (
        None,
        "epinephrine",
    ):
        return (
            CareAsked("drug", "epinephrine", which)
            if drug
            else CareAsked("arrest", "shocks" if said & {"shocks", "shock", "shocked"} else None, which)
        )
    if drug is not None:
        return CareAsked("drug", drug, which)
    if said & {"drugs", "meds", "medications"} and said & {"what", "which"}:
        return CareAsked("drug", None, which)
    if procedure is not None:
        return CareAsked("procedure", procedure, which or "when")
    if said & {"tourniquet", "iv", "twelve", "12"} and which:
        return CareAsked("procedure", None, which)
    if vital is not None and (which is not None or said & {"what", "whats", "which"}):
        return CareAsked("vitals", vital, which)
    if said & {"vitals", "vital", "trend", "trends"} or (said & {"set"} and "last" in said):
        return CareAsked("vitals", None, which or ("trend" if said & {"trend", "trends", "changed"} else "last"))
    if _counts_patients(words, said):
        return CareAsked("patients", None, "left" if said & {"left", "remaining", "still"} else "count")
    return None


def _vital_named(words: Sequence[str]) -> str | None:
    named = values_of_care("asked_vital")
    return next((named[word] for word in words if word in named), None)


def _which(words: Sequence[str], said: set[str]) -> Which | None:
    if "many" in said or "much" in said or "times" in said:
        return "count"
    if said & {"first", "initial", "baseline", "original", "starting"}:
        return "first"
    if "long" in said and said & {"since", "ago", "on", "been"}:
        return "since"
    if said & {"when", "time"}:
        return "when"
    if said & {"trend", "changed", "trending"}:
        return "trend"
    return "last" if said & {"last", "latest", "now", "current"} else None


def _counts_patients(words: Sequence[str], said: set[str]) -> bool:
    text = " ".join(words)
    if "many" in said and (
        said & words_of_care()["counted"] or text.startswith(("how many have we", "how many do we", "how many are"))
    ):
        return True
    return (
        text.strip(" ?.")
        in (
            "what is left",
            "who is left",
            "what do we have left",
            "what have we got left",
            "what do we have",
            "what have we got",
        )
        or (bool(said & {"left", "remaining"}) and bool(said & words_of_care()["counted"]))
        or bool(said & {"tally", "triage"} and said & {"what", "count", "how"})
    )
