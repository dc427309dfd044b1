"""Hands-free listening for one screen: its sound as at the panel, its turns as at the panel, recognised in the ear's
own process, so that nobody else who is served waits for it.
"""

from __future__ import annotations

import asyncio
import queue
from collections.abc import Awaitable, Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bot.commands.listen import turns_of
from bot.message import Message, Outgoing
from bot.message.recording import Listener, meaning_in, names
from bot.message.reply import Handled
from bot.program.station import Station
from bot.rooms.page.protocol import Ear
from bot.rooms.panel.dialogue import Panel, PanelEars, Turn
from bot.rooms.panel.listening_screen import ListeningScreen
from bot.speech.activity import FRAME
from bot.speech.apart import Apart
from bot.speech.hands_free import HandsFree, Quiet, SaidToUs, Utterance
from grammar.commands import Context
from grammar.phrases import WordGraph, word_graph
from handlers.rig import Rig

Samples = NDArray[np.float32]
MOST_BLOCKS = 400
"""Of 32 ms: who sends faster than that is heard with gaps."""


Say = Callable[[Message, str], Awaitable[Handled | None]]
"""Hands over a message with the words that it was heard as."""


class ScreenRoom:
    """The page's room as hands-free listening sees it."""

    def __init__(self, kind: str, message: Callable[[bytes], Message], say: Say, notice: Callable[[Ear], None],
                 superseded: Callable[[str], None]) -> None:  # fmt: skip
        self.kind = kind
        self.say = say
        self._message = message
        self._notice = notice
        self.superseded = _Superseded(superseded)

    def message(self, voice: bytes = b"") -> Message:
        """Something that was said at the screen."""
        return self._message(voice)

    async def send(self, out: Outgoing) -> str:
        """A sentence of the listening's own ("something was said while I spoke")."""
        self._notice(Ear("cut", out.text))
        return ""

    async def finish(self) -> None:
        """The screen speaks its answers by itself, to their end."""


class _Superseded(set[str]):
    """Messages whose answer isn't spoken; the screen is told of each."""

    def __init__(self, tell: Callable[[str], None]) -> None:
        super().__init__()
        self._tell = tell

    def add(self, message: str, /) -> None:
        super().add(message)
        self._tell(message)


class ScreenEar:
    """What becomes of what is heard, as the screen shows it (as rooms/listening_screen.py at the panel)."""

    deaf_for_good = False

    def __init__(self, notice: Callable[[Ear], None]) -> None:
        self._notice = notice

    def say(self, sentence: str) -> None:
        self._notice(Ear("left", sentence))

    def left_alone(self, words: str) -> None:
        """Without the call name: shown so that a missed call name is seen, kept nowhere."""
        self._notice(Ear("left", words))

    def cut_short(self, words: str) -> None:
        self._notice(Ear("cut", words))

    def called(self) -> None:
        self._notice(Ear("called"))


class ScreenPanel(Panel):
    """The turns of one screen; recognised apart."""

    def __init__(self, station: Station, room: ScreenRoom, ears: PanelEars, hands_free: HandsFree, apart: Apart | None,
                 vosk_model: str, call_name: str) -> None:  # fmt: skip
        super().__init__(station, room, ears, hands_free)  # type: ignore[arg-type]
        self._said_at = room
        self._apart = apart
        self._vosk_model = Path(vosk_model).expanduser() if vosk_model else None
        self._call_name = call_name

    async def take(self, found: Utterance | Quiet, screen: ListeningScreen) -> None:
        """As at the panel; what can be said is worked out beside the loop, which has others to serve."""
        if isinstance(found, Utterance):
            now = await self.station.pipeline.situation(self.room.message())
            await asyncio.to_thread(word_graph, names(now.rig, now.context))
        await super().take(found, screen)

    async def _say(self, message: Message, turn: Turn) -> Handled | None:
        return await self._said_at.say(message, turn.heard.words)

    async def _hear(self, utterance: Utterance, context: Context, graph: WordGraph) -> SaidToUs:
        rig = self.station.rigs.of(context.own_unit or "")
        work = (self._vosk_model, utterance, rig, context, self._call_name)
        if self._apart is not None:
            return await self._apart.run(hear_apart, *work)
        return await asyncio.to_thread(hear_apart, *work)


def hear_apart(vosk_model: Path | None, utterance: Utterance, rig: Rig, context: Context, call_name: str) -> SaidToUs:
    """Recognise one utterance; in the ear's process."""
    from bot.message.recording import recogniser_of

    hands_free = HandsFree(recogniser_of(vosk_model), call_name)
    return hands_free.hear(utterance, word_graph(names(rig, context)), meaning_in(context))


class Listening:
    """A screen's hands-free listening, from `begin` to `end`."""

    def __init__(
        self,
        station: Station,
        listener: Listener,
        ears: PanelEars,
        apart: Apart | None,
        room: ScreenRoom,
        notice: Callable[[Ear], None],
        rig: Rig,
    ) -> None:
        call_name = rig.call_name
        self._hands_free = HandsFree(_NoRecogniser(), call_name)  # type: ignore[arg-type]
        vosk_model = station.settings.vosk_model
        self._panel = ScreenPanel(station, room, ears, self._hands_free, apart, vosk_model, call_name)
        self._screen = ScreenEar(notice)
        self._blocks: queue.Queue[Samples | None] = queue.Queue(MOST_BLOCKS)
        self._rest = np.zeros(0, np.float32)
        self._task: asyncio.Task[bool] | None = None
        self._began = partial(notice, Ear("on", call_name))

    def begin(self) -> None:
        """Listen to what `take` brings from now on."""
        turns = turns_of(self._hands_free, self._taken(), patient=False)
        self._task = asyncio.create_task(self._panel.listen(turns, self._screen))  # type: ignore[arg-type]
        self._began()

    def take(self, pcm: bytes) -> None:
        """Sound as it comes: 16-bit samples."""
        samples = np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2").astype(np.float32) / np.float32(32768)
        samples = np.concatenate([self._rest, samples])
        whole = len(samples) // FRAME * FRAME
        self._rest = samples[whole:]
        for start in range(0, whole, FRAME):
            if self._blocks.full():
                return
            self._blocks.put_nowait(samples[start : start + FRAME])

    def speaking(self, on: bool) -> None:
        """The screen speaks itself: what its microphone brings is dropped."""
        self._hands_free.is_deaf = on

    async def end(self) -> None:
        """Listen no more; what was heard whole is dealt with."""
        while True:
            try:
                self._blocks.put_nowait(None)
                break
            except queue.Full:
                self._blocks.get_nowait()
        if self._task is not None:
            await asyncio.wait({self._task}, timeout=5)
            self._task.cancel()

    def _taken(self) -> Iterator[Samples]:
        while (block := self._blocks.get()) is not None:
            yield block


class _NoRecogniser:
    """Utterances are found here and recognised apart."""

    name = "apart"
