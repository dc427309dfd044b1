"""The record as a file (SQLite): looked over before it is opened, set aside when it is damaged, copied and put back.

A copy is made online, by SQLite's own backup, from one moment of the record, while others go on writing to it. Nothing
is ever overwritten: a damaged record and one that a backup replaces are renamed and stay where they are.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from platformdirs import PlatformDirs
from sqlalchemy.engine import make_url

from bot.errors import FileProblem, StoreError
from bot.store import private

PATIENCE_S = 10.0
OWN_FOLDER = PlatformDirs("crosslay", appauthor=False).user_data_path
_MAGIC = b"SQLite format 3\x00"
_BROKEN = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_ENDINGS = (".sqlite", ".sqlite3", ".db")
_BESIDE = ("-wal", "-shm", "-journal")


def path_of(url: str) -> Path:
    """The record's file. Raises StoreError where it is on a database server."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database or parsed.database == ":memory:":
        raise StoreError(
            "The record is on a database server: copy it with pg_dump (pg_dump --format=custom --file=FILE URL), "
            "and put it back with pg_restore, while no Crosslay runs."
        )
    return Path(parsed.database)


def prepare(path: Path) -> None:
    """See that a record can be opened, before a thread of its own does; from then on it has a write-ahead log.

    Raises:
        StoreError: it is damaged; it has been set aside, and the sentence says how to go on.
        OSError, sqlite3.Error: it can't be read or written.
    """
    if not path.parent.is_dir() or path.parent == OWN_FOLDER:
        private.folder(path.parent)
    with contextlib.suppress(FileExistsError):
        private.new_file(path)
    for file in (path, *_beside(path)):
        private.close(file)
    problem = _problem(path)
    if problem:
        raise _set_aside_damaged(path, problem)
    with _opened(path) as connection:
        connection.execute("PRAGMA journal_mode=WAL")


def backup(url: str, to: str) -> Path:
    """Copy the record, from one moment of it, to a new file (into a folder: under a name with the time).

    Raises:
        StoreError: there is no record, or it is on a database server.
        FileProblem: the file is there already, or can't be written.
    """
    path, target = path_of(url), _target(Path(to).expanduser())
    if not path.is_file():
        raise StoreError(f"There is no record at {path} yet: nothing to back up.")
    part = target.with_name(target.name + ".part")
    try:
        private.new_file(part)
        _copy(path, part)
        _put(part, target)
    except FileExistsError as there:
        raise FileProblem(there.filename or target, "it is there already; a backup overwrites nothing.") from None
    except (OSError, sqlite3.Error) as error:
        part.unlink(missing_ok=True)
        raise FileProblem(target, f"the backup can't be written ({_said(error)}).") from None
    return target


def restore(url: str, backup_file: str) -> tuple[Path, Path | None]:
    """Put a backup in the record's place; returns the record's path and where the one that was there is now.

    What was still waiting to be sent when the backup was made is marked: it may have been sent since.

    Raises:
        StoreError: a Crosslay is running on the record, or the record is on a database server.
        FileProblem: the file is no whole record of Crosslay, or can't be copied.
    """
    path, source = path_of(url), Path(backup_file).expanduser()
    _look_over(source)
    part = path.with_name(path.name + ".part")
    try:
        private.folder(path.parent) if not path.parent.is_dir() else None
        part.unlink(missing_ok=True)
        private.new_file(part)
        _copy(source, part)
        with _opened(part) as connection:
            connection.execute(
                "UPDATE outbox SET attempts = attempts + 1, state = 'waiting' WHERE state IN ('waiting', 'sending')"
            )
            connection.commit()
        before = _make_room(path)
        _put(part, path)
    except (OSError, sqlite3.Error) as error:
        raise FileProblem(path, f"the backup can't be put there ({_said(error)}).") from None
    finally:
        part.unlink(missing_ok=True)
    return path, before


def _target(to: Path) -> Path:
    return to / f"crosslay-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.sqlite" if to.is_dir() else to


def _copy(source: Path, into: Path) -> None:
    """One moment of a record, whole, as a single file that is on the disk."""
    with _opened(source) as old, contextlib.closing(sqlite3.connect(into)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")
    if problem := _problem(into):
        raise sqlite3.DatabaseError(problem)
    with into.open("rb") as file:
        os.fsync(file.fileno())


def _put(part: Path, target: Path) -> None:
    """Give a file its name, where nothing has it. Raises FileExistsError."""
    try:
        os.link(part, target)
        part.unlink()
    except FileExistsError:
        part.unlink()
        raise FileExistsError(0, "there", str(target)) from None
    except OSError:  # a file system without links
        if target.exists():
            part.unlink()
            raise FileExistsError(0, "there", str(target)) from None
        part.rename(target)


def _make_room(path: Path) -> Path | None:
    """Set the present record aside, unless a program is using it."""
    if not path.exists():
        return None
    try:
        with _opened(path, patience_s=0) as connection:
            connection.execute("PRAGMA journal_mode=DELETE").fetchone()  # only its sole user may leave the log
    except sqlite3.DatabaseError as error:
        if _code(error) == sqlite3.SQLITE_BUSY:
            raise StoreError(f"A Crosslay is running on {path}: stop it, then restore.") from None
        if _code(error) not in _BROKEN:
            raise
    return _set_aside(path, "before-restore")


def _look_over(source: Path) -> None:
    """See that a file is a whole record of a Crosslay that isn't newer than this one. Raises FileProblem."""
    from bot.store.schema import known_versions

    if not source.is_file():
        raise FileProblem(source, "there is no such backup.")
    try:
        problem = _problem(source)
        with _opened(source) as connection:
            version = problem or connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
    except sqlite3.Error as error:
        problem, version = _said(error), ""
    except TypeError:
        problem, version = "it has no version", ""
    if problem:
        raise FileProblem(source, f"this is no whole record of Crosslay ({problem}); name another backup.")
    if version not in known_versions():
        raise FileProblem(source, "this record was made by a newer Crosslay: restore it with that one.")


def _problem(path: Path) -> str:
    """What is wrong inside a record's file; "" when nothing is. Raises what isn't damage."""
    try:
        with _opened(path) as connection:
            found = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
    except sqlite3.DatabaseError as error:
        if _code(error) not in _BROKEN or not _was_a_record(path):
            raise
        return _said(error)
    return "" if found == "ok" else " ".join(found.split())


def _was_a_record(path: Path) -> bool:
    """Whether a file that SQLite can't read was a record, and isn't just a letter that was named by mistake."""
    with path.open("rb") as file:
        return file.read(len(_MAGIC)) == _MAGIC or path.suffix in _ENDINGS


def _set_aside_damaged(path: Path, problem: str) -> StoreError:
    """Rename a damaged record; the error to be raised says what happened and how to go on."""
    try:
        kept = _set_aside(path, "damaged")
    except OSError as error:
        return StoreError(
            f"The record {path} is damaged ({problem}) and can't be set aside ({_said(error)}): move it away, then "
            "put the last backup in its place with crosslay restore FILE."
        )
    return StoreError(
        f"The record {path} is damaged ({problem}). It was set aside, as it is, as {kept}. To go on from the last "
        "backup: crosslay restore FILE. Started again without that, Crosslay begins an empty record."
    )


def _set_aside(path: Path, why: str) -> Path:
    """Give a record and what belongs to it a name that nothing has; returns the name."""
    stem = f"{path.name}.{why}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}"
    kept, number = path.with_name(stem), 1
    while kept.exists():
        number += 1
        kept = path.with_name(f"{stem}-{number}")
    path.rename(kept)
    for file in _beside(path):
        file.rename(kept.with_name(kept.name + file.name.removeprefix(path.name)))
    return kept


def _beside(path: Path) -> list[Path]:
    """The files that SQLite keeps beside a record."""
    return [file for ending in _BESIDE if (file := path.with_name(path.name + ending)).exists()]


@contextlib.contextmanager
def _opened(path: Path, patience_s: float = PATIENCE_S) -> Iterator[sqlite3.Connection]:
    """A record that is there."""
    address = f"{path.absolute().as_uri()}?mode=rw"
    with contextlib.closing(sqlite3.connect(address, uri=True, timeout=patience_s)) as connection:
        yield connection


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _said(error: Exception) -> str:
    return (error.strerror or str(error)).lower() if isinstance(error, OSError) else str(error)
