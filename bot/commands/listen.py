"""`crosslay listen`: hands-free at the panel. A microphone or a sound file, the call name, spoken answers.

What is said goes the same one way as any voice message: into the record, its answer and the reminders to the panel.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bot import rigs
from bot.clock import LocalClock
from bot.message.recording import Listener
from bot.program import logs
from bot.program.station import Station
from bot.rooms.panel.dialogue import Panel, PanelEars
from bot.rooms.panel.listening_screen import ListeningScreen
from bot.rooms.panel.panel_room import PanelRoom
from bot.settings import Settings
from bot.speech.audio import Bounds, decode
from bot.speech.hands_free import HandsFree, Microphone, Quiet, Utterance, blocks_of
from bot.speech.playing import Loudspeaker
from bot.speech.voice import open_voice
from handlers.errors import CrosslayError

Samples = NDArray[np.float32]
BOUNDS = Bounds(most_bytes=200_000_000, most_seconds=3600, decode_seconds=60)
"""A sound file in the microphone's place may be a whole drill."""


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
    speaker, why_not = (None, "") if quiet else _loudspeaker()
    clock = LocalClock()
    voice = open_voice(settings.voice == "piper")
    if speaker is None:
        room = PanelRoom(screen.show, hands_free, clock, voice, None, known.own)
    else:
        room = PanelRoom(screen.show, hands_free, clock, voice, speaker.play, known.own, speaker.stop)
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
            if not await panel.listen(turns_of(hands_free, blocks, patient=patient), screen):
                await asyncio.Event().wait()  # until it is stopped: what falls due is still told
            await station.outbox.drain()
        finally:
            await station.stop()


def _loudspeaker() -> tuple[Loudspeaker | None, str]:
    try:
        return Loudspeaker(), ""
    except CrosslayError as error:
        return None, error.message


async def turns_of(
    hands_free: HandsFree, blocks: Iterator[Samples], *, patient: bool
) -> AsyncIterator[Utterance | Quiet]:
    """Utterances, and the quiet after them, from a thread that never stops taking blocks.

    `patient`: a file waits while an utterance is dealt with, a microphone can't.
    What goes wrong in the thread is raised here.
    """
    loop = asyncio.get_running_loop()
    found: asyncio.Queue[Utterance | Quiet | Exception | None] = asyncio.Queue()
    go_on = threading.Semaphore(0)

    def hand_over(one: Utterance | Quiet | Exception | None) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has closed
            loop.call_soon_threadsafe(found.put_nowait, one)

    def take() -> None:
        try:
            for one in hands_free.turns(blocks):
                hand_over(one)
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
