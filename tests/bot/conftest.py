"""What the tests of the shell share: an open record on a real file, and one in memory."""

from __future__ import annotations

from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.clock import SimulatedClock
from bot.store.database import Store

NOON = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)


@pytest.fixture
def url(tmp_path: Path) -> str:
    """The address of a record that doesn't exist yet."""
    return f"sqlite:///{tmp_path}/record.sqlite"


@pytest.fixture
async def store(url: str) -> AsyncIterator[Store]:
    """An open record on a real file."""
    opened = await Store.open(url)
    yield opened
    await opened.close()


@pytest.fixture
def clock() -> SimulatedClock:
    """Noon, until it is moved."""
    return SimulatedClock(NOON)
