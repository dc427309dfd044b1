"""`crosslay report`: an incident's record, or the daily check's, as a file or on the screen."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path

from bot import report, rigs
from bot.errors import FileProblem
from bot.settings import Settings
from bot.store import log
from bot.store.connection import Tx
from bot.store.database import Store
from handlers.errors import CrosslayError
from handlers.events import ReadinessStarted
from handlers.incident.readiness_record import CheckRecord, check_text, last_check
from handlers.incident.record import Record, record
from handlers.rig import Rig

LAST = "last"
"""Names the newest incident."""


class NoIncidentError(CrosslayError):
    """There is no such incident."""


class NoCheckError(CrosslayError):
    """No daily check is in the record: say “start the daily check” in a room first."""


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


def write_patient(settings: Settings, incident: str, patient: str, to: str) -> str:
    """Write one patient's record in the form that the file's ending names; returns what was written, in one line.

    Raises:
        NoIncidentError, NoPatientError, FileProblem, PatientFormError, StoreError.
    """
    from bot.report.patient import patient_of, render_patient

    known = rigs.load(settings.rig)
    company, made = asyncio.run(_record(settings, known, incident))
    one = patient_of(made.scene, patient)
    form = Path(to).suffix.lstrip(".").casefold()
    content = render_patient(made.scene, one, form, known.of(company), made.until, settings.tz)
    try:
        Path(to).write_bytes(content)
    except OSError as error:
        raise FileProblem(to, f"the record can't be written ({error.strerror}).") from None
    return f"The record of {one.name} in incident {made.incident} is in {to}."


async def _record(settings: Settings, known: rigs.Rigs, name: str) -> tuple[str, Record]:
    store = await Store.open(settings.database_url)
    try:
        async with store.begin() as tx:
            newest = await log.latest_incidents(tx)
            found = newest[0] if name == LAST and newest else await log.incident(tx, name)
            if found is None:
                there = ", ".join(one.id for one in newest[:5]) or "none so far"
                raise NoIncidentError(f"There is no incident {name}; the newest are: {there}.")
            rig, events = known.of(found.company), await log.since(tx, found.id)
            return found.company, record(events, rig, datetime.now(UTC), settings.tz)
    finally:
        await store.close()


def write_check(settings: Settings, to: str) -> str:
    """The latest daily check's record: written to a file where one is named; returns what is to be printed.

    Raises:
        NoCheckError, FileProblem, CheckFormError, StoreError.
    """
    known = rigs.load(settings.rig)
    made = asyncio.run(_check(settings, known))
    if not to:
        return check_text(made, settings.tz)
    from bot.report.readiness import render_check

    content = render_check(made, Path(to).suffix.lstrip(".").casefold(), settings.tz)
    try:
        Path(to).write_bytes(content)
    except OSError as error:
        raise FileProblem(to, f"the report can't be written ({error.strerror}).") from None
    return f"The record of the daily check is in {to}."


async def _check(settings: Settings, known: rigs.Rigs) -> CheckRecord:
    store = await Store.open(settings.database_url)
    try:
        async with store.begin() as tx:
            return await latest_check(tx, known.own, known.own_unit)
    finally:
        await store.close()


async def latest_check(tx: Tx, rig: Rig, unit: str) -> CheckRecord:
    """A company's latest daily check. Raises NoCheckError."""
    name = await log.log_of_latest(tx, unit, ReadinessStarted)
    made = last_check(await log.since(tx, name), rig, unit) if name is not None else None
    if made is None:
        raise NoCheckError()
    return made
