"""About the talk: help, yes and no, spoken answers on and off, the report on request."""

from __future__ import annotations

from msgspec.structs import replace

from grammar.commands import Confirm, Help, KeepRecordings, SendReport, Talk
from handlers.desk import CAUTION, handle
from handlers.errors import Refusal
from handlers.medical.patients import ELSEWHERE, counts_line, meant, reads
from handlers.outcome import Answer, Outcome, Picture, Said
from handlers.rig import Rig
from handlers.scene import Scene


class Nothing(Answer, frozen=True):
    """Answer of what only concerns the talk."""


@handle.register
def ask_for_help(command: Help, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """What can be said: the words are the grammar's, which the shell puts into the reply."""
    return Outcome(intent=command.intent, lead="You can say, for example:", answer=Nothing(), cautions=(CAUTION,))


@handle.register
def confirm(command: Confirm, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """A yes or no: what a question's button or answer stands for has been handled before it comes here."""
    if command.yes:
        raise Refusal("Yes to what? Say it whole.")
    return Outcome(intent=command.intent, lead="Nothing done.", answer=Nothing())


@handle.register
def talk(command: Talk, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Spoken answers on or off."""
    return Outcome(intent=command.intent, lead=f"Spoken answers {'on' if command.on else 'off'}.", answer=Nothing())


@handle.register
def keep_recordings(command: KeepRecordings, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """Consent to keep one's recordings, or its end; the shell notes it where it keeps any at all."""
    how: tuple[str, ...] = ()
    if command.agree:
        lead = "Noted: where this department keeps recordings for training, yours may be, with the words you put right."
        how = ("“Don't keep my recordings” ends that.",)
    else:
        lead = "Noted: no recording of yours is kept from now on."
    return Outcome(intent=command.intent, lead=lead, how=how, answer=Nothing())


@handle.register
def send_report(command: SendReport, scene: Scene, rig: Rig, said: Said) -> Outcome:
    """The record of the incident, or the daily check's."""
    if not command.readiness and scene.opened_at is None:
        raise Refusal("No incident in this room's log: there is no record to send.")
    form = command.form or "pdf"
    if command.patient is not None:
        return _patients_record(command, scene, said, form)
    return Outcome(
        intent=command.intent,
        lead="The daily check's record." if command.readiness else f"The record, {form.upper()}.",
        answer=Nothing(),
        picture=Picture("readiness" if command.readiness else "report", form),
    )


def _patients_record(command: SendReport, scene: Scene, said: Said, form: str) -> Outcome:
    """One patient's record, to who may read it and where nobody else does."""
    key = meant(scene, command.patient or None)
    patient = scene.care.patients.get(key)
    if patient is None:
        raise Refusal("Nothing of that patient is logged in this incident.")
    if not reads(scene, said, patient):
        raise Refusal(f"{counts_line(patient, said.tz)}. {ELSEWHERE}")
    return Outcome(
        intent=command.intent,
        lead=f"The record of {patient.name}, {form.upper()}.",
        answer=Nothing(),
        picture=Picture("patient", form, replace(command, patient=key)),
    )
