"""What the record's functions need of a transaction (`Tx`), and SQLite's, which does its quick work at once.

Statements on our small tables take microseconds: they run where they stand, since a thread's hand-over and back costs
more than the statement, twenty times a message. What can wait, for the disk (COMMIT of what was written) or for another
program's lock (BEGIN), goes to a thread and leaves the event loop free.
"""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
from collections.abc import AsyncIterator, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol, TypeVar

from sqlalchemy import Executable
from sqlalchemy.engine import Connection, CursorResult, Dialect, Engine
from sqlalchemy.exc import OperationalError

T = TypeVar("T")
PATIENCE_MS = 10_000
"""So long another program's lock is waited for."""


class Tx(Protocol):
    """An open transaction: SQLAlchemy's own Tx, or SQLite's below."""

    @property
    def dialect(self) -> Dialect: ...

    async def execute(self, statement: Executable, parameters: Any = None, /) -> CursorResult[*tuple[Any, ...]]: ...

    def begin_nested(self) -> contextlib.AbstractAsyncContextManager[Any]:
        """A part that can fail by itself: what it wrote is taken back, the rest stays."""
        ...

    async def run_sync(self, work: Callable[[Connection], T], /) -> T: ...


class SqliteTx:
    """A transaction on SQLite."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.dialect = connection.dialect

    async def execute(self, statement: Executable, parameters: Any = None, /) -> CursorResult[*tuple[Any, ...]]:
        return self._connection.execute(statement, parameters)

    @contextlib.asynccontextmanager
    async def begin_nested(self) -> AsyncIterator[None]:
        with self._connection.begin_nested():
            yield

    async def run_sync(self, work: Callable[[Connection], T], /) -> T:
        return work(self._connection)


class Sqlite:
    """An open SQLite record: one connection, one transaction at a time."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._in_memory = engine.url.database in (None, "", ":memory:")
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="record")
        self._open = True

    @contextlib.asynccontextmanager
    async def begin(self, *, soft: bool = False) -> AsyncIterator[SqliteTx]:
        """See Store.begin."""
        with self.engine.connect() as connection:
            driver = connection.connection.driver_connection
            assert isinstance(driver, sqlite3.Connection)
            driver.execute(f"PRAGMA synchronous={'NORMAL' if soft else 'FULL'}")
            transaction = await self._begun(connection, driver)
            before = driver.total_changes
            try:
                yield SqliteTx(connection)
                if self._in_memory or driver.total_changes == before:
                    transaction.commit()  # nothing has to reach the disk
                else:
                    await self._apart(transaction.commit)
            except BaseException:
                with contextlib.suppress(Exception):
                    transaction.rollback()
                raise

    async def _begun(self, connection: Connection, driver: sqlite3.Connection) -> Any:
        """At once where the record is free; in the thread where another program is writing."""
        driver.execute("PRAGMA busy_timeout=0")
        try:
            return connection.begin()
        except OperationalError:
            driver.execute(f"PRAGMA busy_timeout={PATIENCE_MS}")
            return await self._apart(connection.begin)
        finally:
            driver.execute(f"PRAGMA busy_timeout={PATIENCE_MS}")

    async def _apart(self, work: Callable[[], T]) -> T:
        """In the thread, to its end: a commit that is left alone would meet the next statement."""
        waiting = asyncio.get_running_loop().run_in_executor(self._thread, work)
        try:
            return await asyncio.shield(waiting)
        except asyncio.CancelledError:
            await asyncio.wait({waiting})
            raise

    async def close(self) -> None:
        """Close it once no transaction is open; again is no fault."""
        if self._open:
            self._open = False
            await self._apart(self.engine.dispose)
            self._thread.shutdown(wait=False)
