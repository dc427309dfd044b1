"""Who a patient is and what was told of them: age, complaint, onset, last known well, allergies; kept as said."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec.structs import replace

from grammar.commands import PatientTold, Question
from handlers.desk import handle
from handlers.events import EventBody
from handlers.events_medical import PatientNoted
from handlers.medical.patients import DIRECTION, heading, meant, reads_reply, told_words
from handlers.medical.vitals import opens_as_medical
from handlers.outcome import Answer, Dated, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, duration, minutes, stated

AGE = (1, 120)
"""Permitted ages, in their unit (ePatient.15, from memory)."""
DISPOSITIONS = {
    "refused": "Patient refused, as reported",
    "cancelled": "Cancelled, as reported",
    "no_patient": "No patient found, as reported",
    "left": "Left the scene, as reported",
    "at_hospital": "At the destination, as reported",
    "not_attempted": "Resuscitation not attempted, as reported",
}


class PatientAnswer(Answer, frozen=True):
    """Answer of `patient`: what was understood."""

    patient: str
    at: datetime
    age: float | None = None
    age_unit: str | None = None
    sex: str | None = None
    complaint: str | None = None
    onset_at: datetime | None = None
    well_at: datetime | None = None
    allergies: str | None = None
    medicines: str | None = None
    history: str | None = None
    weight_kg: float | None = None
    disposition: str | None = None
    text: str | None = None


@handle.register
def patient_told(command: PatientTold, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Keep what was told of a patient, with the parts that were understood."""
    at = stated(command.time, said.at, said.tz)
    key = meant(scene, command.patient)
    if command.age is not None and not AGE[0] <= command.age <= AGE[1]:
        asked = Question(f"Age {command.age:g}? Say it again.", (), fills=replace(command, age=None), slot="age")
        return Outcome(intent=command.intent, question=asked)
    onset = _when(command.onset_s, command.onset_time, at, said)
    well = _when(command.well_s, command.well_time, at, said)
    shown = reads_reply(said)
    when = clock(at, said.tz)
    parts = told_words(command)
    if onset is not None:
        parts.append(f"onset about {clock(onset, said.tz)} ({_length(at - onset)} before)")
    if well is not None:
        parts.append(f"last known well {clock(well, said.tz)} ({_length(at - well)} ago)")
    if command.born:
        parts.append(f"born {when}")
    if command.disposition:
        parts.append(DISPOSITIONS[command.disposition] + (f": {command.to}" if command.to else ""))
    if shown:
        lead = f"{heading(scene, key)}{', '.join(parts) or 'Noted'}, {when}. Logged."
        lead = lead[:1].upper() + lead[1:]
        how = [f"As said: “{command.text}”."] if command.text else []
    else:
        lead, how = f"Patient noted, {when}. Logged.", []
    cautions = []
    if well is not None:
        cautions.append(f"The last-known-well clock runs. {DIRECTION}")
    if command.born:
        cautions.append(f"APGAR times, 1 and 5 min, are told. {DIRECTION}")
    events: list[EventBody | Dated] = [
        *opens_as_medical(scene),
        Dated(PatientNoted(key, replace(command, time=None), onset, well), at=at),
    ]
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        spoken=lead,
        answer=PatientAnswer(
            patient=key,
            at=at,
            age=command.age,
            age_unit=command.age_unit if command.age is not None else None,
            sex=command.sex,
            complaint=command.complaint,
            onset_at=onset,
            well_at=well,
            allergies=command.allergies,
            medicines=command.medicines,
            history=command.history,
            weight_kg=command.weight_kg,
            disposition=command.disposition,
            text=command.text if shown else None,
        ),
        cautions=tuple(cautions),
        events=tuple(events),
        opens=True,
    )


def _when(seconds: float | None, time: object, at: datetime, said: Said) -> datetime | None:
    """A time so long before, or a time of day."""
    if seconds is not None:
        return at - timedelta(seconds=seconds)
    return stated(time, said.at, said.tz) if time is not None else None  # type: ignore[arg-type]


def _length(span: timedelta) -> str:
    seconds = span.total_seconds()
    return duration(seconds) if seconds < 600 else minutes(seconds)
