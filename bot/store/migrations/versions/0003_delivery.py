"""Tries of a message, rooms that can't be reached, and how a running program is doing."""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import UtcTime

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.add_column("inbox", sa.Column("tries", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("rooms", sa.Column("unreached_since", UtcTime(), nullable=True))
    op.create_table(
        "vitals",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("at", UtcTime(), nullable=False),
        sa.PrimaryKeyConstraint("name"),
    )


def downgrade() -> None:
    op.drop_table("vitals")
    op.drop_column("rooms", "unreached_since")
    op.drop_column("inbox", "tries")
