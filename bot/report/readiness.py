"""The daily check's record as a file: PDF, CSV or JSON."""

from __future__ import annotations

import csv
import io
from datetime import tzinfo

import msgspec
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.units import inch
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from bot.report.paper import TITLE, fonts, table, text
from handlers.errors import CrosslayError
from handlers.incident.readiness_record import CheckRecord, check_rows, heading, summary

FORMS = ("pdf", "csv", "json")
CAUTION = "What was reported at the check, by whom and when; it says nothing of the time since."


class CheckFormError(CrosslayError):
    """The daily check's file name must end in .pdf, .csv or .json."""


def render_check(made: CheckRecord, form: str, tz: tzinfo | None) -> bytes:
    """The record in one of `FORMS`. Raises CheckFormError for another."""
    match form:
        case "pdf":
            return _pdf(made, tz)
        case "csv":
            lines = io.StringIO()
            csv.writer(lines, lineterminator="\r\n").writerows(check_rows(made, tz))
            return lines.getvalue().encode("utf-8-sig")
        case "json":
            return msgspec.json.format(msgspec.json.encode(made), indent=2) + b"\n"
    raise CheckFormError()


def _pdf(made: CheckRecord, tz: tzinfo | None) -> bytes:
    fonts()
    out = io.BytesIO()
    rows = [[text(cell) for cell in row] for row in check_rows(made, tz)]
    story: list[Flowable] = [
        text(f"{made.department}: {made.rig}", TITLE),
        text(heading(made, tz)),
        text(summary(made)),
        Spacer(1, 6),
        table(rows, [1.6, 1.2, 0.95, 1.9, 0.8, 0.6]),
        Spacer(1, 6),
        text(CAUTION),
    ]
    margin = 0.7 * inch
    paper = SimpleDocTemplate(out, pagesize=LETTER, leftMargin=margin, rightMargin=margin, title=heading(made, tz))
    paper.build(story)
    return out.getvalue()
