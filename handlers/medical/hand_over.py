"""The hand-over: what was reported of a patient in the order of a published format, short to say and whole to read.

Formats, named in the rig file (care.hand_over): MIST, SBAR, IMIST-AMBO (NSW, Iedema 2012); all from memory, published.
What a format calls recommendation is left to the crew: this tells what was reported and concludes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, tzinfo

from grammar.commands import HandOver
from handlers.care import Patient, VitalSet
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.medical.answers import changes
from handlers.medical.history import DISPOSITIONS
from handlers.medical.patients import (
    ELSEWHERE,
    counts_line,
    done_line,
    dose_words,
    given_line,
    meant,
    procedure_words,
    reads,
    set_line,
    signs_words,
)
from handlers.medical.resuscitation import arrest_lines
from handlers.medical.scales import CHILD_UNDER, rule_of_nines, worked_out
from handlers.outcome import Answer, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, listed

CHECK = "As reported in this room; check against the chart and the monitor."
FORMATS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "MIST": (
        ("Mechanism or complaint", ("who", "complaint")),
        ("Injuries or information", ("injuries", "background", "allergies", "medicines")),
        ("Signs", ("signs",)),
        ("Treatment and trends", ("treatment", "trends")),
    ),
    "SBAR": (
        ("Situation", ("who", "complaint")),
        ("Background", ("background", "allergies", "medicines", "injuries")),
        ("Assessment (as reported)", ("signs", "trends", "treatment")),
        ("Recommendation", ("left",)),
    ),
    "IMIST-AMBO": (
        ("Identification", ("who",)),
        ("Mechanism or complaint", ("complaint",)),
        ("Injuries or information", ("injuries",)),
        ("Signs", ("signs",)),
        ("Treatment and trends", ("treatment", "trends")),
        ("Allergies", ("allergies",)),
        ("Medication", ("medicines",)),
        ("Background", ("background",)),
        ("Other", ("other",)),
    ),
}
SPOKEN_WORDS = 55
"""Words of the spoken hand-over at most: twenty seconds at 165 words a minute (common speaking rate)."""


class Summary(Answer, frozen=True):
    """Answer of `hand_over`."""

    text: str
    patient: str | None = None
    missing: tuple[str, ...] = ()


@handle.register
def hand_over(command: HandOver, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """What was reported of the patient's care, for the crew that takes over."""
    key = meant(scene, command.patient)
    patient = scene.care.patients.get(key)
    arrest = arrest_lines(scene.arrest, said.at, said.tz) if scene.arrest is not None else []
    contact = scene.stamp("patient_contact", partial=True)
    if patient is None and not arrest and contact is None:
        raise Refusal("Nothing of a patient's care is logged in this incident.")
    if patient is not None and not reads(scene, said, patient):
        lines = [f"{counts_line(patient, said.tz)}.", ELSEWHERE]
        return _outcome(command, lines[0], lines[1:], Summary(text=" ".join(lines)), "")
    told: list[str] = []
    missing: tuple[str, ...] = ()
    if patient is not None:
        missing = tuple(not_reported(patient))
        told += handed_over(scene, patient, rig, said.at, said.tz)
    times = [] if contact is None else [f"Patient contact {clock(contact.at, said.tz)}."]
    lines = [*times, *told, *arrest]
    others = [one for one in scene.care.patients if one != key]
    whose = f", {patient.name}" if patient is not None and (others or key != "1") else ""
    head = f"Hand-over{whose}, {clock(said.at, said.tz)}:"
    spoken = spoken_hand_over(patient, arrest) if patient is not None else " ".join(arrest)
    return _outcome(command, head, lines, Summary(" ".join(lines), patient.key if patient else None, missing), spoken)


def _outcome(command: HandOver, lead: str, lines: list[str], answer: Summary, spoken: str) -> Outcome:
    return Outcome(intent=command.intent, lead=lead, how=tuple(lines), spoken=spoken, answer=answer, cautions=(CHECK,))


def handed_over(scene: Scene, patient: Patient, rig: Rig, now: datetime, tz: tzinfo | None) -> list[str]:
    """The hand-over's lines for a record."""
    missing = tuple(not_reported(patient))
    lines = list(_formatted(patient, rig.care.hand_over, tz))
    return [*lines, *([f"Not reported: {listed(missing)}."] if missing else []), *_disposed(patient, scene, tz)]


def _formatted(patient: Patient, form: str, tz: tzinfo | None) -> Iterator[str]:
    """The parts in the order of the format, each with what was reported for it."""
    for title, kinds in FORMATS[form]:
        parts = [part for kind in kinds for part in _part(patient, kind, tz)]
        yield f"{title}: {'; '.join(parts) or 'not reported'}."


def _part(patient: Patient, kind: str, tz: tzinfo | None) -> list[str]:
    told = patient.told
    match kind:
        case "who":
            age = f"{told.age:g} {told.age_unit}" if told.age is not None else ""
            return [part for part in (" ".join(filter(None, (age, told.sex))),) if part]
        case "complaint":
            onset = [f"onset about {clock(patient.onset_at, tz)}"] if patient.onset_at else []
            well = [f"last known well {clock(patient.well_at, tz)}"] if patient.well_at else []
            return [*([told.complaint] if told.complaint else []), *onset, *well, *_as_said(patient, tz)]
        case "injuries":
            return _injuries(patient)
        case "allergies" | "medicines":
            value = getattr(told, kind)
            return [f"{kind}: {value}"] if value else []
        case "background":
            weight = [f"weight {told.weight_kg:.0f} kg"] if told.weight_kg is not None else []
            return [*([f"history: {told.history}"] if told.history else []), *weight]
        case "signs":
            return _signs(patient, tz)
        case "trends":
            changed = changes(sorted(patient.vitals, key=lambda one: one.at))
            return [f"trend: {changed}"] if changed else []
        case "treatment":
            return [
                *(given_line(one, tz) for one in patient.drugs),
                *(done_line(one, tz) for one in patient.procedures),
            ]
        case "left":
            return ["left to the crew"]
    return ["reported by " + listed(patient.reporters)] if patient.reporters and kind == "nobody" else []


def _as_said(patient: Patient, tz: tzinfo | None) -> list[str]:
    return [f"{clock(at, tz)} “{text}”" for at, text in patient.notes]


def _injuries(patient: Patient) -> list[str]:
    parts: list[str] = []
    burns = tuple(dict.fromkeys(part for one in patient.vitals for part in one.told.burns))
    if burns:
        told = patient.told
        child = told.age is not None and (told.age_unit != "years" or told.age < CHILD_UNDER)
        nines = rule_of_nines(burns, child)
        parts.append(f"burns: {', '.join(burns)}, {nines.percent:g} % by the rule of nines")
    if patient.told.trapped is not None:
        parts.append("was trapped" if not patient.told.trapped else "trapped")
    if patient.category:
        parts.append(f"triage {patient.category}")
    return parts


def _signs(patient: Patient, tz: tzinfo | None) -> list[str]:
    sets: list[VitalSet] = sorted(patient.vitals, key=lambda one: one.at)
    lines = [set_line(one, tz) for one in sets]
    gcs = next(
        (shown.text for one in reversed(sets) for shown in worked_out(one.told) if shown.text.startswith("GCS")), None
    )
    return [*lines, *([gcs] if gcs else [])]


def _disposed(patient: Patient, scene: Scene, tz: tzinfo | None) -> list[str]:
    lines = []
    if patient.told.disposition:
        to = f": {patient.told.to}" if patient.told.to else ""
        lines.append(f"{DISPOSITIONS[patient.told.disposition]}{to}.")
    stamp = scene.stamp("care_transferred", partial=True)
    if stamp is not None:
        unit = f" to {stamp.unit.capitalize()}" if stamp.unit else ""
        lines.append(f"Care transferred{unit} {clock(stamp.at, tz)}.")
    return lines


EXPECTED = (
    "age", "sex", "complaint", "onset", "allergies", "medicines", "blood pressure", "pulse", "respirations", "SpO2",
    "GCS or AVPU",
)  # fmt: skip
"""What most hand-overs hold (common practice)."""


def not_reported(patient: Patient) -> Iterator[str]:
    """What most hand-overs hold and nobody told (common practice)."""
    told = patient.told
    signs = [one.told for one in patient.vitals]
    known = {
        "age": told.age is not None,
        "sex": told.sex is not None,
        "complaint": told.complaint is not None or any(one.burns for one in signs),
        "onset": patient.onset_at is not None or patient.well_at is not None,
        "allergies": told.allergies is not None,
        "medicines": told.medicines is not None,
        "blood pressure": any(one.systolic is not None for one in signs),
        "pulse": any(one.pulse is not None for one in signs),
        "respirations": any(one.breaths is not None for one in signs),
        "SpO2": any(one.saturation is not None for one in signs),
        "GCS or AVPU": any(one.gcs is not None or one.gcs_eye is not None or one.avpu is not None for one in signs),
    }
    yield from (name for name in EXPECTED if not known[name])


def spoken_hand_over(patient: Patient, arrest: list[str]) -> str:
    """The most that twenty seconds hold: who, complaint, newest signs, every drug, what was done, as far as it goes."""
    told = patient.told
    who = " ".join(filter(None, (f"{told.age:g} {told.age_unit}" if told.age is not None else "", told.sex)))
    sets = sorted(patient.vitals, key=lambda one: one.at)
    parts = [part for part in (who, told.complaint) if part]
    if sets:
        parts.append(f"last {signs_words(sets[-1].told)}")
    parts += [dose_words(one.told) for one in patient.drugs]
    parts += [procedure_words(one.told) for one in patient.procedures]
    if told.allergies:
        parts.append(f"allergies {told.allergies}")
    words: list[str] = []
    for part in (*parts, *arrest):
        if len(words) + len(part.split()) > SPOKEN_WORDS:
            words.append("more in the text")
            break
        words += (part.rstrip(".") + ".").split()
    return " ".join(words)
