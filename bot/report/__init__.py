"""The record as files: PDF, CSV, PNG timeline, JSON. `write(record, path, rig, tz)` picks the form by the ending."""

from __future__ import annotations

from datetime import tzinfo
from pathlib import Path
from typing import cast

from bot import extensions
from bot.errors import FileProblem
from handlers.errors import CrosslayError
from handlers.incident.record import Record
from handlers.rig import Rig

FORMS = ("pdf", "csv", "png", "json")


class UnknownFormError(CrosslayError):
    """The report's file name must end in .pdf, .csv, .png or .json."""


def render(made: Record, form: str, rig: Rig, tz: tzinfo | None) -> bytes:
    """The record in one of `FORMS`, or in one that another package adds (`bot.extensions`), as bytes.

    Raises:
        UnknownFormError: another form was asked for.
    """
    if form == "pdf":
        from bot.report.paper import pdf

        return pdf(made, rig, tz)
    if form == "png":
        from bot.report.timeline import png

        return png(made, rig, tz)
    from bot.report.data import csv_bytes, json_bytes

    if form == "csv":
        return csv_bytes(made, tz)
    if form == "json":
        return json_bytes(made)
    if (other := extensions.find(extensions.REPORTS, form)) is not None:
        return cast(bytes, other(made, rig, tz))
    raise UnknownFormError()


def write(made: Record, path: Path, rig: Rig, tz: tzinfo | None) -> None:
    """Write the record to a file; the ending names the form.

    Raises:
        UnknownFormError: the ending names no form.
        FileProblem: the file can't be written.
    """
    content = render(made, path.suffix.lstrip(".").casefold(), rig, tz)
    try:
        path.write_bytes(content)
    except OSError as fault:
        raise FileProblem(path, f"the report can't be written here ({fault.strerror}); name another file") from fault
