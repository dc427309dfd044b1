"""Opens the record, brings its tables up to date, and hands out transactions.

SQLite: one connection, one writer at a time, write-ahead log, every commit on the disk before it returns.
PostgreSQL: SQLAlchemy's own asynchronous engine.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sqlite3
from collections.abc import AsyncIterator, Callable, Coroutine
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Column, Table, create_engine, event, text
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    IntegrityError,
    InterfaceError,
    NoSuchModuleError,
    OperationalError,
    SQLAlchemyError,
)
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.ext.asyncio import AsyncEngine, create_async_engine
from sqlalchemy.pool import StaticPool
from sqlalchemy.sql.dml import Insert

from bot.errors import StoreError
from bot.store.connection import PATIENCE_MS, Sqlite, Tx
from bot.store.files import prepare
from bot.store.holding import Holder
from bot.store.schema import bring_up_to_date
from bot.store.tables import metadata

T = TypeVar("T")
_LOG = logging.getLogger(__name__)
_LOCK = text("SELECT pg_advisory_xact_lock(hashtextextended(:name, 0))")
_COMPILED: dict[Any, Any] = {}
"""Our few statements, compiled once for all records that are opened."""

MEMORY = "sqlite:///:memory:"
"""A record that lasts as long as the program: drills and tests."""


class Store:
    """The open record."""

    def __init__(self, engine: AsyncEngine | Sqlite) -> None:
        self._engine = engine
        self.one_writer = isinstance(engine, Sqlite)
        """Transactions come one after the other, and one program at a time serves the record."""
        self._holder = None if isinstance(engine, Sqlite) else Holder(engine)
        self._turn: contextlib.AbstractAsyncContextManager[Any] = (
            asyncio.Lock() if self.one_writer else contextlib.nullcontext()
        )

    @classmethod
    async def open(cls, url: str) -> Store:
        """Open (or make) the record at an SQLAlchemy async URL. Raises StoreError."""
        try:
            engine = _engine(url)
        except (OSError, sqlite3.Error) as error:
            raise _unopened(url, error) from None
        except ModuleNotFoundError as error:
            raise StoreError(
                f"The record's database needs the Python package {error.name}: install crosslay[postgresql]."
            ) from None
        except (ArgumentError, NoSuchModuleError) as error:
            raise StoreError(
                f"CROSSLAY_DATABASE is no database address that can be used: {_first_line(error)}"
            ) from None
        store = cls(engine)
        try:
            async with store.begin() as tx:
                await tx.run_sync(metadata.create_all if url == MEMORY else bring_up_to_date)
        except BaseException as error:
            with contextlib.suppress(Exception):  # what went wrong first is told
                await store.close()
            if isinstance(error, OSError | SQLAlchemyError):
                raise _unopened(url, error) from None
            raise
        return store

    async def hold(self, name: str) -> bool:
        """Keep something to this program, where several share the record; False while another has it."""
        return self._holder is None or await self._holder.hold(name)

    async def let_go(self, name: str) -> None:
        """It is anybody's again."""
        if self._holder is not None:
            await self._holder.let_go(name)

    @contextlib.asynccontextmanager
    async def begin(self, *, soft: bool = False) -> AsyncIterator[Tx]:
        """One transaction: committed at the end of the block, rolled back when it raises.

        What is raised is what went wrong first, also where the rolling back goes wrong after it (a full disk).

        Args:
            soft: it outlives the program, but may be lost with the power: for what nothing depends on.
        """
        if isinstance(self._engine, Sqlite):
            async with self._turn, self._engine.begin(soft=soft) as sqlite_tx:
                yield sqlite_tx
            return
        async with self._engine.connect() as tx:
            transaction = await tx.begin()
            try:
                yield tx
                await transaction.commit()
            except BaseException:
                with contextlib.suppress(Exception):
                    await transaction.rollback()
                raise

    async def close(self) -> None:
        """Close it once no transaction is open. Every commit is on the disk already: what fails here is only logged."""
        async with self._turn:
            try:
                if self._holder is not None:
                    await self._holder.close()
                await (self._engine.close() if isinstance(self._engine, Sqlite) else self._engine.dispose())
            except (OSError, sqlite3.Error, SQLAlchemyError) as error:
                _LOG.warning("The record couldn't be closed (%s)", _first_line(error))


async def unbroken(work: Coroutine[Any, Any, T]) -> T:
    """Awaits work to its end even when this task is cancelled meanwhile, and only then goes on with the cancellation.

    A transaction that is cancelled half-way leaves its connection unusable, and SQLite's write lock held.
    """
    task = asyncio.ensure_future(work)
    try:
        return await asyncio.shield(task)
    except asyncio.CancelledError:
        await asyncio.wait({task})
        if not task.cancelled():
            task.exception()
        raise


async def lock(tx: Tx, name: str) -> None:
    """Keep others off until the transaction ends, where the database lets several write at a time."""
    if tx.dialect.name == "postgresql":
        await tx.execute(_LOCK, {"name": name})


def lost_to_another(error: BaseException) -> bool:
    """Whether a transaction failed only because another was quicker: made again from the beginning it works."""
    code = getattr(getattr(error, "orig", None), "sqlstate", None)
    return isinstance(error, IntegrityError) or code in ("40001", "40P01")


def is_trouble(error: BaseException) -> bool:
    """Whether the database itself failed (full, locked, gone) and not what was to be done with it."""
    return isinstance(error, OperationalError | InterfaceError | PoolTimeout | OSError)


def new_only(table: Table, *returning: Column[Any]) -> Callable[[Tx], Insert]:
    """An INSERT for the database of a transaction that leaves out rows which are there already."""
    kinds: dict[str, Insert] = {
        "postgresql": postgresql.insert(table).on_conflict_do_nothing().returning(*returning),
        "sqlite": sqlite.insert(table).on_conflict_do_nothing().returning(*returning),
    }
    return lambda tx: kinds[tx.dialect.name]


def _engine(url: str) -> AsyncEngine | Sqlite:
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        return Sqlite(_sqlite_engine(parsed))
    return create_async_engine(parsed, hide_parameters=True, pool_pre_ping=True)


def _sqlite_engine(url: URL) -> Engine:
    if url.database and url.database != ":memory:":
        prepare(Path(url.database))
    engine = create_engine(
        url.set(drivername="sqlite"),
        poolclass=StaticPool,
        hide_parameters=True,
        connect_args={"check_same_thread": False},
        execution_options={"compiled_cache": _COMPILED},
    )

    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        for pragma in (f"busy_timeout={PATIENCE_MS}", "synchronous=FULL", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def _unopened(url: str, error: Exception) -> StoreError:
    return StoreError(
        f"The record {_shown(url)} can't be opened ({_first_line(error)}): name another with CROSSLAY_DATABASE."
    )


def _first_line(error: Exception) -> str:
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    if isinstance(cause, OSError) and cause.strerror:
        return cause.strerror.lower()
    return str(cause).strip().split("\n")[0].rstrip(".")


def _shown(url: str) -> str:
    parsed = make_url(url)
    return (
        parsed.database or "" if parsed.get_backend_name() == "sqlite" else parsed.render_as_string(hide_password=True)
    )
