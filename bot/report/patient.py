"""One patient's record as a file: PDF, CSV, or JSON under the open standard's element numbers. One patient a file."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, tzinfo

from reportlab.lib.pagesizes import LETTER
from reportlab.lib.units import inch
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from bot.report.paper import HEAD, SMALL, TITLE, fonts, table, text
from handlers.care import Patient
from handlers.errors import CrosslayError
from handlers.medical.elements import SCHEMA, arrest_facts, patient_elements, patient_rows
from handlers.medical.hand_over import CHECK, handed_over
from handlers.medical.patients import DIRECTION, done_line, given_line, set_line
from handlers.medical.resuscitation import arrest_lines
from handlers.rig import Rig
from handlers.scene import Scene
from handlers.times import clock

FORMS = ("pdf", "csv", "json")


class PatientFormError(CrosslayError):
    """A patient's file name must end in .pdf, .csv or .json."""


class NoPatientError(CrosslayError):
    """There is no such patient in this incident."""


def patient_of(scene: Scene, key: str) -> Patient:
    """A patient by number or name.

    Raises:
        NoPatientError: none goes by it.
    """
    wanted = key.casefold().removeprefix("patient ").strip()
    known = scene.care.patients
    if wanted in known:
        return known[wanted]
    there = ", ".join(known) or "none"
    raise NoPatientError(f"No patient {key} is in this incident; there are: {there}.")


def render_patient(scene: Scene, patient: Patient, form: str, rig: Rig, now: datetime, tz: tzinfo | None) -> bytes:
    """The record in one of `FORMS`. Raises PatientFormError for another."""
    match form:
        case "pdf":
            return _pdf(scene, patient, rig, now, tz)
        case "csv":
            lines = io.StringIO()
            csv.writer(lines, lineterminator="\r\n").writerows(patient_rows(scene, patient))
            return lines.getvalue().encode("utf-8-sig")
        case "json":
            made = patient_elements(scene, patient)
            if scene.arrest is not None:
                made["arrest"] = arrest_facts(scene.arrest, now)
            return (json.dumps(made, indent=2, ensure_ascii=False) + "\n").encode()
    raise PatientFormError()


def _pdf(scene: Scene, patient: Patient, rig: Rig, now: datetime, tz: tzinfo | None) -> bytes:
    fonts()
    out = io.BytesIO()
    story: list[Flowable] = [
        text(f"{rig.department}: {patient.name}", TITLE),
        text(f"Incident {scene.incident}, {patient.first_at:%Y-%m-%d}, times local, 24-h clock."),
        Spacer(1, 6),
    ]
    for line in handed_over(scene, patient, rig, now, tz):
        story.append(text(line))
    for title, lines in (
        ("Vital signs", [set_line(one, tz) for one in patient.vitals]),
        ("Drugs as reported", [given_line(one, tz) for one in patient.drugs]),
        ("Procedures as reported", [done_line(one, tz) for one in patient.procedures]),
        ("Arrest", arrest_lines(scene.arrest, now, tz) if scene.arrest is not None else []),
        ("As it was said", [f"{clock(at, tz)} “{words}”" for at, words in patient.words]),
    ):
        if lines:
            story.append(text(title, HEAD))
            story += [text(line) for line in lines]
    story.append(text(SCHEMA, HEAD))
    rows = [[text(cell, SMALL) for cell in row] for row in patient_rows(scene, patient) if row[0] != "as said"]
    story.append(table(rows, [1.1, 1.2, 2.7, 2.1]))
    story += [Spacer(1, 6), text(f"{CHECK} {DIRECTION}", SMALL)]
    margin = 0.7 * inch
    SimpleDocTemplate(
        out, pagesize=LETTER, leftMargin=margin, rightMargin=margin, title=f"{scene.incident} {patient.name}"
    ).build(story)
    return out.getvalue()
