"""The record at fault: the disk full, the file locked, read-only, damaged, of a newer version."""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import closing
from pathlib import Path

from sqlalchemy import text

from bot.store.connection import Sqlite
from bot.store.database import Store
from handlers.errors import CrosslayError
from tests.bot.rooms.at_work import AtWork, at_work
from tests.faults.counts import Counts
from tests.faults.service import account, answered
from tests.telegram.server import BotApiServer

SEED = 41
ROOT = Path(__file__).parents[2]


async def set_pragma(work: AtWork, words: str) -> None:
    """On the program's own connection, out of any transaction."""
    store = work.station.store
    assert isinstance(store._engine, Sqlite)
    async with store._turn:
        with store._engine.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            raw.execute(f"PRAGMA {words}")


async def hindered(what: str, seconds: float) -> Counts:
    """Two people go on writing while the record can't be written; then it can again."""
    counts = Counts(f"the record {what} for {seconds:g} s while people write")
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder, "record.sqlite")
        async with BotApiServer() as telegram:
            dana, lee = telegram.person("Dana"), telegram.person("Lee")
            async with at_work(telegram, dana.private, lee.private, database=str(record)) as work:
                asked = [dana.says("I'm the officer"), dana.says("engine 12 on scene")]
                asked.append(dana.says(f"remind me in {1 + int(seconds / 2)} seconds to check hose 1"))
                await answered(telegram, asked, 30)
                async with _hindrance(what, work, record):
                    for number in range(20):
                        asked.append((dana, lee)[number % 2].says(f"tank time at {100 + number} gpm, {'x' * 200}"))
                        await asyncio.sleep(seconds / 20)
                await answered(telegram, asked, 60)
                asked.append(lee.says("rear line"))
                await answered(telegram, asked, 60)
                with contextlib.suppress(AssertionError):
                    await telegram.until(lambda: _timer_told(telegram) > 0, timeout_s=30)
    account(counts, what, asked)
    counts.exactly("the timer that fell due meanwhile is told", _timer_told(telegram), 1)
    return counts


def _timer_told(telegram: BotApiServer) -> int:
    return sum(
        "check hose 1." in str(call.given.get("text")) and call.status == 200 and "reply_parameters" not in call.given
        for call in telegram.called("sendMessage")
    )


@contextlib.asynccontextmanager
async def _hindrance(what: str, work: AtWork, record: Path) -> AsyncIterator[None]:
    match what:
        case "without room on its disk":  # SQLite's own bound gives the error of a full disk
            async with work.station.store.begin() as tx:
                pages = (await tx.execute(text("PRAGMA page_count"))).scalar()
                await tx.execute(text(f"PRAGMA max_page_count={pages}"))
            yield
            await set_pragma(work, "max_page_count=1000000000")
        case "read-only":
            await set_pragma(work, "query_only=ON")
            yield
            await set_pragma(work, "query_only=OFF")
        case _:
            await set_pragma(work, "busy_timeout=300")
            with closing(sqlite3.connect(record, timeout=30, isolation_level=None)) as other:
                other.execute("BEGIN IMMEDIATE")
                yield
                other.execute("ROLLBACK")


def at_rest(path: Path) -> None:
    """A record with something in it."""

    async def fill() -> None:
        store = await Store.open(f"sqlite:///{path}")
        async with store.begin() as tx:
            for number in range(200):
                await tx.execute(
                    text("INSERT INTO people (person, name, unit) VALUES (:p, :n, '')"),
                    {"p": f"p{number}", "n": "x" * 100},
                )
        await store.close()

    asyncio.run(fill())


def damaged(times: int) -> Counts:
    """Pages overwritten while nothing runs: opened, it is one sentence, and the file's bytes are kept."""
    counts, chance = Counts(f"the record's file damaged {times} times"), random.Random(SEED)
    silent, uncaught, overwritten, noticed = [], [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder, "whole.sqlite")
        at_rest(whole)
        good = whole.read_bytes()
        for number in range(times):
            home = Path(folder, str(number))
            home.mkdir()
            path = home / "record.sqlite"
            bad = _spoil(good, chance)
            path.write_bytes(bad)
            if _is_sound(path):
                continue
            noticed += 1
            try:
                asyncio.run(_open_and_close(path))
                silent.append(number)
            except CrosslayError:
                pass
            except Exception as error:
                uncaught.append(repr(error))
            wanted = hashlib.sha256(bad).digest()
            kept = [hashlib.sha256(file.read_bytes()).digest() for file in home.rglob("*") if file.is_file()]
            overwritten += wanted not in kept
    counts.tried("damages that SQLite's own check sees", noticed)
    counts.none("opened without a word", list(silent))
    counts.none("said in something else than one of our sentences", list(uncaught))
    counts.none("files whose damaged bytes weren't kept", overwritten)
    return counts


def _spoil(good: bytes, chance: random.Random) -> bytes:
    data = bytearray(good)
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(data) // 4096) * 4096
        match chance.randrange(3):
            case 0:
                data[at : at + 4096] = chance.randbytes(4096)
            case 1:
                data[at : at + 100] = bytes(100)
            case _:
                del data[at + 4096 :]
    return bytes(data) or b"\0"


def _is_sound(path: Path) -> bool:
    copy = path.with_name("copy-to-look-at")
    copy.write_bytes(path.read_bytes())
    try:
        with closing(sqlite3.connect(copy)) as connection:
            return bool(connection.execute("PRAGMA quick_check").fetchall() == [("ok",)])
    except sqlite3.DatabaseError:
        return False
    finally:
        for file in path.parent.glob("copy-to-look-at*"):
            file.unlink()


async def _open_and_close(path: Path) -> None:
    await (await Store.open(f"sqlite:///{path}")).close()


def unopenable() -> Counts:
    """What can't be opened is said in one line, exit 1; nothing is written to it."""
    counts = Counts("a record that can't be opened, at the start of the program")
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        for what, prepare in _UNOPENABLE.items():
            if what == "read-only" and os.geteuid() == 0 and shutil.which("setpriv") is None:
                counts.tried("read-only: not tried, as root may write anything here", 0)
                continue
            path = Path(folder, what, "record.sqlite")
            path.parent.mkdir()
            at_rest(path)
            before = prepare(path)
            done = _started(path, folder)
            line = done.stderr.strip()
            counts.exactly(
                f"{what}: exit 1 and one line", done.returncode == 1 and line.count("\n") == 0 and bool(line), 1
            )
            counts.none(f"{what}: traceback", "Traceback" in done.stderr)
            kept = [one.read_bytes() for one in path.parent.iterdir() if one.is_file()]  # where it was, or set aside
            counts.none(f"{what}: file changed", before not in kept)
            path.parent.chmod(0o755)
    return counts


def _started(path: Path, home: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "HOME": home, "CROSSLAY_DATABASE": str(path), "PYTHONPATH": str(ROOT)}
    as_any_user = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []
    return subprocess.run(
        [*as_any_user, sys.executable, "-m", "bot"], input="crosslay 1\n", capture_output=True, text=True,
        env=environment, timeout=60,
    )  # fmt: skip


def _newer(path: Path) -> bytes:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    path.chmod(0o666)
    path.parent.chmod(0o777)
    return path.read_bytes()


def _read_only(path: Path) -> bytes:
    path.chmod(0o444)
    path.parent.chmod(0o555)
    return path.read_bytes()


def _no_database(path: Path) -> bytes:
    path.write_text("this is a letter, no database. " * 99)
    path.chmod(0o666)
    path.parent.chmod(0o777)
    return path.read_bytes()


_UNOPENABLE: dict[str, Callable[[Path], bytes]] = {
    "of a newer version": _newer,
    "read-only": _read_only,
    "no database at all": _no_database,
}


async def run(full: bool) -> AsyncIterator[Counts]:
    """200 damages, and what can't be opened; in short 12."""
    yield await asyncio.to_thread(damaged, 200 if full else 12)
    yield await asyncio.to_thread(unopenable)
