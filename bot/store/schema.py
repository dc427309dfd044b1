"""The record's tables brought up to date: alembic's migrations, loaded only where there is something to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import text
from sqlalchemy.engine import Connection

from bot.errors import StoreError

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0004"
"""The newest migration: a record that stands there opens without alembic being loaded."""


def known_versions() -> set[str]:
    """The migrations that this program knows."""
    from alembic.script import ScriptDirectory

    return {script.revision for script in ScriptDirectory.from_config(_migrations()).walk_revisions()}


def bring_up_to_date(connection: Connection) -> None:
    """Make the tables of a new record, or of one that an older program made. Raises StoreError."""
    if _version(connection) == HEAD:
        return
    from alembic import command
    from alembic.util.exc import CommandError

    config = _migrations()
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, "head")
    except CommandError:
        raise StoreError(
            "The record was made by a newer Crosslay: install that one again, or name another file."
        ) from None


def _migrations() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "bot.store:migrations")
    return config


def _version(connection: Connection) -> str | None:
    if not connection.dialect.has_table(connection, "alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
