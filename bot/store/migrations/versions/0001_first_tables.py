"""The first tables."""

import sqlalchemy as sa
from alembic import op

from bot.store.tables import UtcTime

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "events",
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", UtcTime(), nullable=False),
        sa.Column("logged_at", UtcTime(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=True),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("message", sa.String(), nullable=False),
        sa.Column("command", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("incident", "seq"),
    )
    op.create_table(
        "inbox",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("message", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("sent_at", UtcTime(), nullable=False),
        sa.Column("received_at", UtcTime(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("voice", sa.LargeBinary(), nullable=True),
        sa.Column("done_at", UtcTime(), nullable=True),
        sa.Column("incident", sa.String(), nullable=True),
        sa.Column("commands", sa.Text(), nullable=True),
        sa.Column("reply", sa.Text(), nullable=True),
        sa.Column("fault", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("room", "message"),
    )
    op.create_index("inbox_waiting", "inbox", ["done_at", "id"], unique=False)
    op.create_index("inbox_who", "inbox", ["who", "id"], unique=False)
    op.create_table(
        "incidents",
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("company", sa.String(), nullable=False),
        sa.Column("opened_at", UtcTime(), nullable=False),
        sa.Column("closed_at", UtcTime(), nullable=True),
        sa.PrimaryKeyConstraint("incident"),
    )
    op.create_index(op.f("ix_incidents_company"), "incidents", ["company"], unique=False)
    op.create_table(
        "join_codes",
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=True),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("expires_at", UtcTime(), nullable=False),
        sa.Column("used_by", sa.String(), nullable=True),
        sa.Column("used_at", UtcTime(), nullable=True),
        sa.PrimaryKeyConstraint("code"),
    )
    op.create_table(
        "outbox",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("spoken", sa.Text(), nullable=False),
        sa.Column("buttons", sa.Text(), nullable=True),
        sa.Column("picture", sa.Text(), nullable=True),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("reply_to", sa.String(), nullable=False),
        sa.Column("thread", sa.String(), nullable=False),
        sa.Column("created_at", UtcTime(), nullable=False),
        sa.Column("due_at", UtcTime(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("not_before", UtcTime(), nullable=True),
        sa.Column("finished_at", UtcTime(), nullable=True),
        sa.Column("sent_as", sa.String(), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("outbox_state", "outbox", ["state", "room", "id"], unique=False)
    op.create_table(
        "people",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=True),
        sa.Column("unit", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("person"),
    )
    op.create_table(
        "questions",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=True),
        sa.Column("incident", sa.String(), nullable=True),
        sa.Column("question", sa.Text(), nullable=False),
        sa.Column("asked_at", UtcTime(), nullable=False),
        sa.Column("closed_at", UtcTime(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("questions_open", "questions", ["room", "closed_at"], unique=False)
    op.create_table(
        "reminders",
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("due_at", UtcTime(), nullable=False),
        sa.Column("owed_at", UtcTime(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("spoken", sa.Text(), nullable=False),
        sa.Column("question", sa.Text(), nullable=True),
        sa.Column("merged", sa.Text(), nullable=False),
        sa.Column("sent_at", UtcTime(), nullable=True),
        sa.PrimaryKeyConstraint("incident", "room", "key"),
    )
    op.create_index("reminders_due", "reminders", ["sent_at", "due_at"], unique=False)
    op.create_table(
        "rooms",
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("company", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=True),
        sa.Column("role", sa.String(), nullable=True),
        sa.Column("grouped", sa.Boolean(), nullable=False),
        sa.Column("thread", sa.String(), nullable=False),
        sa.Column("talk", sa.Boolean(), nullable=False),
        sa.Column("incident", sa.String(), nullable=True),
        sa.Column("board", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("room"),
    )
