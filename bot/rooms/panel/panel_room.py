"""The room at the pump panel: what is told here is shown and spoken; nobody is heard while it speaks."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable

import msgspec

from bot.clock import Clock
from bot.errors import FileProblem
from bot.message import Message, Outgoing
from bot.rooms.terminal import save
from bot.speech.hands_free import HandsFree
from bot.speech.voice import Speech, Voice
from handlers.errors import CrosslayError
from handlers.rig import Rig
from handlers.words import said_aloud

KIND = "panel"
TAIL_S = 0.25
"""The ears stay shut for so long after the last sound: the room still rings."""
LOOK_S = 0.05
LET_SPEAK_S = 5.0
"""Anything but an alert waits for so long at most until who is speaking has finished."""
LET_FINISH_S = 20.0
"""A reply waits longer: what is being said may belong to what it answers."""

Show = Callable[[Outgoing], None]
Play = Callable[[Speech], None]

_LOG = logging.getLogger(__name__)


class PanelRoom:
    """One room, its driver's. `play` None: only shown."""

    kind = KIND

    def __init__(
        self,
        show: Show,
        hands_free: HandsFree,
        clock: Clock,
        voice: Voice,
        play: Play | None,
        rig: Rig,
        stop: Callable[[], None] = lambda: None,
    ) -> None:
        """`play` None: only shown. `stop`: breaks off what is being played."""
        self._show = show
        self._hands_free = hands_free
        self._clock = clock
        self._voice = voice
        self._play = play
        self._rig = rig
        self._stop = stop
        self._broken_off: Outgoing | None = None
        self.superseded: set[str] = set()
        """Messages of which only the first half was answered: that answer isn't spoken any more."""

    async def send(self, out: Outgoing) -> str:
        files = "".join(f"\n{save(attachment)}" for attachment in out.attachments if attachment.kind != "voice")
        self._show(msgspec.structs.replace(out, text=out.text + files))
        if self._play is not None:
            await self._speak(out, self._play)
        return str(out.id)

    async def fetch(self, voice_ref: str) -> bytes:
        raise FileProblem(voice_ref, "the panel keeps no recordings.")

    def message(self, voice: bytes = b"") -> Message:
        """Something that the driver said at the panel."""
        return Message(
            room=self.kind,
            id=f"{time.time_ns():x}",
            who="driver",
            at=self._clock.now(),
            voice=voice,
            name="driver",
            role="driver",
            title="the pump panel",
            addressed=True,
        )

    async def _speak(self, out: Outgoing, play: Play) -> None:
        """Say it aloud; what can't be spoken stands on the screen all the same."""
        try:
            speech = await asyncio.to_thread(self._voice.speak, said_aloud(out.spoken or out.text, self._rig))
            if not out.loud:
                await self._let_speak(LET_FINISH_S if out.kind == "reply" else LET_SPEAK_S)
            if out.reply_to in self.superseded:
                return
            with self._hands_free.deaf(None if out.loud else speech):
                await self._play_out(play, speech)
            if self._hands_free.interrupted and out.kind == "reply":
                self._broken_off = out
        except CrosslayError as error:
            _LOG.warning("Not spoken: %s", error.message)

    async def _play_out(self, play: Play, speech: Speech) -> None:
        """Play it to its end, or until somebody speaks over it."""
        playing = asyncio.create_task(asyncio.to_thread(play, speech))
        while not playing.done():
            await asyncio.wait({playing}, timeout=LOOK_S)
            if self._hands_free.interrupted:
                self._stop()
                break
        await playing
        if not self._hands_free.interrupted:
            await asyncio.sleep(TAIL_S)

    async def finish(self) -> None:
        """Say again the answer that somebody spoke over, when it turns out that they didn't mean it."""
        out, self._broken_off = self._broken_off, None
        if out is not None and self._play is not None and out.reply_to not in self.superseded:
            await self._speak(out, self._play)

    async def _let_speak(self, at_most_s: float) -> None:
        until = time.monotonic() + at_most_s
        while self._hands_free.attending and time.monotonic() < until:  # noqa: ASYNC110 - told by a thread
            await asyncio.sleep(0.05)
