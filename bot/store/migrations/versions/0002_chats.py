"""Chats beyond the settings' list."""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import UtcTime

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "chats",
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("standing", sa.String(), nullable=False),
        sa.Column("since", UtcTime(), nullable=False),
        sa.Column("was", sa.String(), nullable=True),
        sa.Column("incident", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("room"),
    )


def downgrade() -> None:
    op.drop_table("chats")
