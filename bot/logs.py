"""The log file: where the details of a fault go, which people are only told in one sentence."""

from __future__ import annotations

import contextlib
import logging
import logging.handlers
import tempfile
from pathlib import Path

from platformdirs import PlatformDirs

_MOST_BYTES = 1_000_000


def log_file() -> Path:
    """The log file, in the user's log folder, or among the temporary files where that can't be written."""
    folder = PlatformDirs("crosslay", appauthor=False).user_log_path
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "crosslay.log").open("a").close()
    except OSError:
        folder = Path(tempfile.gettempdir())
    return folder / "crosslay.log"


def write_to_file() -> Path:
    """Send what the program logs to the file, and nothing to the screen."""
    path = log_file()
    handler = logging.handlers.RotatingFileHandler(path, maxBytes=_MOST_BYTES, backupCount=1, encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    root = logging.getLogger()
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    for chatty in ("aiosqlite", "alembic", "httpx", "sqlalchemy", "telegram"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
    return path


def note_fault(error: BaseException) -> Path:
    """Write a fault's details to the file; returns where they are."""
    path = log_file()
    record = logging.getLogger(__name__).makeRecord(
        __name__, logging.ERROR, __file__, 0, "fault", (), (type(error), error, error.__traceback__)
    )
    text = logging.Formatter("%(asctime)s %(levelname)s %(message)s").format(record)
    with contextlib.suppress(OSError), path.open("a", encoding="utf-8") as file:
        file.write(text + "\n")
    return path
