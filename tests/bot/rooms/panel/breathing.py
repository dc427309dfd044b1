"""Commands said in two breaths at the panel: real audio through the real recogniser, and what it comes to.

A case is right where the whole command's answer stands at the end and the log holds what the whole logs; asked where
the whole is asked about or said not to be understood; wrong where an answer or an entry stands that the whole doesn't
say.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray
from rich.console import Console

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.message.recording import Listener
from bot.message.reply import Handled
from bot.program.station import Station
from bot.rooms.panel.dialogue import Panel, PanelEars
from bot.rooms.panel.listening_screen import ListeningScreen
from bot.rooms.panel.panel_room import PanelRoom
from bot.settings import Settings
from bot.speech.hands_free import HandsFree, blocks_of
from bot.speech.voice import open_voice
from bot.store import log, places
from grammar.commands import Reading
from handlers.events import Retracted
from handlers.history import effective

Samples = NDArray[np.float32]
RATE = 16_000
AT = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
CALL = "pump twelve"
Came = Literal["right", "asked", "wrong"]


@dataclass(frozen=True)
class Said:
    """One command with a pause at one place."""

    first: str
    then: str
    pause_s: float

    def __str__(self) -> str:
        return f"{self.first} … {self.pause_s} s … {self.then}"

    @property
    def whole(self) -> str:
        return f"{self.first} {self.then}"


def commands(path: Path) -> Iterator[str]:
    """The commands of the data file, breaths marked."""
    for line in path.read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            yield line


def cases(marked: str, pauses_s: tuple[float, ...], *, everywhere: bool = False) -> Iterator[Said]:
    """A command with each pause at each marked place, or between all words."""
    words = marked.replace("|", " ").split()
    marks = [len(part.split()) for part in marked.split("|")]
    places_of = range(1, len(words)) if everywhere else np.cumsum(marks)[:-1].tolist()
    for place in places_of:
        for pause_s in pauses_s:
            yield Said(" ".join(words[:place]), " ".join(words[place:]), pause_s)


@dataclass
class Outcome:
    """What one run came to: the answers that stand, and what the log says."""

    intents: list[str]
    answers: list[dict[str, Any]]
    entries: list[str]
    status: str
    told: list[str]
    spoken: list[str]


def trimmed(samples: Samples) -> Samples:
    """Speech without the quiet round it."""
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    return samples[loud[0] : loud[-1] + 1]


class Chain:
    """The panel's whole chain on a simulated clock, a record of its own a case."""

    def __init__(self, say: Callable[[str], Samples], folder: Path) -> None:
        self._say, self._folder, self._count = say, folder, 0
        self._listener = Listener()
        self._rigs = rigs.load()

    def audio(self, said: Said) -> Samples:
        """The call name and the command, with the pause in it."""
        quiet = np.zeros(round(said.pause_s * RATE), np.float32)
        halves = [trimmed(self._say(f"{CALL}, {said.first}")), quiet, trimmed(self._say(said.then))]
        return np.concatenate([np.zeros(RATE // 2, np.float32), *halves, np.zeros(RATE, np.float32)])

    async def heard(self, samples: Samples) -> Outcome:
        """What the samples come to at the panel."""
        hands_free = HandsFree(self._listener.recogniser, CALL)
        screen = ListeningScreen(hands_free, UTC, Console(file=io.StringIO()))
        clock = SimulatedClock(AT)
        room = PanelRoom(lambda _: None, hands_free, clock, open_voice(), None, self._rigs.own)
        ears = PanelEars(self._listener)

        async def through(station: Station) -> None:
            panel = Panel(station, room, ears, hands_free)
            for found in hands_free.turns(blocks_of(samples)):
                await panel.take(found, screen)
            await panel.settle()

        return await self._run(room, clock, ears, through)

    async def typed(self, words: str) -> Outcome:
        """What the same words come to when they are typed."""
        hands_free = HandsFree(self._listener.recogniser, CALL)
        clock = SimulatedClock(AT)
        room = PanelRoom(lambda _: None, hands_free, clock, open_voice(), None, self._rigs.own)

        async def through(station: Station) -> None:
            await station.pipeline.say(msgspec.structs.replace(room.message(), text=words))

        return await self._run(room, clock, PanelEars(self._listener), through)

    async def _run(self, room: PanelRoom, clock: SimulatedClock, ears: PanelEars, through: Any) -> Outcome:
        self._count += 1
        settings = Settings(database=f"sqlite:///{self._folder / f'{self._count}.db'}", timezone="UTC")
        station = await Station.open(settings, self._rigs, [room], clock=clock, ears=ears)
        handled: list[Handled] = []

        def took(_message: Message, _listened: object, one: Handled) -> None:
            handled.append(one)

        station.pipeline.took.append(took)
        try:
            await through(station)
            async with station.store.begin() as tx:
                place = await places.place(tx, room.kind)
                events = await log.since(tx, place.incident) if place is not None and place.incident else []
        finally:
            await station.pipeline.stop()
            await station.store.close()
        last = handled[-1] if handled else Handled("", Reading(text="", ignored=True))
        return Outcome(
            [outcome.intent for outcome in last.outcomes],
            [outcome.answer_json for outcome in last.outcomes],
            [_entry(event.body) for event in effective(events) if not isinstance(event.body, Retracted)],
            last.status,
            [one.reply for one in handled],
            [one.spoken for one in handled],
        )


def _entry(body: object) -> str:
    fields = {key: value for key, value in msgspec.to_builtins(body).items() if key not in ("text", "words")}
    return f"{type(body).__name__} {fields}"


def judged(got: Outcome, wanted: Outcome) -> Came:
    """How a run came out beside the typed whole."""
    extra = [entry for entry in got.entries if entry not in wanted.entries]
    same = (got.intents, got.answers, got.status) == (wanted.intents, wanted.answers, wanted.status)
    if same and got.entries == wanted.entries:
        return "right"
    nothing_done = got.status in ("asked", "declined", "ignored") and not extra
    return "asked" if nothing_done else "wrong"
