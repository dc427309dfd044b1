"""The record: inbox, events, reminders, outbox, questions, rooms and people in one database (SQLite, or PostgreSQL).

`database` opens it; each other module holds the statements of one group of tables, given the open transaction.
"""
