"""A small fireground for tests: play commands by clock time on the demonstration rig and look at what comes of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from grammar.commands import Command, Role
from handlers.desk import handle
from handlers.events import Event, EventBody, IncidentOpened
from handlers.history import History
from handlers.outcome import Dated, Outcome, Said
from handlers.rig import Rig
from handlers.rigfile.parse import parse_rig

RIGS = Path(__file__).parents[2] / "bot" / "rigs"
DAY = datetime(2026, 3, 7, 14, 0, tzinfo=UTC)


def demo_rig(**tables: str) -> Rig:
    """The demonstration rig; keyword text is put after it (more TOML tables)."""
    text = (RIGS / "alder_bay_engine_12.toml").read_text(encoding="utf-8")
    book = (RIGS / "book.toml").read_text(encoding="utf-8")
    return parse_rig(text + "\n".join(tables.values()), book)


def clock_time(text: str) -> datetime:
    """ "14:03:20" on the day of the tests, in UTC."""
    hour, minute, *second = (int(part) for part in text.split(":"))
    return DAY.replace(hour=hour, minute=minute, second=second[0] if second else 0)


class Fireground:
    """One incident: `at("14:03", command)` handles a command, logs its events and returns its outcome."""

    def __init__(self, rig: Rig | None = None) -> None:
        self.rig = rig or demo_rig()
        self.log = History()
        self.now = DAY

    @property
    def scene(self):  # type: ignore[no-untyped-def]
        return self.log.scene

    def at(self, when: str, command: Command, role: Role = "officer", unit: str = "engine 12") -> Outcome:
        self.now = clock_time(when)
        said = Said(at=self.now, who=role, role=role, unit=unit, room="yard", message=f"m{len(self.log.events)}")
        outcome = handle(command, self.log.scene, self.rig, said)
        if outcome.opens and not self.log.scene.open:
            self.happens(when, IncidentOpened())
        for body in outcome.events:
            dated = body if isinstance(body, Dated) else Dated(body)
            self._log(dated.body, dated.at or self.now, dated.unit or unit, role)
        return outcome

    def happens(self, when: str, body: EventBody, unit: str = "engine 12") -> None:
        """An event by itself."""
        self._log(body, clock_time(when), unit, "officer")

    def _log(self, body: EventBody, at: datetime, unit: str, role: Role) -> None:
        seq = self.log.last_seq + 1
        self.log.add(
            Event(
                incident="2026-03-07-1",
                seq=seq,
                at=at,
                logged_at=self.now,
                who=role,
                unit=unit,
                room="yard",
                message=f"m{seq}",
                command=0,
                body=body,
                role=role,
            )
        )


def seconds(count: float) -> timedelta:
    return timedelta(seconds=count)
