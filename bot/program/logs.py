"""The log file: where the details of a fault go, which people are only told in one sentence.

A JSON object a line: when, how grave, what happened, in which room and with which message (its id). Never what was
said, nor the token: of an error stand its kind and where it arose, not its words, which may quote a message.
"""

from __future__ import annotations

import contextlib
import logging
import logging.handlers
import tempfile
import traceback
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import msgspec
from platformdirs import PlatformDirs

from bot.store import private

_MOST_BYTES = 1_000_000
_encode = msgspec.json.Encoder(enc_hook=str).encode
_FRAMES, _CAUSES = 12, 4
_OURS = ("bot", "grammar", "handlers")
FIELDS = ("room", "message_id", "row", "incident", "intent", "status", "what", "ms", "waited_s", "tries")
"""What a log call may say besides its words (`extra=`)."""


def log_file() -> Path:
    """The log file, in the user's log folder; where that can't be written, in a folder of this process's own."""
    folder = PlatformDirs("crosslay", appauthor=False).user_log_path
    try:
        private.folder(folder)
        (folder / "crosslay.log").open("a").close()
        private.close(folder / "crosslay.log")
    except OSError:
        folder = _folder_of_our_own()
    return folder / "crosslay.log"


@cache
def _folder_of_our_own() -> Path:
    """Among the temporary files, by a name that nobody can know before and lay something under; only its user's."""
    return Path(tempfile.mkdtemp(prefix="crosslay-"))


def write_to_file() -> Path:
    """Send what the program logs to the file, and nothing to the screen."""
    path = log_file()
    handler = _Rotating(path, maxBytes=_MOST_BYTES, backupCount=1, encoding="utf-8")
    handler.setFormatter(Lines())
    root = logging.getLogger()
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    for chatty in ("alembic", "httpx", "sqlalchemy", "telegram"):
        logging.getLogger(chatty).setLevel(logging.WARNING)
    return path


def note_fault(error: BaseException) -> Path:
    """Write a fault's details to the file; returns where they are."""
    path = log_file()
    record = logging.getLogger(__name__).makeRecord(
        __name__, logging.ERROR, __file__, 0, "fault", (), (type(error), error, error.__traceback__)
    )
    with contextlib.suppress(OSError), path.open("a", encoding="utf-8") as file:
        file.write(Lines().format(record) + "\n")
    return path


class _Rotating(logging.handlers.RotatingFileHandler):
    """Looks only at how much it has written: the library's way writes each line twice, to know its length."""

    def shouldRollover(self, record: logging.LogRecord) -> bool:  # noqa: N802
        return self.stream is not None and self.stream.tell() >= self.maxBytes


class Lines(logging.Formatter):
    """A record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        ours = record.name.partition(".")[0] in _OURS
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "from": record.name,
            "event": record.getMessage() if ours else str(record.msg),  # others' arguments may be whole messages
        }
        line |= {field: value for field in FIELDS if (value := getattr(record, field, None)) not in (None, "")}
        if record.exc_info and record.exc_info[1] is not None:
            line |= _told_of(record.exc_info[1])
        return _encode(line).decode()


def _told_of(error: BaseException) -> dict[str, object]:
    """An error's kind, those of its causes, and where it arose; its own words only where they quote nobody."""
    kinds, traced, seen = [], error, 0
    cause: BaseException | None = error
    while cause is not None and seen < _CAUSES:
        kinds.append(type(cause).__name__)
        traced, seen = cause, seen + 1
        cause = getattr(cause, "orig", None) or cause.__cause__ or cause.__context__
    frames = traceback.extract_tb(error.__traceback__) or traceback.extract_tb(traced.__traceback__)
    where = [f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames[-_FRAMES:]]
    told: dict[str, object] = {"error": " < ".join(kinds), "where": where}
    if isinstance(error, OSError) and error.strerror:
        told["why"] = error.strerror
    return told
