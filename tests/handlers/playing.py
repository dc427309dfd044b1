"""Whole incidents for tests: messages go over the desk as in the shell, reminders are what is planned from the log."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from grammar.commands import Command, Correction, LineOn, LineRef, Role, Undo
from handlers.desk import answer
from handlers.events import Event, EventBody
from handlers.history import History
from handlers.outcome import Outcome, Reminder, Said
from handlers.reminders import due
from handlers.rig import Rig
from handlers.scene import Pump, Scene
from tests.handlers.fireground import DAY, clock_time, demo_rig

INCIDENT = "2026-03-07-1"


class Incident:
    """One incident: `at("14:03", command)` handles a command, logs its events and returns its outcome."""

    def __init__(self, rig: Rig | None = None) -> None:
        self.rig = rig or demo_rig()
        self.log = History()
        self.now = DAY
        self._messages = 0
        self._last: dict[str, tuple[tuple[Command, ...], str, datetime]] = {}

    @property
    def scene(self) -> Scene:
        return self.log.scene

    @property
    def pump(self) -> Pump:
        return self.scene.pump("engine 12")

    def at(self, when: str | datetime, command: Command, role: Role = "officer", unit: str = "engine 12") -> Outcome:
        """One command, by role (who is also the speaker)."""
        return self.message(when, [command], role, unit)[0]

    def message(
        self, when: str | datetime, commands: Sequence[Command], role: Role = "officer", unit: str = "engine 12"
    ) -> list[Outcome]:
        """A message of several commands."""
        self.now = clock_time(when) if isinstance(when, str) else when
        self._messages += 1
        last = self._last.get(role, ((), "", None))
        said = Said(
            at=self.now,
            who=role,
            role=role,
            unit=unit,
            room="yard",
            message=f"m{self._messages}",
            last_commands=last[0],
            last_message=last[1],
            last_at=last[2],
        )
        answered = answer(commands, self.log, self.rig, said, incident=INCIDENT)
        outcomes, self.log = answered.outcomes, answered.logs[-1]
        if self.scene.incident != INCIDENT:
            self.log.name(INCIDENT)
        taken = any(outcome.refused is None and outcome.question is None for outcome in outcomes)
        if taken and not isinstance(commands[0], Undo):
            amended = commands[0].amended if isinstance(commands[0], Correction) else tuple(commands)
            self._last[role] = (amended, said.message, self.now)
        return outcomes

    def happens(self, when: str | datetime, body: EventBody, unit: str = "engine 12") -> None:
        """An event by itself, told as it happened."""
        self.now = clock_time(when) if isinstance(when, str) else when
        seq = self.log.last_seq + 1
        self.log.add(Event(INCIDENT, seq, self.now, self.now, "officer", unit, "yard", f"m{seq}", 0, body, "officer"))

    def due(self, when: str | datetime, *names: str) -> list[Reminder]:
        """The reminders that are planned from a moment on; all, or those of these names."""
        now = clock_time(when) if isinstance(when, str) else when
        return [reminder for reminder in due(self.scene, self.rig, now) if not names or reminder.name in names]

    def times(self, when: str, *names: str) -> list[str]:
        """Their times of day."""
        return [f"{reminder.at:%H:%M:%S}" for reminder in self.due(when, *names)]


def charge(name: str) -> LineOn:
    """ "Crosslay one charged"."""
    return LineOn(ref=LineRef(name=name))
