"""`crosslay ask`: single messages out of any incident, each on its own with no memory of the last."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TextIO

from bot import second_reader
from bot.api import Crosslay
from bot.message.as_json import as_line, as_object, exit_status
from bot.message.reply import Handled, printed
from bot.program.logs import note_fault
from bot.settings import Settings
from grammar.commands import Reading

FAULT = "That couldn't be worked out: something is wrong inside Crosslay. Say it another way."


def lines(source: TextIO) -> Iterator[str]:
    """The messages on standard input, blank lines left out."""
    return (line for raw in source if (line := raw.strip()))


def ask_one(settings: Settings, text: str, *, as_json: bool, out: TextIO) -> int:
    """Answer one message; returns the exit status."""
    second_reader.load(settings)
    handled = Crosslay.of(settings).answer(text)
    print(as_line(as_object(handled)) if as_json else printed(handled), file=out)
    return exit_status(handled)


def ask_each(settings: Settings, source: TextIO, *, as_json: bool, out: TextIO) -> int:
    """Answer a message a line, each flushed at once."""
    second_reader.load(settings)
    crosslay = Crosslay.of(settings)
    for text in lines(source):
        try:
            handled = crosslay.answer(text)
        except Exception as error:  # one line's fault ends no other's answer
            note_fault(error)
            handled = Handled(text, Reading(text=text, declined=FAULT))
        print(as_line(as_object(handled)) if as_json else printed(handled), file=out, flush=True)
    return 0
