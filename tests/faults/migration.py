"""A record of the first version brought up to date, killed before each statement and commit in turn, opened again."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import closing
from pathlib import Path

import alembic.command  # loaded before the forks
from alembic.config import Config
from sqlalchemy import create_engine, event
from sqlalchemy.engine import Engine

from bot.store.database import Store
from bot.store.schema import HEAD
from tests.faults.counts import Counts

ROWS = 40
"""Of every table."""
NEVER = 10**6


def old_record(path: Path) -> None:
    """A record as the first version made it, with rows in every table."""
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        config = Config()
        config.set_main_option("script_location", "bot.store:migrations")
        config.attributes["connection"] = connection
        alembic.command.upgrade(config, "0001")
    engine.dispose()
    with closing(sqlite3.connect(path)) as connection:
        for table in _tables(connection):
            columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
            for number in range(ROWS):
                values = [_value(kind, number) for _, _, kind, *_ in columns]
                connection.execute(f"INSERT INTO {table} VALUES ({','.join('?' * len(values))})", values)
        connection.commit()


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return [name for (name,) in rows if name not in ("alembic_version", "sqlite_sequence")]


def _value(kind: str, number: int) -> object:
    if kind.startswith("DATETIME"):
        return "2026-03-07 12:00:00.000000"
    return number % 2 if kind == "BOOLEAN" else number if kind == "INTEGER" else f"{number}"


def _contents(path: Path) -> dict[str, int]:
    with closing(sqlite3.connect(path)) as connection:
        return {
            table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in _tables(connection)
        }


def _open(path: Path, kill_at: int) -> int:
    """Opens the record as the program does, killed before its statement of that number; returns how many there were."""
    done = 0

    @event.listens_for(Engine, "commit")
    @event.listens_for(Engine, "before_cursor_execute")
    def _count(*_: object) -> None:
        nonlocal done
        if done == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)
        done += 1

    async def opened() -> None:
        await (await Store.open(f"sqlite:///{path}")).close()

    asyncio.run(opened())
    return done


def _forked(work: Callable[[], int]) -> int:
    """Work done in a process of its own: its exit status (its number, or −9 when it was killed)."""
    child = os.fork()
    if child == 0:
        status = 255
        try:
            status = work()
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def every_statement(every: int) -> dict[str, int]:
    """Kills before each `every`-th statement; what came of it."""
    with tempfile.TemporaryDirectory() as folder:
        old = Path(folder, "old.sqlite")
        _forked(lambda: old_record(old) or 0)
        before = _contents(old)
        whole = Path(folder, "whole.sqlite")
        shutil.copy(old, whole)
        statements = _forked(lambda: _open(whole, NEVER))
        killed = unopened = damaged = changed = 0
        for at in range(0, statements, every):
            path = Path(folder, f"{at}.sqlite")
            shutil.copy(old, path)
            killed += _forked(lambda: _open(path, at)) == -signal.SIGKILL  # noqa: B023
            unopened += _forked(lambda: _open(path, NEVER) * 0) != 0  # noqa: B023
            with closing(sqlite3.connect(path)) as connection:
                damaged += connection.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
                unopened += connection.execute("SELECT version_num FROM alembic_version").fetchone()[0] != HEAD
            changed += any(_contents(path).get(table) != number for table, number in before.items())
        return {
            "statements": statements, "killed": killed, "unopened": unopened, "damaged": damaged, "changed": changed,
        }  # fmt: skip


async def run(full: bool) -> AsyncIterator[Counts]:
    """Before every statement, at both lengths."""
    finished = await asyncio.to_thread(
        subprocess.run,
        [sys.executable, "-m", "tests.faults.migration", "1"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    found = json.loads(finished.stdout)
    counts = Counts("killed in the migration of a record of the first version")
    counts.tried("statements and commits of the migration", found["statements"])
    counts.at_least("kills in it", found["killed"], found["statements"])
    counts.none("records that then couldn't be opened or weren't brought up to date", found["unopened"])
    counts.none("records damaged", found["damaged"])
    counts.none("records that lost or gained rows", found["changed"])
    yield counts


if __name__ == "__main__":
    print(json.dumps(every_statement(int(sys.argv[1]))))
