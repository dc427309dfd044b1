"""One program at a time serves a record on SQLite: a second one says so and stops. (PostgreSQL takes several.)"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path

from sqlalchemy.engine import make_url

from bot.errors import StoreError

PATIENCE_S = 2.0
"""For one that is just ending."""


class Running:
    """Holds a lock beside the record's file as long as the program lives, in whatever way it ends."""

    def __init__(self, url: str) -> None:
        """Raises StoreError while another program serves the record."""
        self._lock: sqlite3.Connection | None = None
        parsed = make_url(url)
        if parsed.get_backend_name() != "sqlite" or parsed.database in (None, "", ":memory:"):
            return
        path = Path(f"{parsed.database}.running")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
            self._lock = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
            self._lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            self.end()
            if "locked" in str(error):
                raise StoreError(
                    f"Crosslay is running on the record {parsed.database} already: end it first."
                    " Several programs at once need PostgreSQL (CROSSLAY_DATABASE)."
                ) from None
        except OSError:
            self.end()  # opening the record says what is wrong

    def end(self) -> None:
        """Another may serve the record."""
        if self._lock is not None:
            with contextlib.suppress(sqlite3.Error):
                self._lock.close()
            self._lock = None
