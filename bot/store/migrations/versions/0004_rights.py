"""Who was the first in a room, and the join codes that were tried in vain."""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import UtcTime

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.add_column("rooms", sa.Column("first", sa.String(), nullable=True))
    op.create_table(
        "join_tries",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("company", sa.String(), nullable=False),
        sa.Column("at", UtcTime(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("join_tries_at", "join_tries", ["at"])


def downgrade() -> None:
    op.drop_index("join_tries_at", "join_tries")
    op.drop_table("join_tries")
    op.drop_column("rooms", "first")
