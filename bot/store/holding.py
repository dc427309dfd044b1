"""Holding: lanes and rooms that one of several programs on the same PostgreSQL keeps to itself, by advisory locks.

They are the session's: when the program dies, its connection ends and another takes over.
"""

from __future__ import annotations

import asyncio
import logging

from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine

_HOLD = text("SELECT pg_try_advisory_lock(hashtextextended(:name, 1))")
_LET_GO = text("SELECT pg_advisory_unlock(hashtextextended(:name, 1))")
_LOG = logging.getLogger(__name__)


class Holder:
    """One connection that holds names; it is opened when the first is asked for."""

    def __init__(self, engine: AsyncEngine) -> None:
        self._engine = engine
        self._connection: AsyncConnection | None = None
        self._held: dict[str, int] = {}
        self._turn = asyncio.Lock()

    async def hold(self, name: str) -> bool:
        """Hold a name (as often as it is let go); False while another program does."""
        async with self._turn:
            if name not in self._held:
                if not await self._ask(_HOLD, name):
                    return False
                self._held[name] = 0
            self._held[name] += 1
            return True

    async def let_go(self, name: str) -> None:
        """Let a held name go."""
        async with self._turn:
            self._held[name] = self._held.get(name, 1) - 1
            if self._held[name] <= 0:
                del self._held[name]
                await self._ask(_LET_GO, name)

    async def close(self) -> None:
        """Let all go."""
        async with self._turn:
            await self._hang_up()

    async def _ask(self, question: object, name: str) -> bool:
        try:
            if self._connection is None:
                opened = await self._engine.connect()
                self._connection = await opened.execution_options(isolation_level="AUTOCOMMIT")
            return bool((await self._connection.execute(question, {"name": name})).scalar())  # type: ignore[call-overload]
        except (SQLAlchemyError, OSError) as error:
            _LOG.warning("What this program holds of the record is lost (%s)", type(error).__name__)
            await self._hang_up()
            return False

    async def _hang_up(self) -> None:
        self._held.clear()
        if self._connection is not None:
            connection, self._connection = self._connection, None
            try:
                await connection.invalidate()
                await connection.close()
            except (SQLAlchemyError, OSError):
                _LOG.debug("The holding connection had gone")
