"""The log: incidents are numbered by the local day, events come back as they were written."""

from __future__ import annotations

from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy.exc import IntegrityError

from bot.store import log
from bot.store.database import Store
from handlers.events import BenchmarkReported, Event, ParRequested, Retracted
from tests.bot.conftest import NOON


def event(seq: int, body: object = None) -> Event:
    return Event(
        incident="2026-03-07-1",
        seq=seq,
        at=NOON + timedelta(seconds=seq, microseconds=250_000),
        logged_at=NOON + timedelta(seconds=seq + 1),
        who="kim",
        unit="engine 12",
        room="yard",
        message=f"yard/{seq}",
        command=0,
        body=body or BenchmarkReported("on_scene", unit="engine 12"),
        role="officer",
    )


async def test_an_incidents_id_is_the_local_date_and_the_number_of_the_day(store: Store) -> None:
    late = NOON.replace(hour=23, minute=30)
    async with store.begin() as tx:
        ids = [await log.open_incident(tx, "engine 12", at, UTC) for at in (NOON, late, late + timedelta(hours=1))]
        berlin = await log.open_incident(tx, "engine 12", late, ZoneInfo("Europe/Berlin"))
        assert ids == ["2026-03-07-1", "2026-03-07-2", "2026-03-08-1"]
        assert berlin == "2026-03-08-2"


async def test_events_come_back_as_they_were_written(store: Store) -> None:
    written = [event(1), event(2, ParRequested({"engine 12": 3, "ladder 4": None})), event(3, Retracted((1,), "undo"))]
    async with store.begin() as tx:
        await log.add(tx, written)
    async with store.begin() as tx:
        assert await log.since(tx, "2026-03-07-1") == written
        assert await log.since(tx, "2026-03-07-1", 2) == written[2:]


async def test_a_number_is_given_once(store: Store) -> None:
    async with store.begin() as tx:
        await log.add(tx, [event(1)])
    with pytest.raises(IntegrityError):
        async with store.begin() as tx:
            await log.add(tx, [event(1)])
