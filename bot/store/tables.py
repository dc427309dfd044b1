"""The tables. Times are UTC; values of ours (event bodies, questions, commands) are JSON text written by msgspec."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    Boolean,
    Column,
    DateTime,
    Dialect,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)


class UtcTime(TypeDecorator[datetime]):
    """Aware UTC datetimes, also where the database keeps no zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData()

rooms = Table(
    "rooms",
    metadata,
    Column("room", String, primary_key=True),
    Column("title", String, nullable=False, default=""),
    Column("company", String, nullable=False),  # whose incidents it enters: the unit key of a rig
    Column("unit", String),  # the company that speaks here, where it is a guest
    Column("role", String),  # set when the room speaks for one role ("driver", "officer", "crew")
    Column("grouped", Boolean, nullable=False, default=False),  # several people talk here
    Column("thread", String, nullable=False, default=""),  # the topic that was last talked in
    Column("talk", Boolean, nullable=False, default=False),  # wants what it is told spoken too
    Column("incident", String),  # the incident it is in; a closed one for a while after it closed
    Column("board", String),  # the room's id of its pinned status board
    Column("unreached_since", UtcTime),  # it refuses what it is sent
)

people = Table(
    "people",
    metadata,
    Column("person", String, primary_key=True),
    Column("name", String, nullable=False, default=""),
    Column("role", String),
    Column("unit", String, nullable=False, default=""),
)

incidents = Table(
    "incidents",
    metadata,
    Column("incident", String, primary_key=True),
    Column("company", String, nullable=False, index=True),
    Column("opened_at", UtcTime, nullable=False),
    Column("closed_at", UtcTime),
)

join_codes = Table(
    "join_codes",
    metadata,
    Column("code", String, primary_key=True),
    Column("incident", String, nullable=False),
    Column("unit", String),
    Column("made_by", String, nullable=False),
    Column("expires_at", UtcTime, nullable=False),
    Column("used_by", String),
    Column("used_at", UtcTime),
)

chats = Table(
    "chats",
    metadata,
    Column("room", String, primary_key=True),
    Column("standing", String, nullable=False),  # joined, moved or told (that it isn't served)
    Column("since", UtcTime, nullable=False),
    Column("was", String),  # the room it was before it moved
    Column("incident", String),  # the incident that it joined
)

inbox = Table(
    "inbox",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("room", String, nullable=False),
    Column("message", String, nullable=False),
    Column("who", String, nullable=False),
    Column("sent_at", UtcTime, nullable=False),
    Column("received_at", UtcTime, nullable=False),
    Column("body", Text, nullable=False),  # message.Message without the recording
    Column("voice", LargeBinary),  # the recording until it was recognised
    Column("done_at", UtcTime),
    Column("incident", String),
    Column("commands", Text),  # what it was taken to mean, where that can be corrected
    Column("reply", Text),
    Column("fault", Text),  # what went wrong inside, where something did
    Column("tries", Integer, nullable=False, default=0, server_default="0"),  # lives of the program that it outlasted
    UniqueConstraint("room", "message"),
    Index("inbox_who", "who", "id"),
    Index("inbox_waiting", "done_at", "id"),
)

events = Table(
    "events",
    metadata,
    Column("incident", String, primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", UtcTime, nullable=False),
    Column("logged_at", UtcTime, nullable=False),
    Column("who", String, nullable=False),
    Column("role", String),
    Column("unit", String, nullable=False),
    Column("room", String, nullable=False),
    Column("message", String, nullable=False),
    Column("command", Integer, nullable=False),
    Column("body", Text, nullable=False),
)

reminders = Table(
    "reminders",
    metadata,
    Column("incident", String, primary_key=True),
    Column("room", String, primary_key=True),
    Column("key", String, primary_key=True),
    Column("name", String, nullable=False),
    Column("kind", String, nullable=False),
    Column("due_at", UtcTime, nullable=False),
    Column("owed_at", UtcTime, nullable=False),  # its own time, where the room's quiet moved it to a later one
    Column("text", Text, nullable=False),
    Column("spoken", Text, nullable=False, default=""),
    Column("question", Text),
    Column("merged", Text, nullable=False, default=""),  # keys that are told with it, a line each
    Column("sent_at", UtcTime),
    Index("reminders_due", "sent_at", "due_at"),
)

outbox = Table(
    "outbox",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("room", String, nullable=False),
    Column("incident", String, nullable=False, default=""),
    Column("kind", String, nullable=False),
    Column("name", String, nullable=False, default=""),
    Column("text", Text, nullable=False),
    Column("spoken", Text, nullable=False, default=""),
    Column("buttons", Text),
    Column("picture", Text),
    Column("unit", String, nullable=False, default=""),  # whose rig a picture is drawn of
    Column("reply_to", String, nullable=False, default=""),
    Column("thread", String, nullable=False, default=""),
    Column("created_at", UtcTime, nullable=False),
    Column("due_at", UtcTime),  # when a reminder should have been told
    Column("state", String, nullable=False, default="waiting"),  # waiting, sending, sent, failed
    Column("attempts", Integer, nullable=False, default=0),
    Column("not_before", UtcTime),
    Column("finished_at", UtcTime),
    Column("sent_as", String),  # the room's id of the sent message
    Column("error", Text),
    Index("outbox_state", "state", "room", "id"),
)

questions = Table(
    "questions",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("room", String, nullable=False),
    Column("who", String),  # who was asked; null: anyone in the room may answer
    Column("incident", String),
    Column("question", Text, nullable=False),
    Column("asked_at", UtcTime, nullable=False),
    Column("closed_at", UtcTime),
    Index("questions_open", "room", "closed_at"),
)

vitals = Table(
    "vitals",
    metadata,
    Column("name", String, primary_key=True),
    Column("value", Text, nullable=False),
    Column("at", UtcTime, nullable=False),
)
