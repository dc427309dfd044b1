"""`crosslay report`: an incident's record as a file."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path

from bot import report, rigs
from bot.errors import FileProblem
from bot.settings import Settings
from bot.store import log
from bot.store.database import Store
from handlers.errors import CrosslayError
from handlers.incident.record import Record, record

LAST = "last"
"""Names the newest incident."""


class NoIncidentError(CrosslayError):
    """There is no such incident."""


def write_report(settings: Settings, incident: str, to: str) -> str:
    """Write an incident's record in the form that the file's ending names; returns what was written, in one line.

    Raises:
        NoIncidentError, FileProblem, UnknownFormError, StoreError.
    """
    known = rigs.load(settings.rig)
    company, made = asyncio.run(_record(settings, known, incident))
    try:
        report.write(made, Path(to), known.of(company), settings.tz)
    except OSError as error:
        raise FileProblem(to, f"the report can't be written ({error.strerror}).") from None
    return f"The record of incident {made.incident} is in {to}."


async def _record(settings: Settings, known: rigs.Rigs, name: str) -> tuple[str, Record]:
    store = await Store.open(settings.database_url)
    try:
        async with store.begin() as tx:
            newest = await log.latest_incidents(tx)
            found = newest[0] if name == LAST and newest else await log.incident(tx, name)
            if found is None:
                there = ", ".join(one.id for one in newest[:5]) or "none so far"
                raise NoIncidentError(f"There is no incident {name}; the newest are: {there}.")
            return found.company, record(await log.since(tx, found.id), known.of(found.company), datetime.now(UTC))
    finally:
        await store.close()
