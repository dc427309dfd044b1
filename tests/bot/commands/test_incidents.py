"""How long a record is kept: incidents listed, forgotten by a person or by themselves; nothing of them is left."""

from __future__ import annotations

import asyncio
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import String, Text, func, select

from bot import rigs
from bot.clock import SimulatedClock
from bot.commands import incidents
from bot.commands.incidents import StillOpenError, forget_old, list_incidents
from bot.commands.report import NoIncidentError
from bot.program.station import Station
from bot.rooms.scripted import ScriptedRoom
from bot.settings import Settings
from bot.store import log
from bot.store.database import Store
from bot.store.tables import metadata, people
from tests.bot.message.test_pipeline import Yard
from tests.bot.message.test_rights_kept import a_guest

SECRET = "marigold"
"""Said in the incident that is forgotten, and nowhere else."""


@pytest.fixture
def settings(url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Settings:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(incidents, "DIRS", type("Folders", (), {"user_data_path": tmp_path / "data"}))
    return Settings(database=url, timezone="UTC")


async def an_incident(yard: Yard, word: str, *, closed: bool = True) -> None:
    """Engine 12's fire with a guest, something asked, a reminder waiting, a record sent, and a word said in it."""
    await yard.say(f"dispatch: structure fire, 214 {word} Street, engine 12", "dana", who="dana", group=False)
    await yard.say("engine 12 on scene", "dana", who="dana", group=False)
    await a_guest(yard)
    await yard.say(f"note the {word} gate is locked", "nine", who="ana")
    await yard.say("all clear")
    await yard.say("remind me in five minutes to check the roof")
    await yard.say("send the report", "dana", who="dana", group=False)
    if closed:
        await yard.say("command terminated", "dana", who="dana", group=False)


async def where(store: Store, word: str) -> set[str]:
    """The columns in which a word still stands."""
    found = set()
    async with store.begin() as tx:
        for table in metadata.sorted_tables:
            for column in table.c:
                if isinstance(column.type, Text | String):
                    count = select(func.count()).select_from(table).where(column.ilike(f"%{word}%"))
                    if (await tx.execute(count)).scalar():
                        found.add(f"{table.name}.{column.name}")
    return found


def _contents(folder: Path) -> list[bytes]:
    """What the record's files hold, in lower case."""
    found = [file.read_bytes().lower() for file in folder.glob("record.sqlite*")]
    assert found
    return found


async def two_incidents(url: str, clock: SimulatedClock) -> None:
    """One of noon with the word in it, and one of an hour later without."""
    store = await Store.open(url)
    yard = Yard(store, clock)
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await an_incident(yard, SECRET)
    clock.advance(3600)
    await an_incident(yard, "harbor")
    assert {"events.body", "inbox.body", "outbox.text"} <= await where(store, SECRET)
    await store.close()


@pytest.fixture
async def kept(url: str, clock: SimulatedClock) -> None:
    await two_incidents(url, clock)


@pytest.mark.usefixtures("kept")
def test_incidents_are_listed_newest_first(settings: Settings) -> None:
    lines = list_incidents(settings).splitlines()
    assert [line.split("  ")[0] for line in lines] == ["2026-03-07-2", "2026-03-07-1"]
    assert lines[0].startswith("2026-03-07-2  Engine 12  13:00  0:00  structure fire, 214 harbor")


def test_an_empty_record_says_so(settings: Settings) -> None:
    assert list_incidents(settings) == incidents.NONE


async def test_what_is_forgotten_is_gone_from_every_table_and_from_the_file(
    settings: Settings, url: str, clock: SimulatedClock, tmp_path: Path
) -> None:
    await two_incidents(url, clock)
    sent = tmp_path / "data" / "sent" / "incident 2026-03-07-1.pdf"
    sent.parent.mkdir(parents=True)
    sent.write_bytes(b"%PDF")
    said = await asyncio.to_thread(incidents.forget_incident, settings, "2026-03-07-1")
    assert said.startswith("Incident 2026-03-07-1 is erased from the record;")
    assert not sent.exists()
    assert not any(SECRET.encode() in content for content in _contents(tmp_path))
    store = await Store.open(url)
    assert await where(store, SECRET) == set()
    assert await where(store, "2026-03-07-1") == set()
    assert "events.body" in await where(store, "harbor"), "the other one is whole"
    await store.close()


@pytest.mark.parametrize(("name", "error"), [("2026-03-07-9", NoIncidentError), ("2026-03-07-1", StillOpenError)])
async def test_what_isnt_there_or_is_still_open_isnt_forgotten(
    settings: Settings, url: str, clock: SimulatedClock, name: str, error: type[Exception]
) -> None:
    store = await Store.open(url)
    yard = Yard(store, clock)
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await an_incident(yard, SECRET, closed=False)
    async with store.begin() as tx:
        with pytest.raises(error):
            await incidents._forgotten(tx, name)
        assert await log.incident(tx, "2026-03-07-1") is not None
    await store.close()


async def test_a_number_that_was_forgotten_begins_anew(store: Store, clock: SimulatedClock) -> None:
    """Also in a program that knew the one that had it before."""
    yard = Yard(store, clock)
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await an_incident(yard, SECRET)
    async with store.begin() as tx:
        await incidents._forgotten(tx, "last")
    clock.advance(60)
    await yard.say("engine 12 on scene", "dana", who="dana", group=False)
    status = (await yard.say("status", "dana", who="dana", group=False)).reply
    assert "On scene 12:01" in status or "12:01" in status
    assert SECRET not in status
    assert "erminated" not in status


async def test_a_number_isnt_given_twice(store: Store, clock: SimulatedClock) -> None:
    yard = Yard(store, clock)
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    for _ in range(2):
        await an_incident(yard, SECRET)
        clock.advance(60)
    async with store.begin() as tx:
        await incidents._forgotten(tx, "2026-03-07-1")
    await an_incident(yard, "harbor")
    async with store.begin() as tx:
        assert {one.id for one in await log.latest_incidents(tx)} == {"2026-03-07-2", "2026-03-07-3"}


async def test_what_is_older_than_the_settings_say_is_forgotten_by_itself(store: Store, clock: SimulatedClock) -> None:
    yard = Yard(store, clock)
    await yard.say("start the daily check", "dana", who="dana", group=False)
    await yard.say(f"how far to {SECRET} street", who="sam", name="Sam")
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await an_incident(yard, SECRET)
    await yard.outbox.drain()
    clock.advance(30 * 86400 - 3600)
    assert await forget_old(store, clock.now() - timedelta(days=30)) == []
    await an_incident(yard, "harbor")
    clock.advance(2 * 3600)
    assert await forget_old(store, clock.now() - timedelta(days=30)) == ["2026-03-07-1"]
    assert await where(store, SECRET) == set()
    assert "events.body" in await where(store, "harbor")
    async with store.begin() as tx:
        names = set((await tx.execute(select(people.c.name))).scalars())
    assert names == {"", "Ana", "Dana"}, "Sam, who only asked something once, isn't known any more"


@pytest.mark.parametrize(("days", "left"), [(1, False), (0, True)])
async def test_a_running_station_forgets_what_is_old_where_the_settings_say_so(
    url: str, clock: SimulatedClock, days: int, left: bool
) -> None:
    await two_incidents(url, clock)
    clock.advance(2 * 86_400)
    settings = Settings(database=url, timezone="UTC", keep_days=days)
    station = await Station.open(settings, rigs.load(), [ScriptedRoom("yard")], clock=clock)
    await station.start()
    for _ in range(500):
        await asyncio.sleep(0)
        if not await where(station.store, SECRET):
            break
    assert bool(await where(station.store, SECRET)) is left
    await station.stop()
