"""An SQLite connection that does its quick work at once and only waits in its thread.

aiosqlite hands every call to a thread and back, some sixty times a message here; each hand-over costs more than the
statement. Statements on our small tables take microseconds, so they run where they stand. What can wait, for the disk
(COMMIT) or for another program's lock (BEGIN), still goes to the thread and leaves the event loop free.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import aiosqlite

_WAITS = ("BEGIN", "COMMIT", "PRAGMA", "VACUUM")


class Inline(aiosqlite.Connection):
    """See the module; used as SQLAlchemy's driver connection (`connect`), one transaction at a time."""

    async def _execute(self, fn: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
        if self._connection is None or _may_wait(self._connection, fn, args):
            return await super()._execute(fn, *args, **kwargs)  # type: ignore[no-untyped-call]
        return fn(*args, **kwargs)


def _may_wait(connection: sqlite3.Connection, fn: Callable[..., Any], args: tuple[Any, ...]) -> bool:
    if args:
        return isinstance(args[0], str) and args[0].startswith(_WAITS)
    return fn in (connection.commit, connection.close)


def connect(database: str | Path, **options: Any) -> Inline:
    """A connection to be awaited, as aiosqlite.connect gives one."""

    def connector() -> sqlite3.Connection:
        opened: sqlite3.Connection = sqlite3.connect(database, **{**options, "check_same_thread": False})
        return opened

    made = Inline(connector, iter_chunk_size=64)
    made._thread.daemon = True
    return made
