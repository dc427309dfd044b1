"""`crosslay ask`: single messages out of any incident, each on its own with no memory of the last."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TextIO

from bot import rigs, second_reader
from bot.context import build
from bot.jsonio import as_line, as_object, exit_status
from bot.logs import note_fault
from bot.message import clean_text
from bot.replies import Handled, printed, work_out
from bot.rooms.choices import slash_words
from bot.settings import Settings
from grammar.commands import Reading
from handlers.history import History
from handlers.outcome import Said
from handlers.scene import Scene

FAULT = "That couldn't be worked out: something is wrong inside Crosslay. Say it another way."


class Asker:
    """Answers messages by the rig of the settings, with nothing opened, stamped or kept."""

    def __init__(self, settings: Settings) -> None:
        """Raises FileProblem when the rig file can't be used."""
        known = rigs.load(settings.rig)
        self.rig, self.unit = known.own, known.own_unit
        self.tz = settings.tz
        self.context = build(self.rig, self.unit, Scene(), addressed=True)

    def said(self) -> Said:
        """A message said now, out of any incident."""
        return Said(at=datetime.now(UTC), unit=self.unit, tz=self.tz, live=False, everyone_here=True)

    def answer(self, text: str) -> Handled:
        """One message."""
        return work_out(clean_text(slash_words(text)), self.context, History(), self.rig, self.said())


def lines(source: TextIO) -> Iterator[str]:
    """The messages on standard input, blank lines left out."""
    return (line for raw in source if (line := raw.strip()))


def ask_one(settings: Settings, text: str, *, as_json: bool, out: TextIO) -> int:
    """Answer one message; returns the exit status."""
    second_reader.load(settings)
    handled = Asker(settings).answer(text)
    print(as_line(as_object(handled)) if as_json else printed(handled), file=out)
    return exit_status(handled)


def ask_each(settings: Settings, source: TextIO, *, as_json: bool, out: TextIO) -> int:
    """Answer a message a line, each flushed at once."""
    second_reader.load(settings)
    asker = Asker(settings)
    for text in lines(source):
        try:
            handled = asker.answer(text)
        except Exception as error:  # one line's fault ends no other's answer
            note_fault(error)
            handled = Handled(text, Reading(text=text, declined=FAULT))
        print(as_line(as_object(handled)) if as_json else printed(handled), file=out, flush=True)
    return 0
