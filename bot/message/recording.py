"""From a recording to a reading: fetched, recognised off the event loop, gated so that nothing is guessed.

In a program that serves rooms the recogniser is in a process of its own (`bot.speech.apart`); else in a thread.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Hashable, Sequence
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import msgspec

from bot.errors import FileProblem
from bot.message import Message
from bot.message.read import read
from bot.rooms import Room
from bot.speech.apart import Apart
from grammar.commands import Choice, Context, Emergency, Mayday, Question, Reading
from grammar.phrases import Names, word_graph
from handlers.errors import CrosslayError
from handlers.rig import Rig

if TYPE_CHECKING:
    from bot.speech.hearing import Heard, Recogniser

T = TypeVar("T")
HEARD = "Heard: "
NEITHER = "Neither"
_URGENT = (Mayday.intent, Emergency.intent)


class Listened(msgspec.Struct, frozen=True):
    """A recording's reading."""

    reading: Reading
    heard: str = ""
    """The words that were heard; "" when there were none."""
    engine: str = ""
    recording: bytes = b""
    """The recording itself, for as long as the message is handled."""
    context: Context | None = None
    """What it was read in."""
    reread: Callable[[Context], Reading] | None = None
    """Its reading in another context: what was handled while it was listened to may have changed what it means."""

    def reading_in(self, context: Context) -> Reading:
        """Its reading in the context in which it is handled."""
        if self.reread is None or context == self.context:
            return self.reading
        return self.reread(context)

    @property
    def line(self) -> str:
        """The line that reads them back."""
        return f"{HEARD}{self.heard}" if self.heard else ""


class Listener:
    """The ears of the program. The recogniser is loaded at the first recording, or by `warm_up`."""

    def __init__(self, rooms: Sequence[Room] = (), vosk_model: str = "", apart: Apart | None = None) -> None:
        """`rooms` fetch the recordings that a message only refers to; a `vosk_model` stands in for the built-in ear.

        `apart`: the process that recognises; by default a thread of this one does.
        """
        self._rooms = {room.kind: room for room in rooms}
        self._vosk_model = Path(vosk_model).expanduser() if vosk_model else None
        self._apart = apart
        self.speed: float | None = None
        """Seconds that a second of sound took lately; None before the first recording."""

    async def warm_up(self, rig: Rig, context: Context) -> None:
        """Load the recogniser and what can be said on this rig. Raises CrosslayError when it can't be loaded."""
        await self._run(_warm_up, self._vosk_model, names(rig, context))

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened:
        """Fetch and recognise a message's recording; what can't be heard is declined in one sentence."""
        try:
            recording = message.voice or await self._fetch(message)
            heard, speed = await self._run(_hear, self._vosk_model, recording, rig, context)
        except CrosslayError as error:
            return Listened(Reading(text="", declined=error.message))
        self._note(speed)
        return msgspec.structs.replace(await asyncio.to_thread(_listened, heard, context), recording=recording)

    async def _fetch(self, message: Message) -> bytes:
        room = self._rooms.get(message.room.partition(":")[0])
        if room is None:
            raise FileProblem(message.voice_ref, "this room has no recordings.")
        return await room.fetch(message.voice_ref)

    async def _run(self, work: Callable[..., T], *args: object) -> T:
        return await (self._apart.run(work, *args) if self._apart is not None else asyncio.to_thread(work, *args))

    def _note(self, speed: float | None) -> None:
        if speed is not None:
            self.speed = speed if self.speed is None else 0.8 * self.speed + 0.2 * speed

    def hear_now(self, recording: bytes | Path, rig: Rig, context: Context) -> Listened:
        """Recognise a recording or a sound file, here and now. Raises CrosslayError for one that can't be used."""
        heard, speed = _hear(self._vosk_model, recording, rig, context)
        self._note(speed)
        return _listened(heard, context)

    @property
    def recogniser(self) -> Recogniser:
        """The recogniser, loaded in this process when it is first asked for. Raises SpeechError when it can't be."""
        return recogniser_of(self._vosk_model)


@lru_cache(maxsize=2)
def recogniser_of(vosk_model: Path | None) -> Recogniser:
    from bot.speech.recogniser import open_recogniser

    return open_recogniser(vosk_model)


def _warm_up(vosk_model: Path | None, said: Names) -> None:
    recogniser_of(vosk_model).warm_up()
    word_graph(said)


def _hear(vosk_model: Path | None, recording: bytes | Path, rig: Rig, context: Context) -> tuple[Heard, float | None]:
    """What was heard, and the seconds that a second of sound took."""
    from bot.speech.audio import decode
    from bot.speech.hearing import SAMPLE_RATE

    samples = decode(recording)
    begun = time.perf_counter()
    heard = recogniser_of(vosk_model).hear(samples, word_graph(names(rig, context)), meaning_in(context))
    took_s = time.perf_counter() - begun
    return heard, took_s / (len(samples) / SAMPLE_RATE) if len(samples) else None


def _listened(heard: Heard, context: Context) -> Listened:
    reread = partial(as_reading, heard)
    return Listened(reread(context), heard.words, heard.engine, context=context, reread=reread)


def names(rig: Rig, context: Context) -> Names:
    """The names that can be said besides the words of the trade."""
    return Names(
        lines=tuple(line.names[0] for line in context.rig_lines),
        units=tuple(sorted(set(context.units_known) - {context.own_unit})),
        people=context.people,
        call_names=(rig.call_name,) if rig.call_name else (),
        own_unit=context.own_unit or "",
    )


def meaning_in(context: Context) -> Callable[[str], Hashable | None]:
    """What words mean in this context, as the gate compares them."""

    @lru_cache(maxsize=256)
    def meaning(words: str) -> Hashable | None:
        reading = read(words, context)
        if reading.commands:
            return reading.commands
        if reading.declined is not None and reading.intent is not None:
            return (reading.intent, reading.declined)  # denied, or still to come
        return (reading.intent, reading.question.text) if reading.question is not None else None

    return meaning


def as_reading(heard: Heard, context: Context) -> Reading:
    """What may be done with what was heard: taken, asked about, or declined. A Mayday is never dropped, nor trouble
    that was freely heard: "I lost my partner" is nearly "I lost my prime".
    """
    from bot.speech.hearing import Decision

    best = read(heard.words, context) if heard.words else Reading(text="")
    if best.intent not in _URGENT:
        freely = (read(guess.words, context) for guess in heard.guesses if guess.source == "free")
        trouble = next((guess for guess in freely if guess.intent in _URGENT), None)
        if trouble is not None and trouble.question is not None:
            return trouble
        if trouble is not None and any(isinstance(command, Emergency) for command in trouble.commands):
            return _did_you_say([trouble], heard)
    if heard.decision is Decision.ANSWER:
        return msgspec.structs.replace(best, confidence=best.confidence * heard.confidence)
    guesses = [best, *(read(words, context) for words in heard.alternatives)]
    denied = next((guess for guess in guesses if guess.declined is not None and guess.intent is not None), None)
    maydays = [guess for guess in guesses if any(isinstance(command, Mayday) for command in guess.commands)]
    if maydays:
        return _did_you_say(maydays[:1], heard)
    if heard.decision is Decision.ASK and denied is not None:
        return msgspec.structs.replace(denied, confidence=heard.confidence)  # "not yet" in any guess: nothing is done
    if heard.decision is Decision.ASK and best.question is not None:
        return best  # its question asks about what was heard anyway
    taken = [guess for guess in guesses if guess.commands]
    if heard.decision is Decision.ASK and taken:
        return _did_you_say(taken, heard)
    return Reading(text=heard.words, declined=heard.reason, confidence=heard.confidence, intent=best.intent)


def _did_you_say(guesses: Sequence[Reading], heard: Heard) -> Reading:
    """One closed question: yes or no to the only guess, or the two best that mean different things."""
    first = guesses[0]
    second = next((guess for guess in guesses[1:] if guess.commands != first.commands), None)
    question = (
        Question(f"Did you say “{first.text}”?", (Choice("Yes", first.commands), Choice("No")))
        if second is None
        else Question(
            "Which did you say?",
            (Choice(first.text, first.commands), Choice(second.text, second.commands), Choice(NEITHER)),
        )
    )
    return Reading(text=heard.words, question=question, intent=first.intent, confidence=heard.confidence)
