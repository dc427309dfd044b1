"""Heads: what a message is about, a command with the fields that decide what it does, each said in a stance."""

from __future__ import annotations

from grammar.commands import Command, Spoken
from grammar.judge.words import said_deciding

STANCES = ("reported", "asked", "denied", "hoped", "ordered", "quoted")


def head(command: Command | Spoken) -> str:
    """ "benchmark : benchmark knocked down": without numbers, names and places."""
    return said_deciding(command)
