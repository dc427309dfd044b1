"""A patient's record under the open standard's element numbers and names, one patient at a time.

Element numbers, names and values: NEMSIS data dictionary v3.5.1 (build of April 2025). "Element names of that standard"
only: the record doesn't claim to comply. What was said and has no value of the standard's own stays in the words it was
said in. No name of a person is asked for or held.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from handlers.care import Done, Given, Patient, VitalSet
from handlers.medical.ranges import SIGNS
from handlers.medical.resuscitation import no_flow_s
from handlers.medical.scales import gcs_total, mean_pressure
from handlers.scene import ArrestClock, Scene

SCHEMA = "NEMSIS v3.5.1 element numbers and names"
NAMES = {
    "eTimes.01": "PSAP Call Date/Time",
    "eTimes.03": "Unit Notified by Dispatch Date/Time",
    "eTimes.05": "Unit En Route Date/Time",
    "eTimes.06": "Unit Arrived on Scene Date/Time",
    "eTimes.07": "Arrived at Patient Date/Time",
    "eTimes.08": "Transfer of EMS Patient Care Date/Time",
    "eTimes.09": "Unit Left Scene Date/Time",
    "eTimes.11": "Patient Arrived at Destination Date/Time",
    "eTimes.13": "Unit Back in Service Date/Time",
    "ePatient.15": "Age",
    "ePatient.16": "Age Units",
    "ePatient.25": "Sex",
    "eSituation.01": "Date/Time of Symptom Onset",
    "eSituation.04": "Complaint",
    "eSituation.18": "Date/Time Last Known Well",
    "eScene.06": "Number of Patients at Scene",
    "eScene.07": "Mass Casualty Incident",
    "eScene.08": "Triage Classification for MCI Patient",
    "eVitals.01": "Date/Time Vital Signs Taken",
    "eVitals.03": "Cardiac Rhythm / Electrocardiography (ECG)",
    "eVitals.08": "Method of Blood Pressure Measurement",
    "eVitals.09": "Mean Arterial Pressure",
    "eVitals.26": "Level of Responsiveness (AVPU)",
    "eVitals.30": "Stroke Scale Type",
    "eMedications.01": "Date/Time Medication Administered",
    "eMedications.03": "Medication Administered",
    "eMedications.04": "Medication Administered Route",
    "eMedications.05": "Medication Dosage",
    "eMedications.06": "Medication Dosage Units",
    "eMedications.07": "Response to Medication",
    "eMedications.10": "Role/Type of Person Administering Medication",
    "eProcedures.01": "Date/Time Procedure Performed",
    "eProcedures.03": "Procedure",
    "eProcedures.05": "Number of Procedure Attempts",
    "eProcedures.06": "Procedure Successful",
    "eProcedures.13": "Vascular Access Location",
    "eAirway.02": "Date/Time Airway Device Placement Confirmation",
    "eAirway.03": "Airway Device Being Confirmed",
    "eAirway.04": "Airway Device Placement Confirmed Method",
    "eArrest.01": "Cardiac Arrest",
    "eArrest.12": "Any Return of Spontaneous Circulation",
    "eArrest.15": "Date/Time Resuscitation Discontinued",
    "eArrest.19": "Date/Time of Initial CPR",
    "eDisposition.30": "Transport Disposition",
} | {sign.element: sign.standard for sign in SIGNS}
ROUTES = {
    "IV": "Intravenous (IV)", "IO": "Intraosseous (IO)", "IM": "Intramuscular (IM)", "IN": "Intranasal",
    "SL": "Sublingual", "PO": "Oral", "PR": "Rectal", "ET": "Endotracheal Tube (ET)", "nebulised": "Nebulizer",
    "inhaled": "Inhalation", "topical": "Topical", "subcutaneous": "Subcutaneous", "buccal": "Buccal",
}  # fmt: skip
UNITS = {
    "mg": "Milligrams (mg)", "mcg": "Micrograms (mcg)", "g": "Grams (gms)", "mL": "Milliliters (ml)", "L": "Liters (l)",
    "mEq": "Milliequivalents (mEq)", "units": "Units", "puffs": "Puffs", "mg/kg": "Milligrams per Kilogram (mg/kg)",
    "mcg/kg": "Micrograms per Kilogram (mcg/kg)", "mcg/min": "Micrograms per Minute (mcg/min)",
    "mL/h": "Milliliters per Hour (ml/hr)", "sprays": "Other", "tablets": "Other", "ampules": "Other",
}  # fmt: skip
RHYTHMS = {
    "ventricular fibrillation": "Ventricular Fibrillation", "asystole": "Asystole", "PEA": "PEA",
    "sinus tachycardia": "Sinus Tachycardia", "sinus bradycardia": "Sinus Bradycardia", "sinus rhythm": "Sinus Rhythm",
    "atrial fibrillation": "Atrial Fibrillation", "atrial flutter": "Atrial Flutter",
    "supraventricular tachycardia": "Supraventricular Tachycardia", "paced rhythm": "Paced Rhythm",
    "shockable": "Unknown AED Shockable Rhythm", "non-shockable": "Unknown AED Non-Shockable Rhythm",
}  # fmt: skip
ROLES = {"paramedic": "Paramedic", "patient": "Patient", "family": "Family Member", "bystander": "Lay Person"}
TRIAGE = {
    "red": "Red - Immediate", "yellow": "Yellow - Delayed", "green": "Green - Minimal (Minor)",
    "gray": "Gray - Expectant", "black": "Black - Deceased",
}  # fmt: skip
DISPOSITION = {"refused": "Patient Refused Transport", "cancelled": "No Transport", "no_patient": "No Transport"}

Row = tuple[str, Any]
"""(element, value)."""


def iso(at: datetime | None) -> str | None:
    """UTC, ISO 8601 with offset."""
    return at.isoformat(timespec="seconds") if at is not None else None


def patient_elements(scene: Scene, patient: Patient) -> dict[str, Any]:
    """One patient under element numbers, each with its name; groups of sets, drugs and procedures in their order."""
    return {
        "schema": SCHEMA,
        "incident": scene.incident,
        "patient": patient.name,
        "elements": _named(_single(scene, patient)),
        "eVitals": [_named(_vitals(one)) for one in patient.vitals],
        "eMedications": [_named(_drug(one)) for one in patient.drugs],
        "eProcedures": [_named(_procedure(one)) for one in patient.procedures],
        "eAirway": [_named(_airway(one)) for one in patient.procedures if one.told.confirmed],
        "eArrest": _named(_arrest(scene.arrest)) if _is_the_arrests(scene, patient) else [],
        "as_said": [{"at": iso(at), "text": text} for at, text in patient.words],
    }


def _named(rows: Iterator[Row]) -> list[dict[str, Any]]:
    return [
        {"element": element, "name": NAMES[element], "value": value} for element, value in rows if value is not None
    ]


def _single(scene: Scene, patient: Patient) -> Iterator[Row]:
    told = patient.told
    for element, benchmark in (("eTimes.03", "dispatched"), ("eTimes.05", "en_route"), ("eTimes.06", "on_scene"),
                               ("eTimes.07", "patient_contact"), ("eTimes.08", "care_transferred"),
                               ("eTimes.13", "available")):  # fmt: skip
        stamp = scene.stamp(benchmark, partial=True)
        yield element, iso(stamp.at) if stamp is not None else None
    yield "ePatient.15", told.age
    yield "ePatient.16", told.age_unit.capitalize() if told.age is not None and told.age_unit != "weeks" else None
    yield "ePatient.25", told.sex.capitalize() if told.sex else None
    yield "eSituation.01", iso(patient.onset_at)
    yield "eSituation.04", told.complaint
    yield "eSituation.18", iso(patient.well_at)
    several = len(scene.care.patients) > 1 or scene.care.here + scene.care.transported > 1
    yield "eScene.06", "Multiple" if several else "Single"
    yield "eScene.08", TRIAGE.get(patient.category or "")
    yield "eDisposition.30", DISPOSITION.get(told.disposition or "")


def _vitals(taken: VitalSet) -> Iterator[Row]:
    told = taken.told
    yield "eVitals.01", iso(taken.at)
    yield "eVitals.03", RHYTHMS.get(told.rhythm or "", told.rhythm)
    for sign in SIGNS:
        value = getattr(told, sign.field) if sign.field != "gcs" else gcs_total(told)
        yield sign.element, round(value, 1) if isinstance(value, float) else value
    yield "eVitals.08", "Cuff-Manual Palpated Only" if told.palpated else None
    if told.systolic is not None and told.diastolic is not None:
        yield "eVitals.09", round(mean_pressure(told.systolic, told.diastolic))
    yield "eVitals.26", told.avpu.capitalize() if told.avpu else None
    if told.face or told.arm or told.speech:
        items = {"facial droop": told.face, "arm drift": told.arm, "speech": told.speech}
        yield "eVitals.30", "; ".join(f"{name} {how}" for name, how in items.items() if how)


def _drug(given: Given) -> Iterator[Row]:
    told = given.told
    yield "eMedications.01", iso(given.at)
    yield "eMedications.03", told.drug
    yield "eMedications.04", ROUTES.get(told.route or "", told.route)
    yield "eMedications.05", told.dose
    yield "eMedications.06", UNITS.get(told.unit or "", told.unit)
    yield "eMedications.07", told.response.capitalize() if told.response else None
    yield "eMedications.10", ROLES.get(told.by or "", told.by)


def _procedure(done: Done) -> Iterator[Row]:
    told = done.told
    yield "eProcedures.01", iso(done.at)
    words = [told.procedure, *(["off"] if told.ended else []), *([told.device] if told.device else [])]
    if told.reported:
        words.append(f"reported: {told.reported}")
    yield "eProcedures.03", ", ".join(words)
    yield "eProcedures.05", told.tries
    yield "eProcedures.06", None if told.success is None else "Yes" if told.success else "No"
    yield "eProcedures.13", told.site if told.procedure in ("iv access", "io access") else None


def _airway(done: Done) -> Iterator[Row]:
    yield "eAirway.02", iso(done.at)
    yield "eAirway.03", done.told.device
    yield "eAirway.04", "; ".join(done.told.confirmed)


def _is_the_arrests(scene: Scene, patient: Patient) -> bool:
    state = scene.arrest
    return state is not None and (state.patient in (None, patient.key) or len(scene.care.patients) == 1)


def _arrest(state: ArrestClock | None) -> Iterator[Row]:
    if state is None:
        return
    yield "eArrest.19", iso(state.started_at)
    yield "eArrest.15", iso(state.stopped_at)
    yield "eArrest.12", "Yes, Prior to Arrival at the ED" if state.pulses_at is not None else None


def arrest_facts(state: ArrestClock, now: datetime) -> dict[str, Any]:
    """What the standard has no element for: doses, shocks with energy, compressor changes, no-flow."""
    return {
        "epinephrine_at": [iso(at) for at in state.doses],
        "shocks": [
            {"at": iso(at), "joules": joules}
            for at, joules in zip(state.shocks, (*state.joules, *(None,) * len(state.shocks)), strict=False)
        ],
        "compressor_changes_at": [iso(at) for at in state.changes],
        "no_flow_s": no_flow_s(state, now),
    }


def patient_rows(scene: Scene, patient: Patient) -> list[tuple[str, str, str, str]]:
    """The same as rows of text with a heading: group, element, name, value."""
    made = patient_elements(scene, patient)
    rows = [("group", "element", "name", "value")]
    rows += [("", one["element"], one["name"], str(one["value"])) for one in made["elements"]]
    for group in ("eVitals", "eMedications", "eProcedures", "eAirway"):
        for number, entry in enumerate(made[group], start=1):
            rows += [(f"{group} {number}", one["element"], one["name"], str(one["value"])) for one in entry]
    rows += [("eArrest", one["element"], one["name"], str(one["value"])) for one in made["eArrest"]]
    rows += [("as said", "", one["at"] or "", one["text"]) for one in made["as_said"]]
    return rows
