"""The local room: people type at one screen, answers and reminders appear above the line that is being typed.

Without a terminal it takes a message a line from standard input, answers each in one incident, and ends at its end.
"""

from __future__ import annotations

import hashlib
import platform
import sqlite3
import time
from collections.abc import Callable, Sequence

import msgspec

from bot import rigs
from bot.clock import Clock, LocalClock
from bot.errors import FileProblem
from bot.message import Attachment, Message, Outgoing, reply
from bot.message.pipeline import Ears
from bot.message.reply import Handled
from bot.program.station import Station
from bot.rooms import Room
from bot.rooms.choices import Choices, slash_words
from bot.rooms.speakers import ROLES, Speaker, speaker, split
from bot.settings import DIRS, Settings
from bot.store import private
from handlers.events import RoleTaken
from handlers.outcome import Dated

ROOM = "local"
MOST_ROOMS = 20
LEAVE = frozenset({"exit", "quit", "bye"})
WELCOME = (
    "Crosslay: type what you need, as “two lines, 200 feet, 1.75, second floor”. Others here: “officer: on scene”.\n"
    "An aid to trained people: department procedures, the pump's own gauges and flow meters, and the incident\n"
    "commander decide. It replaces no radio, no Mayday call and no accountability. “help” says more; “exit” leaves."
)

Show = Callable[[Outgoing], None]


class TerminalRoom:
    """The one room of a screen. What is said here is said by `me`, unless the line names somebody else."""

    def __init__(
        self, show: Show, clock: Clock, people: frozenset[str] = frozenset(), me: str = "driver", kind: str = ROOM
    ) -> None:
        self.kind = kind
        self.me = speaker(me)
        self._show = show
        self._clock = clock
        self._people = people
        self._choices = Choices()

    async def send(self, out: Outgoing) -> str:
        self._choices.shown(out)
        files = "".join(f"\n{save(attachment)}" for attachment in out.attachments)
        self._show(msgspec.structs.replace(out, text=out.text + files))
        return str(out.id)

    async def fetch(self, voice_ref: str) -> bytes:
        raise FileProblem(voice_ref, "the local room has no recordings.")

    def took(self, message: Message, _listened: object, handled: Handled) -> None:
        """A role that `me` takes ("I'm the officer") is theirs for what follows."""
        self._choices.took(handled)
        for outcome in handled.outcomes:
            for event in outcome.events:
                body = event.body if isinstance(event, Dated) else event
                if isinstance(body, RoleTaken) and body.person == message.who == self.me.who:
                    self.me = msgspec.structs.replace(self.me, role=body.role, unit=body.unit)

    @property
    def prompt(self) -> str:
        """Who is typing: their role where they took another one."""
        return self.me.role if self.me.role and self.me.who in ROLES else self.me.who

    def message(self, line: str) -> Message:
        """What a typed line says; the number of a shown choice presses its button."""
        named, words = split(line, self._people)
        who: Speaker = named or self.me
        words = slash_words(words)
        button = self._choices.pressed(words)
        return Message(
            room=self.kind,
            id=f"{time.time_ns():x}",
            who=who.who,
            at=self._clock.now(),
            text="" if button else words,
            button=button,
            name=self.prompt if who is self.me else who.who,
            role=who.role,
            unit=who.unit,
            title="the local room",
            addressed=True,
        )


async def seated(
    settings: Settings,
    known: rigs.Rigs,
    show: Show,
    *,
    clock: Clock | None = None,
    beside: Sequence[Room] = (),
    ears: Ears | None = None,
) -> tuple[Station, TerminalRoom]:
    """A started station with its local room, and those beside it."""
    clock = clock or LocalClock()
    people = frozenset(seat.name.casefold() for seat in known.own.crew if seat.name)
    room = TerminalRoom(show, clock, people, kind=_free_room(settings))
    station = await Station.open(settings, known, [room, *beside], clock=clock, ears=ears)
    station.pipeline.took.append(room.took)
    await station.start()
    return station, room


_HELD: list[sqlite3.Connection] = []
"""Locks on the rooms of this program, until it ends in whatever way."""


def _free_room(settings: Settings) -> str:
    """ "local"; on PostgreSQL, which serves several, this machine's, and where another sits there "…-2"."""
    if settings.database_url.startswith("sqlite"):
        return ROOM
    here = f"{ROOM}-{platform.node() or 'machine'}"
    record = hashlib.sha256(settings.database_url.encode()).hexdigest()[:12]
    for number in range(1, MOST_ROOMS + 1):
        try:
            private.folder(DIRS.user_data_path)
            lock = sqlite3.connect(DIRS.user_data_path / f"room-{record}-{number}.lock", timeout=0)
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                continue
            break
        except OSError:
            break
        _HELD.append(lock)
        return here if number == 1 else f"{here}-{number}"
    return here


def save(attachment: Attachment) -> str:
    """Put an attachment where its person can open it, and say where that is."""
    folder = DIRS.user_data_path / "sent"
    path = folder / attachment.name
    try:
        private.folder(folder)
        path.write_bytes(attachment.data)
        private.close(path)
    except OSError as error:
        return f"{path} can't be written ({error.strerror})."
    return f"Saved: {path}"


def with_choices(out: Outgoing) -> str:
    """The text, and under it its choices by number."""
    return reply.with_choices(out.text, [button.label for button in out.buttons])
