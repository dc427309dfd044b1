"""Procedures as they were reported: access, airway, 12-lead, oxygen, splints, bleeding control, with their times."""

from __future__ import annotations

from datetime import datetime

from msgspec.structs import replace

from grammar.commands import Procedure, Question
from handlers.desk import handle
from handlers.events_medical import ProcedureDone
from handlers.medical.patients import DIRECTION, heading, meant, procedure_words, reads_reply
from handlers.medical.vitals import opens_as_medical
from handlers.outcome import Answer, Dated, Outcome, Said
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock, duration, stated

TRIES = (1, 10)
"""Permitted number of attempts (eProcedures.05)."""


class ProcedureAnswer(Answer, frozen=True):
    """Answer of `procedure`: what was logged; `contact_to_s` from the first patient contact to a 12-lead."""

    patient: str
    at: datetime
    procedure: str
    site: str | None = None
    gauge: float | None = None
    flow_lpm: float | None = None
    device: str | None = None
    reported: str | None = None
    success: bool | None = None
    tries: int | None = None
    contact_to_s: float | None = None


@handle.register
def procedure(command: Procedure, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Log what was done."""
    at = stated(command.time, said.at, said.tz)
    key = meant(scene, command.patient)
    if command.tries is not None and not TRIES[0] <= command.tries <= TRIES[1]:
        text = f"{command.tries} tries? Say how many, 1 to 10."
        return Outcome(
            intent=command.intent, question=Question(text, (), fills=replace(command, tries=None), slot="tries")
        )
    when = clock(at, said.tz)
    shown = reads_reply(said)
    lead = (
        f"{heading(scene, key)}{procedure_words(command)}, {when}. Logged." if shown else f"Procedure, {when}. Logged."
    )
    how, cautions = [], []
    contact = _contact_to(command, scene, at)
    if contact is not None:
        how.append(f"First contact to 12-lead: {duration(contact)}. Interval only.")
    if command.procedure == "tourniquet" and not command.ended:
        cautions.append(f"Its time is told every {rig.intervals.tourniquet_min:g} min. {DIRECTION}")
    if command.procedure == "tourniquet" and command.ended:
        how += _tourniquet_time(command, scene, key, at)
    return Outcome(
        intent=command.intent,
        lead=lead,
        how=tuple(how),
        spoken=lead,
        answer=ProcedureAnswer(
            patient=key,
            at=at,
            procedure=command.procedure,
            site=command.site,
            gauge=command.gauge,
            flow_lpm=command.flow_lpm,
            device=command.device,
            reported=command.reported,
            success=command.success,
            tries=command.tries,
            contact_to_s=contact,
        ),
        cautions=tuple(cautions),
        events=(*opens_as_medical(scene), Dated(ProcedureDone(key, replace(command, time=None)), at=at)),
        opens=True,
    )


def _contact_to(command: Procedure, scene: Scene, at: datetime) -> float | None:
    contact = scene.stamp("patient_contact", partial=True)
    if command.procedure != "12-lead ECG" or contact is None:
        return None
    known = scene.care.patients.values()
    if any(done.told.procedure == "12-lead ECG" for patient in known for done in patient.procedures):
        return None
    return (at - contact.at).total_seconds() if at >= contact.at else None


def _tourniquet_time(command: Procedure, scene: Scene, key: str, at: datetime) -> list[str]:
    known = scene.care.patients.get(key)
    on = known.tourniquets if known is not None else ()
    ended = next((one for one in reversed(on) if command.site in (None, one.told.site)), None)
    return [f"It was on for {duration((at - ended.at).total_seconds())}."] if ended is not None else []
