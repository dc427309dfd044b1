"""Runs the migrations on the connection that opened the record."""

from alembic import context

from bot.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
context.run_migrations()
