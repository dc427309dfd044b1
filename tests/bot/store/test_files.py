"""The record as a file: damaged ones set aside, backups made under load and put back, nothing ever overwritten."""

from __future__ import annotations

import asyncio
import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from bot.clock import SimulatedClock
from bot.errors import FileProblem, StoreError
from bot.store import files, log
from bot.store.connection import Sqlite
from bot.store.database import MEMORY, Store
from handlers.history import History
from tests.bot.message.test_pipeline import Yard


async def some_record(url: str, clock: SimulatedClock, said: int = 40) -> None:
    """A record of an incident with so many reports in it."""
    store = await Store.open(url)
    yard = Yard(store, clock)
    await yard.say("engine 12 on scene")
    for number in range(said):
        await yard.say(f"note hose bed {number} is empty")
    await store.close()


def path_of(url: str) -> Path:
    return files.path_of(url)


def spoil(path: Path, seed: int) -> None:
    """Other bytes in the middle of every page after the first."""
    content = bytearray(path.read_bytes())
    noise = random.Random(seed)
    for page in range(4096, len(content), 4096):
        content[page : page + 512] = noise.randbytes(512)
    path.write_bytes(content)


# Damage


@pytest.mark.parametrize("seed", range(5))
async def test_a_damaged_record_is_set_aside_and_the_error_says_how_to_go_on(
    url: str, clock: SimulatedClock, seed: int, tmp_path: Path
) -> None:
    await some_record(url, clock)
    path = path_of(url)
    kept_safe = files.backup(url, str(tmp_path / "safe.sqlite"))
    spoil(path, seed)
    damaged = path.read_bytes()
    with pytest.raises(StoreError, match=r"is damaged \(.*\)\. It was set aside, as it is, as .*damaged-.*Z") as caught:
        await Store.open(url)
    assert "crosslay restore FILE" in caught.value.message
    assert "\n" not in caught.value.message
    (aside,) = [file for file in path.parent.glob("record.sqlite.damaged-*") if file.name.endswith("Z")]
    assert aside.read_bytes() == damaged
    assert not path.exists()
    restored, before = files.restore(url, str(kept_safe))
    assert (restored, before) == (path, None)
    store = await Store.open(url)
    async with store.begin() as tx:
        assert len(await log.since(tx, "2026-03-07-1")) > 40
    await store.close()


async def test_a_second_damaged_record_doesnt_take_the_firsts_place(url: str, clock: SimulatedClock) -> None:
    for seed in range(2):
        await some_record(url, clock)
        spoil(path_of(url), seed)
        with pytest.raises(StoreError, match="set aside"):
            await Store.open(url)
    kept = [
        file for file in path_of(url).parent.glob("record.sqlite.damaged-*") if not file.name.endswith(files._BESIDE)
    ]
    assert len(kept) == 2


async def test_a_record_whose_beginning_is_lost_is_set_aside(url: str, clock: SimulatedClock) -> None:
    await some_record(url, clock)
    path = path_of(url)
    path.write_bytes(b"\x00\xff" * 2048 + path.read_bytes()[4096:])
    with pytest.raises(StoreError, match=r"is damaged .file is not a database.. It was set aside"):
        await Store.open(url)
    assert list(path.parent.glob("record.sqlite.damaged-*"))


async def test_a_letter_that_was_named_by_mistake_stays_where_it_is(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("this is a letter, no database. " * 99)
    with pytest.raises(StoreError, match=r"can't be opened .file is not a database."):
        await Store.open(f"sqlite:///{letter}")
    assert letter.read_text().startswith("this is a letter")


async def test_the_first_error_is_told_not_that_of_the_cleaning_up(store: Store) -> None:
    """A statement that already ended the transaction makes the rolling back fail too."""

    async def fail() -> None:
        async with store.begin() as tx:
            await tx.execute(text("ROLLBACK"))  # as SQLite itself does when the disk is full
            raise ZeroDivisionError("the true error")

    with pytest.raises(ZeroDivisionError, match="the true error"):
        await fail()
    async with store.begin() as tx:
        assert (await tx.execute(text("SELECT count(*) FROM people"))).scalar() == 0


async def test_an_error_of_opening_isnt_hidden_by_one_of_closing(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    closed = Store.close

    async def close(self: Store) -> None:
        await closed(self)
        raise RuntimeError("the cleaning up failed")

    def full(connection: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Store, "close", close)
    monkeypatch.setattr("bot.store.database.bring_up_to_date", full)
    with pytest.raises(StoreError, match=r"can't be opened .no space left on device."):
        await Store.open(url)


async def test_a_closing_that_fails_hides_nothing(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    store = await Store.open(url)
    closed = Sqlite.close

    async def broken(record: Sqlite) -> None:
        await closed(record)
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(Sqlite, "close", broken)

    async def fail() -> None:
        try:
            raise ZeroDivisionError("the true error")
        finally:
            await store.close()

    with pytest.raises(ZeroDivisionError, match="the true error"):
        await fail()


# Backups


async def test_a_backup_under_load_is_one_moment_of_the_record(url: str, clock: SimulatedClock, tmp_path: Path) -> None:
    """While messages are written down, every copy holds whole messages: each that is done, with its event."""
    store = await Store.open(url)
    yard = Yard(store, clock)
    await yard.say("engine 12 on scene")
    saying = asyncio.create_task(_say_on(yard, 150))
    copies = []
    while not saying.done():
        copies.append(await asyncio.to_thread(files.backup, url, str(tmp_path / f"copy{len(copies)}.sqlite")))
    await saying
    await store.close()
    assert len(copies) >= 3
    counts = [_whole(copy) for copy in copies]
    assert counts == sorted(counts)
    assert counts[-1] > counts[0], "the load went on between the copies"


async def _say_on(yard: Yard, count: int) -> None:
    for number in range(count):
        await yard.say(f"note hose bed {number} is empty")
        await asyncio.sleep(0)


def _whole(copy: Path) -> int:
    """How many notes a copy holds; every message that is done has its event, and events are numbered through."""
    with closing(sqlite3.connect(copy)) as connection:
        done = connection.execute("SELECT count(*) FROM inbox WHERE body LIKE '%hose bed%' AND done_at IS NOT NULL")
        seqs = [row[0] for row in connection.execute("SELECT seq FROM events ORDER BY seq")]
        notes = connection.execute("SELECT count(*) FROM events WHERE body LIKE '%hose bed%'").fetchone()[0]
        assert notes == done.fetchone()[0]
        assert seqs == list(range(1, len(seqs) + 1))
    return int(notes)


async def test_a_restored_record_is_the_one_that_was_backed_up_and_the_other_is_kept(
    url: str, clock: SimulatedClock, tmp_path: Path
) -> None:
    await some_record(url, clock, said=3)
    copy = files.backup(url, str(tmp_path))
    assert copy.parent == tmp_path
    assert copy.name.startswith("crosslay-")
    async with open_store(url) as store:
        await Yard(store, clock).say("command established", "officer's")
    path, before = files.restore(url, str(copy))
    assert before is not None
    assert [len(await events(f"sqlite:///{one}")) for one in (path, before)] == [7, 8]


async def test_what_was_waiting_when_the_backup_was_made_is_marked_when_it_is_sent(
    url: str, clock: SimulatedClock, tmp_path: Path
) -> None:
    async with open_store(url) as store:
        yard = Yard(store, clock)
        await yard.pipeline.say(_message(clock))
        copy = files.backup(url, str(tmp_path / "copy.sqlite"))
        await yard.outbox.drain()
        assert not yard.last().text.startswith("(sent again")
    files.restore(url, str(copy))
    async with open_store(url) as store:
        yard = Yard(store, clock)
        await yard.outbox.drain()
        assert yard.last().text.startswith("(sent again: it may be here already)")


async def test_nothing_is_restored_under_a_running_program(
    store: Store, url: str, clock: SimulatedClock, tmp_path: Path
) -> None:
    await Yard(store, clock).say("engine 12 on scene")
    copy = files.backup(url, str(tmp_path / "copy.sqlite"))
    with pytest.raises(StoreError, match=r"A Crosslay is running on .*: stop it, then restore"):
        files.restore(url, str(copy))
    assert (await Yard(store, clock).say("how long", "hall")).status == "answered"


def test_a_backup_overwrites_nothing(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/record.sqlite"
    with pytest.raises(StoreError, match=r"There is no record at .*record\.sqlite yet"):
        files.backup(url, str(tmp_path / "copy.sqlite"))
    asyncio.run(_made(url))
    there = tmp_path / "copy.sqlite"
    there.write_text("mine")
    with pytest.raises(FileProblem, match=r"copy\.sqlite: it is there already; a backup overwrites nothing"):
        files.backup(url, str(there))
    assert there.read_text() == "mine"
    assert not list(tmp_path.glob("*.part"))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "there is no such backup"),
        (b"", "no whole record"),
        (b"a letter " * 99, "no whole record"),
        ("other tables", "no whole record"),
        ("spoilt", "no whole record"),
        ("newer", "made by a newer Crosslay"),
    ],
)
async def test_only_a_whole_record_is_restored(
    url: str, clock: SimulatedClock, tmp_path: Path, content: bytes | str | None, says: str
) -> None:
    await some_record(url, clock)
    before = path_of(url).read_bytes()
    copy = tmp_path / "copy.sqlite"
    if isinstance(content, bytes):
        copy.write_bytes(content)
    elif content == "other tables":
        with closing(sqlite3.connect(copy)) as connection:
            connection.execute("CREATE TABLE letters (words)")
    elif content is not None:
        files.backup(url, str(copy))
        if content == "spoilt":
            spoil(copy, 1)
        else:
            with closing(sqlite3.connect(copy)) as connection:
                connection.execute("UPDATE alembic_version SET version_num = '9999'")
                connection.commit()
    with pytest.raises(FileProblem, match=says):
        files.restore(url, str(copy))
    assert path_of(url).read_bytes() == before


@pytest.mark.parametrize("url", ["postgresql+asyncpg://desk@db/fire", MEMORY])
def test_a_record_on_a_server_names_its_own_tools(url: str) -> None:
    for work in (files.backup, files.restore):
        with pytest.raises(StoreError, match=r"copy it with pg_dump .* pg_restore"):
            work(url, "copy.sqlite")


# Helpers


class open_store:  # noqa: N801 - reads as a with-statement
    """A record, open for a while."""

    def __init__(self, url: str) -> None:
        self._url = url

    async def __aenter__(self) -> Store:
        self._store = await Store.open(self._url)
        return self._store

    async def __aexit__(self, *_: object) -> None:
        await self._store.close()


async def _made(url: str) -> None:
    async with open_store(url):
        pass


async def events(url: str) -> list[object]:
    async with open_store(url) as store, store.begin() as tx:
        found = await log.since(tx, "2026-03-07-1")
        History(found)
        return list(found)


def _message(clock: SimulatedClock):  # type: ignore[no-untyped-def]
    from bot.message import Message

    return Message("yard:crew", "w1", "kim", clock.now(), "engine 12 on scene", addressed=True)
