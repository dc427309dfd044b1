"""The door for other programs.

    from datetime import UTC, datetime
    from bot.api import Crosslay

    crosslay = Crosslay(rig="engine_12.toml")                 # without a file: the demonstration rig
    crosslay.answer("two lines, 200 feet, 1.75").answer["pump_pressure_psi"]

    async with crosslay.incident(datetime(2026, 3, 7, 14, tzinfo=UTC)) as incident:
        await incident.say("officer", "engine 12 on scene")
        told = await incident.run_to(datetime(2026, 3, 7, 14, 30, tzinfo=UTC))

`answer` stands outside any incident, as `crosslay ask` does. An incident (bot.incident.Incident) is the whole program
in memory, on a clock that its caller moves. Both raise only what bot.errors names.

A package of its own can add to the program by entry points (`bot.extensions`): a room (group `crosslay.rooms`), a
recogniser (`crosslay.recognisers`) or a form of the report (`crosslay.reports`).
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from bot import rigs
from bot.message import clean_text
from bot.message.as_json import as_object
from bot.message.context import build
from bot.message.reply import Handled, work_out
from bot.rooms.choices import slash_words
from bot.settings import Settings
from handlers.history import History
from handlers.outcome import Said
from handlers.scene import Scene

if TYPE_CHECKING:
    from bot.incident import Incident

__all__ = ["Crosslay", "Handled", "as_object"]


class Crosslay:
    """Answers by one company's rig; nothing is opened, stamped or kept unless an incident is asked for."""

    def __init__(self, rig: str | Path = "", tz: tzinfo = UTC) -> None:
        """An open one; nothing has to be closed.

        Args:
            rig: the company's rig file, or a folder of several; "" = the demonstration rig.
            tz: the time zone that times are told in.

        Raises:
            FileProblem: the rig file can't be used; says its line and key.
        """
        self.rigs = rigs.load(rig)
        self.rig, self.unit = self.rigs.own, self.rigs.own_unit
        self.tz = tz
        self.context = build(self.rig, self.unit, Scene(), addressed=True)

    @classmethod
    def of(cls, settings: Settings) -> Crosslay:
        """By the rig and the time zone of the settings. Raises FileProblem."""
        return cls(settings.rig, settings.tz)

    def answer(self, text: str) -> Handled:
        """One message, out of any incident; `as_object` gives it as the command line's JSON."""
        return work_out(clean_text(slash_words(text)), self.context, History(), self.rig, self.said())

    def said(self) -> Said:
        """A message said now, out of any incident."""
        return Said(at=datetime.now(UTC), unit=self.unit, tz=self.tz, live=False, everyone_here=True)

    def incident(self, start: datetime, people: Collection[str] = ()) -> Incident:
        """An incident in memory on a clock of the caller's, which stands at `start` (with its time zone) until it is
        moved; use it as `async with`. `people`: units that talk besides driver, officer and crew ("engine 9").
        """
        from bot.incident import Incident

        return Incident(self.rigs, self.tz, start, people)
