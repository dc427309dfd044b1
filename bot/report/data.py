"""The record for other programs: CSV of the activity log, JSON under the open standard's field names."""

from __future__ import annotations

import csv
import io
import json
from datetime import tzinfo

from handlers.incident.record import Record, csv_rows, neris_fields


def csv_bytes(made: Record, tz: tzinfo | None) -> bytes:
    """The activity log as CSV, UTF-8 with a byte-order mark so that spreadsheets read it."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(csv_rows(made, tz))
    return text.getvalue().encode("utf-8-sig")


def json_bytes(made: Record) -> bytes:
    """The record as JSON under NERIS field names."""
    return (json.dumps(neris_fields(made), indent=2, ensure_ascii=False) + "\n").encode()
