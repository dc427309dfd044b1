"""Drugs as they were reported: numbered, with the time since the last. Nothing is said of what should be given."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from grammar.commands import Choice, Medication, Question
from handlers.care import Given
from handlers.desk import handle
from handlers.errors import Refusal
from handlers.events import ArrestAction, EventBody
from handlers.events_medical import DoseUnitSaid, DrugGiven
from handlers.medical.patients import dose_words, heading, meant, reads_reply
from handlers.medical.vitals import opens_as_medical
from handlers.outcome import Answer, Dated, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, duration, stated

UNITS = ("mg", "mcg", "g", "mL", "units")
"""Units of a dose that are offered where none was said (eMedications.06 knows more: say it)."""


class MedicationAnswer(Answer, frozen=True):
    """Answer of `medication`: what was logged; `number` counts this drug's doses, `since_s` from the one before."""

    patient: str
    at: datetime
    drug: str
    dose: float | None = None
    unit: str | None = None
    route: str | None = None
    number: int = 0
    since_s: float | None = None


@handle.register
def medication(command: Medication, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Log a dose as reported."""
    key = meant(scene, command.patient)
    if command.completes:
        return _completed(command, scene, key, said)
    at = stated(command.time, said.at, said.tz)
    earlier = _doses(scene, key, command.drug, at)
    number = 0 if command.before_arrival else len(earlier) + 1
    since = (at - earlier[-1].at).total_seconds() if earlier else None
    when = clock(at, said.tz)
    name = command.drug[:1].upper() + dose_words(command)[1:]
    numbered = ", before arrival" if command.before_arrival else f", dose {number}"
    if reads_reply(said):
        lead = f"{heading(scene, key)}{name}{numbered}, {when}. Logged."
        how = [f"{duration(since)} since the last ({clock(earlier[-1].at, said.tz)})."] if since is not None else []
        if command.response:
            how.append(f"Response as reported: {command.response}.")
    else:
        lead, how = f"Drug{numbered}, {when}. Logged.", []
    cautions = []
    if command.nth is not None and number and command.nth != number:
        cautions.append(f"Said as number {command.nth}; logged before it: {number - 1}.")
    events: list[EventBody | Dated] = [
        *opens_as_medical(scene),
        Dated(DrugGiven(key, replace(command, time=None)), at=at),
    ]
    if command.drug == "epinephrine" and _arrest_runs(scene) and command.route in (None, "IV", "IO"):
        events.append(Dated(ArrestAction(action="epinephrine", text=command.text, patient=key), at=at))
    asks = _unit_question(command) if command.dose is not None and command.unit is None and reads_reply(said) else None
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        spoken=lead,
        answer=MedicationAnswer(
            patient=key,
            at=at,
            drug=command.drug,
            dose=command.dose,
            unit=command.unit,
            route=command.route,
            number=number,
            since_s=since,
        ),
        cautions=tuple(cautions),
        events=tuple(events),
        follow_up=asks,
        opens=True,
    )


def _arrest_runs(scene: Scene) -> bool:
    return scene.arrest is not None and scene.arrest.stopped_at is None and scene.arrest.pulses_at is None


def _doses(scene: Scene, key: str, drug: str, at: datetime) -> list[Given]:
    known = scene.care.patients.get(key)
    given = known.drugs if known is not None else ()
    return sorted(
        (one for one in given if one.told.drug == drug and not one.told.before_arrival and one.at <= at),
        key=lambda one: one.at,
    )


def _unit_question(command: Medication) -> Question:
    """ "324 of what?": the dose stands in the log without its unit until that is said."""
    choices = tuple(
        Choice(unit, (Medication(patient=command.patient, drug=command.drug, unit=unit, completes=True),))
        for unit in UNITS
    )
    return Question(f"{command.drug} {command.dose:g}: which unit?", choices)


def _completed(command: Medication, scene: Scene, key: str, said: Said) -> Outcome:
    known = scene.care.patients.get(key)
    lacking = [one for one in (known.drugs if known else ()) if one.told.drug == command.drug and one.told.unit is None]
    if not lacking or command.unit is None:
        raise Refusal(f"No dose of {command.drug} lacks its unit.")
    whole = replace(lacking[-1].told, unit=command.unit)
    words = dose_words(whole) if reads_reply(said) else "The unit of a dose"
    return Outcome(
        intent=command.intent,
        lead=f"{heading(scene, key)}{words}, {clock(lacking[-1].at, said.tz)}. Logged.",
        answer=MedicationAnswer(
            patient=key, at=lacking[-1].at, drug=command.drug, dose=whole.dose, unit=command.unit, route=whole.route
        ),
        events=(DoseUnitSaid(key, command.drug, command.unit),),
    )
