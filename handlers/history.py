"""The log of one incident and the scene it folds to: `scene = apply(scene, event)`, restart = read the log, replay =
fold again.

Events count in the order of the time they happened (then of logging), so a thing that is told late, an undo or a
correction takes effect from its own time.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import msgspec
from msgspec.structs import replace

from handlers.events import Event, IncidentOpened, Retracted, RoleTaken
from handlers.folding import APPLY
from handlers.scene import Scene

STANDING = (IncidentOpened, RoleTaken)
"""Bodies that an undo leaves: the incident and its people stay."""
BEFORE_ALL = -1
"""The command number of events that only had to stand in the log before a command's own."""


class Doing(msgspec.Struct, frozen=True):
    """What one command of a person put into the log: the unit of undo and correction."""

    who: str
    message: str
    command: int
    at: datetime
    events: tuple[int, ...]


def apply(scene: Scene, event: Event) -> Scene:
    """The scene after one more event; events come in the order of `effective`."""
    scene = APPLY[type(event.body)](scene, event.body, event)
    return replace(scene, incident=event.incident, last_at=event.at, last_seq=max(scene.last_seq, event.seq))


def retracted(events: Iterable[Event]) -> set[int]:
    """The seqs of the events that were taken back (a retraction can itself be taken back)."""
    gone: set[int] = set()
    for event in sorted(events, key=lambda event: event.seq, reverse=True):
        if isinstance(event.body, Retracted) and event.seq not in gone:
            gone.update(seq for seq in event.body.events if seq < event.seq)
    return gone


def effective(events: Iterable[Event]) -> list[Event]:
    """The events that count, in the order in which they happened: by (at, seq)."""
    logged = list(events)
    gone = retracted(logged)
    return sorted((event for event in logged if event.seq not in gone), key=lambda event: (event.at, event.seq))


def fold(events: Iterable[Event]) -> Scene:
    """The scene that a log of events comes to."""
    logged = list(events)
    scene = Scene()
    for event in effective(logged):
        scene = apply(scene, event)
    return replace(scene, last_seq=max((event.seq for event in logged), default=0))


class History:
    """The log of one incident with its scene kept up to date; refolds only when an event reaches back in time."""

    def __init__(self, events: Iterable[Event] = ()) -> None:
        self.events: list[Event] = sorted(events, key=lambda event: event.seq)
        self.scene = fold(self.events)
        self.written = len(self.events)
        """So many of its events stand in the record; the rest is to be written there (see `unwritten`)."""

    @property
    def last_seq(self) -> int:
        return self.events[-1].seq if self.events else 0

    def add(self, event: Event) -> Scene:
        """Log an event and bring the scene in line."""
        self.events.append(event)
        late = self.scene.last_at is not None and event.at < self.scene.last_at
        self.scene = fold(self.events) if late or isinstance(event.body, Retracted) else apply(self.scene, event)
        return self.scene

    def copy(self) -> History:
        """A log of its own from here on, to try things out on."""
        twin = History()
        twin.events, twin.scene, twin.written = list(self.events), self.scene, self.written
        return twin

    @property
    def unwritten(self) -> list[Event]:
        """The events that are new since it was read from the record."""
        return self.events[self.written :]

    def name(self, incident: str) -> None:
        """Give what is new the id of its incident, which it has only now."""
        self.events[self.written :] = [replace(event, incident=incident) for event in self.unwritten]
        self.scene = replace(self.scene, incident=incident)

    def without(self, gone: Iterable[int], until: datetime | None = None) -> Scene:
        """The scene as if these events had not been, and (with `until`) as it was at that moment."""
        left_out = set(gone)
        return fold(e for e in self.events if e.seq not in left_out and (until is None or e.at <= until))

    def doings(self, who: str) -> list[Doing]:
        """A person's commands that can be taken back, the latest first: those with events that still count."""
        gone = retracted(self.events)
        found: dict[tuple[str, int], Doing] = {}
        for event in self.events:
            undone = isinstance(event.body, Retracted) and event.body.why == "undo"
            standing = event.command == BEFORE_ALL or isinstance(event.body, STANDING)
            if event.who != who or event.seq in gone or undone or standing:
                continue
            key = (event.message, event.command)
            doing = found.pop(key, None) or Doing(who, event.message, event.command, event.at, ())
            found[key] = replace(doing, events=(*doing.events, event.seq))
        return list(reversed(found.values()))
