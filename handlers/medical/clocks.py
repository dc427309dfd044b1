"""The clocks of a medical call, each by its setting, each an interval only: vital signs again, 12-lead, scene time,
last known well, tourniquets, APGAR.

Their texts hold times and counts and nothing that was told of a patient, so that any room of the company may show them.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice

from handlers.care import Patient
from handlers.incident.clocks import on_scene_clock, ticks
from handlers.outcome import Audience, Reminder
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import minutes

INTERVAL = "Interval only."
PLANNED = 24
"""So many tellings of a clock are planned ahead; a later event plans on."""
APGAR_MIN = (1, 5)
"""Minutes after birth at which the score is taken (Apgar 1953)."""
TO: Audience = ("officer", "crew")


def care_reminders(scene: Scene, rig: Rig, now: datetime) -> list[Reminder]:
    """All clocks of the patients who are still here."""
    found = [] if scene.closed_at is not None else list(_of_the_scene(scene, rig, now))
    handed = scene.stamp("care_transferred", partial=True)
    for number, patient in enumerate(scene.care.patients.values(), start=1):
        if handed is not None and len(scene.care.patients) == 1:
            continue
        found += _again(patient, number, scene, rig, now)
        found += _well(patient, number, rig, now)
        found += _tourniquets(patient, number, rig, now)
        found += _apgar(patient, number)
    if handed is not None:
        found = [
            one for one in found if one.at < handed.at or (one.name == "scene_time" and len(scene.care.patients) > 1)
        ]
    return found


def _whose(number: int, scene_patients: int = 2) -> str:
    return f"Patient {number}: " if scene_patients > 1 else ""


def _again(patient: Patient, number: int, scene: Scene, rig: Rig, now: datetime) -> Iterator[Reminder]:
    """Vital signs again, from the last set; at the shorter interval where the crew said so, or pulses are back."""
    if not patient.vitals:
        return
    last = max(one.at for one in patient.vitals)
    pulses = scene.arrest.pulses_at if scene.arrest is not None else None
    sooner = patient.reassess_from is not None or pulses is not None
    every = rig.intervals.reassess_unstable_min if sooner else rig.intervals.reassess_min
    begun = max([last, *([pulses] if pulses is not None and pulses > last else [])])
    whose = _whose(number, len(scene.care.patients))
    for count, at in islice(ticks(begun, every, now), PLANNED):
        yield Reminder(
            key=f"vitals_due/{number}/{begun.isoformat()}/{count}",
            name="vitals_due",
            at=at,
            to=TO,
            text=f"{whose}Vital signs: {minutes((at - last).total_seconds())} since the last set. {INTERVAL}",
        )


def _well(patient: Patient, number: int, rig: Rig, now: datetime) -> Iterator[Reminder]:
    if patient.well_at is None:
        return
    for count, at in islice(ticks(patient.well_at, rig.intervals.well_min, max(now, patient.first_at)), PLANNED):
        yield Reminder(
            key=f"last_known_well/{number}/{patient.well_at.isoformat()}/{count}",
            name="last_known_well",
            at=at,
            to=TO,
            text=f"Last known well {minutes((at - patient.well_at).total_seconds())} ago. {INTERVAL}",
        )


def _tourniquets(patient: Patient, number: int, rig: Rig, now: datetime) -> Iterator[Reminder]:
    for one in patient.tourniquets:
        for count, at in islice(ticks(one.at, rig.intervals.tourniquet_min, now), PLANNED):
            yield Reminder(
                key=f"tourniquet/{number}/{one.seq}/{count}",
                name="tourniquet",
                at=at,
                to=TO,
                text=f"Tourniquet on for {minutes((at - one.at).total_seconds())}. {INTERVAL}",
            )


def _apgar(patient: Patient, number: int) -> Iterator[Reminder]:
    if patient.born_at is None:
        return
    for minute in APGAR_MIN:
        yield Reminder(
            key=f"apgar/{number}/{minute}",
            name="apgar",
            at=patient.born_at + timedelta(minutes=minute),
            to=TO,
            text=f"APGAR: {minute} min since birth. {INTERVAL}",
        )


def _of_the_scene(scene: Scene, rig: Rig, now: datetime) -> Iterator[Reminder]:
    """Time on the scene of a medical run, and from first contact to the 12-lead."""
    there = on_scene_clock(scene)
    left = next((p for p in scene.care.patients.values() if p.told.disposition == "left"), None)
    if scene.kind == "medical" and there is not None and scene.care.active and left is None:
        since = there.since
        for count, at in islice(ticks(since, rig.intervals.scene_time_min, now), PLANNED):
            yield Reminder(
                key=f"scene_time/{since.isoformat()}/{count}",
                name="scene_time",
                at=at,
                to=("officer",),
                text=f"On scene {minutes((at - since).total_seconds())}. {INTERVAL}",
            )
    contact = scene.stamp("patient_contact", partial=True)
    if contact is None or not _of_the_heart(scene, rig) or _traced(scene):
        return
    wait = rig.intervals.twelve_lead_min
    yield Reminder(
        key=f"twelve_lead/{contact.seq}",
        name="twelve_lead",
        at=contact.at + timedelta(minutes=wait),
        to=TO,
        text=f"{wait:g} min since patient contact; no 12-lead reported. {INTERVAL}",
    )


def _of_the_heart(scene: Scene, rig: Rig) -> bool:
    told = [scene.nature or "", *(patient.told.complaint or "" for patient in scene.care.patients.values())]
    return any(name in text.casefold() for name in rig.care.twelve_lead_for for text in told)


def _traced(scene: Scene) -> bool:
    known = scene.care.patients.values()
    return any(done.told.procedure == "12-lead ECG" for patient in known for done in patient.procedures)
