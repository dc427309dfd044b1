"""What Crosslay keeps is its own user's only: files 0600, folders 0700 (on Windows a user's folders are so already)."""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path

FILE, FOLDER = 0o600, 0o700
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def from_now_on() -> None:
    """Whatever this process makes is its user's only."""
    os.umask(_OTHERS)


def folder(path: Path) -> Path:
    """A folder of ours: made where it isn't there, and closed to others."""
    path.mkdir(parents=True, exist_ok=True, mode=FOLDER)
    close(path)
    return path


def close(path: Path) -> None:
    """Take others' access from a file or folder of ours; one that isn't ours to change stays as it is."""
    with contextlib.suppress(OSError):
        mode = path.stat().st_mode
        if mode & _OTHERS and os.name == "posix":
            path.chmod(stat.S_IMODE(mode) & ~_OTHERS)


def new_file(path: Path) -> None:
    """Make an empty file that was not there. Raises FileExistsError."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, FILE))


def is_open_to_others(path: Path) -> bool:
    """Whether other users of the machine can read a file."""
    try:
        return os.name == "posix" and bool(path.stat().st_mode & _OTHERS)
    except OSError:
        return False
