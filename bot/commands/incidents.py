"""How long a record is kept: incidents listed, one forgotten, those older than the settings allow forgotten too."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sqlite3
from collections.abc import Callable, Coroutine
from datetime import datetime, timedelta, tzinfo
from typing import Any

from bot.clock import Clock
from bot.commands.report import LAST, NoIncidentError
from bot.errors import StoreError
from bot.settings import DIRS, Settings
from bot.store import forgetting, log
from bot.store.connection import Tx
from bot.store.database import Store, unbroken
from bot.store.files import path_of
from bot.store.log import IncidentRow
from handlers.errors import CrosslayError
from handlers.history import History
from handlers.times import clock, duration, unit_name

LOOK_AGAIN = timedelta(hours=6)
NONE = "No incident is in the record."

_LOG = logging.getLogger(__name__)


class StillOpenError(CrosslayError):
    """The incident is still open: close it first (“command terminated”)."""


def list_incidents(settings: Settings) -> str:
    """The incidents in the record, the newest first, a line each."""
    return asyncio.run(_with_store(settings, lambda tx: _listed(tx, settings.tz)))


def forget_incident(settings: Settings, name: str) -> str:
    """Erase an incident from the record, with everything that was said in it; returns what was done, in one line.

    Raises:
        NoIncidentError, StillOpenError, StoreError.
    """
    found = asyncio.run(_with_store(settings, lambda tx: _forgotten(tx, name)))
    _erase_files(found)
    _clean_log(settings.database_url)
    return f"Incident {found} is erased from the record; erase its backups and the files that were made of it yourself."


async def keep_for(store: Store, clock: Clock, days: int) -> None:
    """Forget what is older than so many days, now and every few hours, for ever."""
    while True:
        try:
            for gone in await unbroken(forget_old(store, clock.now() - timedelta(days=days))):
                _erase_files(gone)
        except Exception:
            _LOG.exception("What is old couldn't be forgotten; trying again in %s", LOOK_AGAIN)
        await asyncio.sleep(LOOK_AGAIN.total_seconds())


async def forget_old(store: Store, before: datetime) -> list[str]:
    """Forget what ended before then; returns the incidents that were."""
    async with store.begin() as tx:
        old = await forgetting.old_incidents(tx, before)
        for incident in old:
            await forgetting.forget(tx, incident)
        await forgetting.forget_talk(tx, before)
    return old


async def _with_store(settings: Settings, work: Callable[[Tx], Coroutine[Any, Any, str]]) -> str:
    store = await Store.open(settings.database_url)
    try:
        async with store.begin() as tx:
            return await work(tx)
    finally:
        await store.close()


async def _listed(tx: Tx, tz: tzinfo) -> str:
    lines = [await _line(tx, incident, tz) for incident in await log.latest_incidents(tx, limit=10_000)]
    return "\n".join(lines) or NONE


async def _line(tx: Tx, incident: IncidentRow, tz: tzinfo) -> str:
    scene = History(await log.since(tx, incident.id)).scene
    closed = incident.closed_at
    lasted = f"{duration((closed - incident.opened_at).total_seconds())}" if closed else "open"
    what = ", ".join(part for part in (scene.nature or scene.kind, scene.address) if part)
    return f"{incident.id}  {unit_name(incident.company)}  {clock(incident.opened_at, tz)}  {lasted}  {what}"


async def _forgotten(tx: Tx, name: str) -> str:
    newest = await log.latest_incidents(tx)
    found = newest[0] if name == LAST and newest else await log.incident(tx, name)
    if found is None:
        there = ", ".join(one.id for one in newest[:5]) or "none so far"
        raise NoIncidentError(f"There is no incident {name}; the newest are: {there}.")
    if found.closed_at is None:
        raise StillOpenError(f"Incident {found.id} is still open: close it first (“command terminated”).")
    await forgetting.forget(tx, found.id)
    return found.id


def _erase_files(incident: str) -> None:
    """The copies of its record that were shown at this machine's screen."""
    for file in (DIRS.user_data_path / "sent").glob(f"incident {incident}.*"):
        with contextlib.suppress(OSError):
            file.unlink()


def _clean_log(url: str) -> None:
    """Bring the record's write-ahead log into it, which still holds what was erased."""
    with contextlib.suppress(StoreError, sqlite3.Error):
        path = path_of(url)
        with contextlib.closing(sqlite3.connect(path, timeout=5)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
