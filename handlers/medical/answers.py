"""Questions about patients, answered from the log: a value, a dose, a time, a count, the trend."""

from __future__ import annotations

from datetime import timedelta

from grammar.commands import CareAsked, Vitals
from handlers.care import Given, Patient, VitalSet
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.incident.asked import StatusAnswer
from handlers.medical.patients import (
    ELSEWHERE,
    counts_line,
    done_line,
    given_line,
    heading,
    meant,
    reads,
    set_line,
    signs_words,
    told_words,
)
from handlers.medical.ranges import SIGNS
from handlers.medical.scales import gcs_total
from handlers.medical.triage import summary
from handlers.outcome import Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, duration, listed, minutes

PRESSURE = ("systolic", "diastolic", "palpated")
GCS = ("gcs_eye", "gcs_verbal", "gcs_motor", "gcs")


@handle.register
def care_asked(command: CareAsked, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Asked: what was told of a patient, or how many there are."""
    if said.live and not scene.care.active and scene.arrest is None:
        raise Refusal("Nothing of a patient's care is logged in this incident.")
    if not said.live:
        raise Refusal("No incident is open: nothing of a patient is logged.")
    if command.about == "patients":
        return _told(
            command, ["Patients: " + line if i == 0 else line for i, line in enumerate(_patients(scene, said))]
        )
    if command.about == "arrest" or (command.about == "drug" and command.name == "epinephrine" and scene.arrest):
        return _told(command, _arrest(command, scene, said))
    key = meant(scene, command.patient)
    patient = scene.care.patients.get(key)
    if patient is None:
        raise Refusal("Nothing of that patient is logged in this incident.")
    if not reads(scene, said, patient):
        return _told(command, [counts_line(patient, said.tz) + ".", ELSEWHERE])
    head = heading(scene, key)
    match command.about:
        case "vitals":
            lines = _vitals(command, patient, said)
        case "drug":
            lines = _drugs(command, patient, said)
        case "procedure":
            lines = _procedures(command, patient, said)
        case "clocks":
            lines = _clocks(patient, said)
        case _:
            lines = ["; ".join(told_words(patient.told)) or "Nothing told so far."]
    lines[0] = f"{head}{lines[0]}" if head else f"{lines[0][:1].upper()}{lines[0][1:]}"
    return _told(command, lines)


def _told(command: CareAsked, lines: list[str]) -> Outcome:
    about = command.name or command.about
    return Outcome(
        intent=command.intent,
        lead=lines[0],
        how=tuple(lines[1:]),
        answer=StatusAnswer(about, None, None, tuple(lines)),
    )


def _patients(scene: Scene, said: Said) -> list[str]:
    care = scene.care
    if care.triaged:
        return summary(care) or ["triage started, no tally reported"]
    names = [f"{patient.name} since {clock(patient.first_at, said.tz)}" for patient in care.patients.values()]
    lines = [f"{len(names)} spoken of: {listed(names)}." if names else "none spoken of so far."]
    return [*lines, *(f"Wanted so far: {count} {want}." for want, count in care.wanted.items())]


# --- vital signs


def _fields(name: str | None) -> tuple[str, ...]:
    if name == "pressure":
        return PRESSURE
    return GCS if name == "gcs" else (name,) if name else ()


def _has(taken: VitalSet, fields: tuple[str, ...]) -> bool:
    return not fields or any(getattr(taken.told, field) not in (None, False) for field in fields)


def _only(taken: VitalSet, fields: tuple[str, ...]) -> VitalSet:
    """The set with these fields alone."""
    if not fields:
        return taken
    kept = {field: getattr(taken.told, field) for field in fields}
    return VitalSet(taken.at, Vitals(**kept), taken.seq)


def _vitals(command: CareAsked, patient: Patient, said: Said) -> list[str]:
    fields = _fields(command.name)
    sets = sorted((_only(one, fields) for one in patient.vitals if _has(one, fields)), key=lambda one: one.at)
    if not sets:
        return [f"{command.name or 'vitals'}: not reported so far."]
    what = (command.name or "vitals").capitalize()
    if command.which == "first":
        return [f"First {what.lower()}: {set_line(sets[0], said.tz)}."]
    if command.which == "trend":
        return [f"{what}: " + "; ".join(set_line(one, said.tz) for one in sets) + "."]
    if command.which == "count":
        return [f"{what}: {len(sets)} sets, last {clock(sets[-1].at, said.tz)}."]
    lines = [f"{what} {set_line(sets[-1], said.tz)} ({_ago(said.at - sets[-1].at)} ago)."]
    changed = changes(sets)
    if changed:
        lines.append(f"Changed since {clock(sets[-2].at, said.tz)}: {changed}.")
    older = _not_in_last(sets) if not fields else ""
    return [*lines, *([f"Earlier: {older}."] if older else [])]


def changes(sets: list[VitalSet]) -> str:
    """What changed from each sign's value before to the newest: "BP 150/90 → 130/80, pulse 96 → 88"."""
    if len(sets) < 2:
        return ""
    parts = []
    newest, before = sets[-1].told, sets[:-1]
    for fields in (PRESSURE, *((sign.field,) for sign in SIGNS if sign.field not in (*PRESSURE, *GCS)), GCS):
        if not _has(sets[-1], fields):
            continue
        old = next((one for one in reversed(before) if _has(one, fields)), None)
        was, now = (signs_words(_only(one, fields).told) if one else "" for one in (old, VitalSet(sets[-1].at, newest)))
        if was and was != now:
            parts.append(f"{was} → {now.split(' ', 1)[-1]}")
    return ", ".join(parts)


def _not_in_last(sets: list[VitalSet]) -> str:
    """The newest value of each sign that the last set doesn't hold."""
    parts = []
    for fields in (PRESSURE, *((sign.field,) for sign in SIGNS if sign.field not in (*PRESSURE, *GCS)), GCS):
        if _has(sets[-1], fields):
            continue
        old = next((one for one in reversed(sets) if _has(one, fields)), None)
        if old is not None:
            parts.append(set_line(_only(old, fields), None).split(" ", 1)[1])
    return ", ".join(parts)


def total_of(patient: Patient) -> float | None:
    """The newest GCS."""
    return next((total for one in reversed(patient.vitals) if (total := gcs_total(one.told)) is not None), None)


# --- drugs, procedures, clocks


def _drugs(command: CareAsked, patient: Patient, said: Said) -> list[str]:
    given = [one for one in patient.drugs if command.name is None or one.told.drug == command.name]
    given.sort(key=lambda one: one.at)
    name = command.name or "drugs"
    if not given:
        return [f"{name}: none reported so far."]
    ours = [one for one in given if not one.told.before_arrival]
    doses = "; ".join(given_line(one, said.tz) for one in given)
    if command.which == "count":
        count = f"{len(ours)} {'dose' if len(ours) == 1 else 'doses'}"
        return [f"{name} {count}{_sum(ours) if command.name else ''}: {doses}."]
    if command.which == "since":
        return [
            f"{_ago(said.at - given[-1].at)} since the last {name}: {given_line(given[-1], said.tz)}. Interval only."
        ]
    return [f"{doses}."]


def _sum(given: list[Given]) -> str:
    """ ", 8 mg in all", where each was said with the same unit."""
    doses = [one.told.dose for one in given if one.told.dose is not None]
    units = {one.told.unit for one in given}
    if len(doses) != len(given) or len(units) != 1 or None in units or len(given) < 2:
        return ""
    return f", {sum(doses):g} {units.pop()} in all"


def _procedures(command: CareAsked, patient: Patient, said: Said) -> list[str]:
    done = [one for one in patient.procedures if command.name is None or one.told.procedure == command.name]
    if not done:
        return [f"{command.name or 'procedures'}: none reported so far."]
    if command.which == "since":
        last = done[-1]
        return [f"{_ago(said.at - last.at)} since {done_line(last, said.tz)}. Interval only."]
    return ["; ".join(done_line(one, said.tz) for one in done) + "."]


def _clocks(patient: Patient, said: Said) -> list[str]:
    if patient.well_at is None:
        return ["Last known well: not reported so far."]
    return [f"Last known well {clock(patient.well_at, said.tz)}: {_ago(said.at - patient.well_at)} ago. Interval only."]


def _arrest(command: CareAsked, scene: Scene, said: Said) -> list[str]:
    state = scene.arrest
    if state is None:
        return ["No CPR is logged in this incident."]
    shocks = [clock(at, said.tz, seconds=True) for at in state.shocks]
    doses = [clock(at, said.tz, seconds=True) for at in state.doses]
    if command.name == "shocks":
        return [
            f"{len(shocks)} {'shock' if len(shocks) == 1 else 'shocks'}: {listed(shocks)}."
            if shocks
            else "No shock is logged."
        ]
    if command.name == "epinephrine":
        if not doses:
            return ["Epinephrine: none reported so far."]
        since = duration((said.at - state.doses[-1]).total_seconds())
        return [f"Epinephrine {len(doses)}: {listed(doses)}; {since} since the last. Interval only."]
    end = state.pulses_at or state.stopped_at or said.at
    return [f"CPR {duration((end - state.started_at).total_seconds())} (since {clock(state.started_at, said.tz)})."]


def _ago(span: timedelta) -> str:
    seconds = max(0.0, span.total_seconds())
    return duration(seconds) if seconds < 3600 else minutes(seconds)
