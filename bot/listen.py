"""`crosslay listen`: hands-free at the panel. A microphone or a sound file, the call name, spoken answers.

What is said goes the same one way as any voice message: into the record, its answer and the reminders to the panel.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import threading
import wave
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bot import logs, rigs
from bot.clock import RealClock
from bot.listening import Listened, Listener, as_reading, meaning_in, names
from bot.message import Message, Outgoing
from bot.reading import names_mayday
from bot.rooms.listening_screen import ListeningScreen
from bot.rooms.panel import PanelRoom, Play
from bot.settings import Settings
from bot.speech.audio import Bounds, decode
from bot.speech.errors import MicrophoneError
from bot.speech.hearing import SAMPLE_RATE, Heard
from bot.speech.listen import HandsFree, Microphone, Said, Utterance, blocks_of
from bot.speech.playing import Loudspeaker
from bot.speech.voice import open_voice
from bot.station import Station
from grammar.commands import Context
from grammar.phrases import word_graph
from handlers.errors import CrosslayError
from handlers.rig import Rig

Samples = NDArray[np.float32]
REMINDERS_GO_ON = "Nothing is heard any more; reminders go on."
BOUNDS = Bounds(most_bytes=200_000_000, most_seconds=3600, decode_seconds=60)
"""A sound file in the microphone's place may be a whole drill."""


class PanelEars:
    """Hands the pipeline what was heard already; a recording left from before a crash is listened to again."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self._heard: dict[str, Heard] = {}

    def keep(self, message: Message, heard: Heard) -> None:
        """What the message's recording was heard as."""
        self._heard[message.id] = heard

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened:
        heard = self._heard.pop(message.id, None)
        if heard is None:
            return await self._listener.hear(message, rig, context)
        return Listened(as_reading(heard, context), heard.words, heard.engine, message.voice)


class Panel:
    """The driver's station while it listens."""

    def __init__(self, station: Station, room: PanelRoom, ears: PanelEars, hands_free: HandsFree) -> None:
        self.station = station
        self.room = room
        self._ears = ears
        self._hands_free = hands_free

    async def listen(self, utterances: AsyncIterator[Utterance], screen: ListeningScreen) -> bool:
        """Take every utterance until they end; False when the microphone has gone, which is said at the panel."""
        try:
            async for utterance in utterances:
                await self.take(utterance, screen)
        except MicrophoneError as error:
            screen.deaf_for_good = True
            await self.room.send(Outgoing(0, self.room.kind, "alert", f"{error.message} {REMINDERS_GO_ON}"))
            return False
        return True

    async def take(self, utterance: Utterance, screen: ListeningScreen) -> None:
        """Recognise one utterance and, where it is addressed, handle it and wait until its answer was spoken."""
        now = await self.station.pipeline.situation(self.room.message())
        graph, meaning = word_graph(names(now.rig, now.context)), meaning_in(now.context)
        said = await asyncio.to_thread(self._hands_free.hear, utterance, graph, meaning)
        mayday = _mayday_in(said.heard)
        if utterance.cut and not mayday:
            screen.cut_short(said.heard.words)
            return
        if not said.addressed and not mayday:
            screen.left_alone(said.heard.words)
            return
        if not said.words:
            screen.called()
            return
        message = self.room.message(as_wav(utterance.samples))
        self._ears.keep(message, self._without_call_name(said))
        handled = await self.station.pipeline.say(message)
        await self.station.outbox.drain()
        if handled is not None and handled.to_ask is not None:
            self._hands_free.expect_answer()

    def _without_call_name(self, said: Said) -> Heard:
        strip = self._hands_free.without_call_name
        guesses = tuple(replace(guess, words=strip(guess.words)) for guess in said.heard.guesses)
        return replace(said.heard, words=said.words, guesses=guesses)


def _mayday_in(heard: Heard) -> bool:
    """A Mayday needs no call name: the best guess or what was freely heard names it."""
    freely = (guess.words for guess in heard.guesses if guess.source == "free")
    return any(names_mayday(words) for words in (heard.words, *freely))


def as_wav(samples: Samples) -> bytes:
    """Mono samples as a 16-bit WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(SAMPLE_RATE)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return out.getvalue()


def listen(settings: Settings, *, source: str = "", call_name: bool = True, quiet: bool = False) -> int:
    """Listen until it is stopped, or the file that stands in for the microphone ends.

    Raises:
        MicrophoneError, AudioError: there is nothing to listen to; the sentence says what to do.
    """
    known = rigs.load(settings.rig)
    logs.write_to_file()
    with contextlib.ExitStack() as stack:
        blocks = blocks_of(decode(Path(source), bounds=BOUNDS)) if source else stack.enter_context(Microphone())
        name = known.own.call_name if call_name else ""
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_listen(settings, known, blocks, name=name, patient=bool(source), quiet=quiet))
    return 0


async def _listen(
    settings: Settings, known: rigs.Rigs, blocks: Iterator[Samples], *, name: str, patient: bool, quiet: bool
) -> None:
    listener = Listener(vosk_model=settings.vosk_model)
    hands_free = HandsFree(listener.recogniser, name)
    screen = ListeningScreen(hands_free, settings.tz)
    play, why_not = (None, "") if quiet else _loudspeaker()
    clock = RealClock()
    room = PanelRoom(screen.show, hands_free, clock, open_voice(settings.voice == "piper"), play)
    ears = PanelEars(listener)
    station = await Station.open(settings, known, [room], clock=clock, ears=ears)
    panel = Panel(station, room, ears, hands_free)
    with screen:
        screen.say(f"Listening. {f'Say “{name}” first.' if name else 'Everything said is taken as meant for it.'}")
        if why_not:
            screen.say(why_not)
        await station.start()
        try:
            now = await station.pipeline.situation(room.message())
            await listener.warm_up(now.rig, now.context)
            if not await panel.listen(utterances_of(hands_free, blocks, patient=patient), screen):
                await asyncio.Event().wait()  # until it is stopped: what falls due is still told
            await station.outbox.drain()
        finally:
            await station.stop()


def _loudspeaker() -> tuple[Play | None, str]:
    try:
        return Loudspeaker().play, ""
    except CrosslayError as error:
        return None, error.message


async def utterances_of(hands_free: HandsFree, blocks: Iterator[Samples], *, patient: bool) -> AsyncIterator[Utterance]:
    """Utterances from a thread that never stops taking blocks.

    `patient`: a file waits while an utterance is dealt with, a microphone can't.
    What goes wrong in the thread is raised here.
    """
    loop = asyncio.get_running_loop()
    found: asyncio.Queue[Utterance | Exception | None] = asyncio.Queue()
    go_on = threading.Semaphore(0)

    def hand_over(one: Utterance | Exception | None) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has closed
            loop.call_soon_threadsafe(found.put_nowait, one)

    def take() -> None:
        try:
            for utterance in hands_free.utterances(blocks):
                hand_over(utterance)
                if patient:
                    go_on.acquire()
        except Exception as error:
            hand_over(error)
        else:
            hand_over(None)

    threading.Thread(target=take, name="microphone", daemon=True).start()
    while (one := await found.get()) is not None:
        if isinstance(one, Exception):
            raise one
        yield one
        go_on.release()
