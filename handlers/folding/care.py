"""Folding what is told of patients: vital signs, drugs, procedures, history, and the tallies of a triage."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from msgspec.structs import replace

from grammar.commands import PatientTold, Triage
from handlers.care import Care, Done, Given, Patient, Tally, VitalSet
from handlers.events import Event
from handlers.events_medical import (
    DoseUnitSaid,
    DrugGiven,
    PatientNoted,
    ProcedureDone,
    TriageNoted,
    VitalsTaken,
)
from handlers.scene import Scene


def _with(scene: Scene, key: str, event: Event, text: str | None = None, **changes: Any) -> Scene:
    """The scene with a patient added or changed, who is the one last spoken of."""
    known = scene.care.patients.get(key) or Patient(key=key, first_at=event.at)
    reporters = known.reporters if event.who in known.reporters else (*known.reporters, event.who)
    words = known.words
    if text and (event.at, text) not in words:
        words = (*words, (event.at, text))
    patient = replace(known, reporters=reporters, words=words, **changes)
    patients = {**scene.care.patients, key: patient}
    return replace(scene, care=replace(scene.care, patients=patients, current=key))


def _patient(scene: Scene, key: str) -> Patient | None:
    return scene.care.patients.get(key)


def _vitals(scene: Scene, body: VitalsTaken, event: Event) -> Scene:
    known = _patient(scene, body.patient)
    before = known.vitals if known is not None else ()
    taken = VitalSet(event.at, body.told, event.seq)
    return _with(scene, body.patient, event, body.told.text, vitals=(*before, taken))


def _drug(scene: Scene, body: DrugGiven, event: Event) -> Scene:
    known = _patient(scene, body.patient)
    before = known.drugs if known is not None else ()
    return _with(scene, body.patient, event, body.told.text, drugs=(*before, Given(event.at, body.told, event.seq)))


def _unit(scene: Scene, body: DoseUnitSaid, event: Event) -> Scene:
    known = _patient(scene, body.patient)
    if known is None:
        return scene
    lacking = next((one for one in reversed(known.drugs) if one.told.drug == body.drug and one.told.unit is None), None)
    drugs = tuple(replace(o, told=replace(o.told, unit=body.unit)) if o is lacking else o for o in known.drugs)
    return _with(scene, body.patient, event, drugs=drugs)


def _procedure(scene: Scene, body: ProcedureDone, event: Event) -> Scene:
    known = _patient(scene, body.patient)
    before = known.procedures if known is not None else ()
    done = Done(event.at, body.told, event.seq)
    return _with(scene, body.patient, event, body.told.text, procedures=(*before, done))


_KEPT = ("patient", "time", "text", "sure", "onset_s", "onset_time", "well_s", "well_time", "born")


def _noted(scene: Scene, body: PatientNoted, event: Event) -> Scene:
    known = _patient(scene, body.patient)
    before = known.told if known is not None else PatientTold()
    said = {
        name: value
        for name in PatientTold.__struct_fields__
        if name not in _KEPT and (value := getattr(body.told, name)) not in (None, "") and not _only_default(name, body)
    }
    if before.complaint and body.told.complaint and body.told.complaint not in before.complaint:
        said["complaint"] = f"{before.complaint}, {body.told.complaint}"
    notes = known.notes if known is not None else ()
    return _with(
        scene,
        body.patient,
        event,
        body.told.text,
        notes=(*notes, (event.at, body.told.text)) if body.told.text else notes,
        told=replace(before, **said),
        onset_at=body.onset_at or (known.onset_at if known else None),
        well_at=body.well_at or (known.well_at if known else None),
        born_at=event.at if body.told.born else known.born_at if known else None,
        reassess_from=_reassess(body.told, known, event.at),
    )


def _only_default(name: str, body: PatientNoted) -> bool:
    return name == "age_unit" and body.told.age is None


def _reassess(told: PatientTold, known: Patient | None, at: datetime) -> datetime | None:
    if told.unstable is not None:
        return at if told.unstable else None
    return known.reassess_from if known is not None else None


# --- triage


def _triage(scene: Scene, body: TriageNoted, event: Event) -> Scene:
    care, told = scene.care, body.told
    care = replace(care, triage_at=care.triage_at or event.at)
    match told.action:
        case "counted":
            for group in told.groups:
                care = _added(care, group.category, told.place or "", group.count)
        case "total":
            care = _set(care, told)
        case "changed":
            care = _changed(care, told)
        case "moved":
            for group in told.groups:
                care = _taken(care, group.category, group.count)
                care = _added(care, group.category, told.place or "", group.count)
        case "transported":
            care = _transported(care, told, event)
        case "wanted":
            want = told.want or "ambulances"
            care = replace(care, wanted={**care.wanted, want: care.wanted.get(want, 0) + (told.count or 1)})
    return replace(scene, care=care)


def _added(care: Care, category: str, place: str, count: int) -> Care:
    tallies = list(care.tallies)
    for i, tally in enumerate(tallies):
        if (tally.category, tally.place) == (category, place):
            tallies[i] = replace(tally, count=tally.count + count)
            break
    else:
        tallies.append(Tally(category, place, count))
    return replace(care, tallies=tuple(tallies))


def _taken(care: Care, category: str, count: int) -> Care:
    """So many fewer of a category, from wherever they are."""
    tallies, left = [], count
    for tally in care.tallies:
        fewer = min(left, tally.count) if tally.category == category else 0
        left -= fewer
        if tally.count > fewer:
            tallies.append(replace(tally, count=tally.count - fewer))
    return replace(care, tallies=tuple(tallies))


def _set(care: Care, told: Triage) -> Care:
    """ "Total now": these are all there are of each category that was named; a bare number is how many in all."""
    for group in told.groups:
        care = _taken(care, group.category, care.count(group.category))
        care = _added(care, group.category, told.place or "", group.count)
    return replace(care, total=told.count) if told.count is not None else care


def _changed(care: Care, told: Triage) -> Care:
    to = told.to_category or ""
    if told.patient is not None and told.patient in care.patients:
        patient = care.patients[told.patient]
        if patient.category is not None and care.count(patient.category):
            care = _added(_taken(care, patient.category, 1), to, "", 1)
        care = replace(care, patients={**care.patients, patient.key: replace(patient, category=to)})
    for group in told.groups:
        place = next((tally.place for tally in care.tallies if tally.category == group.category), "")
        care = _added(_taken(care, group.category, group.count), to, place, group.count)
    return care


def _transported(care: Care, told: Triage, event: Event) -> Care:
    if told.all:
        gone = tuple((tally.category, tally.count, told.unit, event.at) for tally in care.tallies)
        return replace(care, tallies=(), gone=(*care.gone, *gone))
    for group in told.groups:
        care = _taken(care, group.category, group.count)
        care = replace(care, gone=(*care.gone, (group.category, group.count, told.unit, event.at)))
    return care


APPLY: dict[type, Callable[..., Scene]] = {
    VitalsTaken: _vitals,
    DrugGiven: _drug,
    DoseUnitSaid: _unit,
    ProcedureDone: _procedure,
    PatientNoted: _noted,
    TriageNoted: _triage,
}
