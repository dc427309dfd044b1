"""Opening the record: migrations, durability, transactions, and what is said when it can't be opened."""

from __future__ import annotations

import asyncio
import importlib
import pkgutil
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Delete, Insert, Select, Update, text
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateTable
from sqlalchemy.sql import ClauseElement

import bot.store
from bot.errors import StoreError
from bot.store.database import Store
from bot.store.schema import HEAD
from bot.store.tables import metadata


async def test_the_migrations_make_the_tables_that_the_program_uses(store: Store) -> None:
    async with store.begin() as tx:
        differences = await tx.run_sync(lambda c: compare_metadata(MigrationContext.configure(c), metadata))
    assert differences == []


def test_head_is_the_newest_migration() -> None:
    config = Config()
    config.set_main_option("script_location", "bot.store:migrations")
    assert ScriptDirectory.from_config(config).get_current_head() == HEAD


async def test_a_commit_is_on_the_disk_before_it_returns(store: Store) -> None:
    async with store.begin() as tx:
        assert (await tx.execute(text("PRAGMA journal_mode"))).scalar() == "wal"
        assert (await tx.execute(text("PRAGMA synchronous"))).scalar() == 2  # FULL


async def test_a_transaction_that_fails_leaves_nothing(store: Store) -> None:
    async def fail() -> None:
        async with store.begin() as tx:
            await tx.execute(text("INSERT INTO people (person, name, unit) VALUES ('kim', '', '')"))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        await fail()
    async with store.begin() as tx:
        assert (await tx.execute(text("SELECT count(*) FROM people"))).scalar() == 0


async def test_two_programs_take_turns_at_one_record(store: Store, url: str) -> None:
    other = await Store.open(url)

    async def add(to: Store, name: str) -> None:
        async with to.begin() as tx:
            await tx.execute(text(f"INSERT INTO people (person, name, unit) VALUES ('{name}', '', '')"))

    await asyncio.gather(*(add(store, f"a{n}") for n in range(20)), *(add(other, f"b{n}") for n in range(20)))
    async with store.begin() as tx:
        assert (await tx.execute(text("SELECT count(*) FROM people"))).scalar() == 40
    await other.close()


async def test_a_record_of_a_newer_program_is_left_alone(store: Store, url: str) -> None:
    async with store.begin() as tx:
        await tx.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match="made by a newer Crosslay"):
        await Store.open(url)


def test_every_statement_and_table_can_be_said_to_the_other_database_too() -> None:
    """PostgreSQL, by what SQLAlchemy would send it; no server is needed for that."""
    dialect = postgresql.dialect()
    names = [module.name for module in pkgutil.iter_modules(bot.store.__path__) if not module.ispkg]
    modules = [importlib.import_module(f"bot.store.{name}") for name in names]
    prepared = [value for module in modules for value in vars(module).values() if isinstance(value, ClauseElement)]
    statements = [value for value in prepared if isinstance(value, Select | Insert | Update | Delete)]
    assert len(statements) > 20
    for statement in statements:
        assert str(statement.compile(dialect=dialect))
    for table in metadata.sorted_tables:
        assert str(CreateTable(table).compile(dialect=dialect))


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("sqlite:////proc/nowhere/record.sqlite", "/proc/nowhere/record.sqlite can't be opened"),
        ("sqlite:///{here}/text.txt", "can't be opened .file is not a database."),
        ("sqlite:///{here}", "can't be opened"),
        ("zork://desk", "no database address that can be used"),
        ("nodriver+sqlite:///x", "no database address that can be used"),
    ],
)
async def test_a_record_that_cant_be_opened_is_one_sentence(tmp_path: Path, url: str, says: str) -> None:
    (tmp_path / "text.txt").write_text("this is a letter, no database. " * 99)
    with pytest.raises(StoreError, match=says) as caught:
        await Store.open(url.format(here=tmp_path))
    assert "\n" not in caught.value.message
