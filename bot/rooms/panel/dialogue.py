"""Turns at the panel: what belongs together is heard as one, then handled; what was answered too soon is put right.

An utterance ends with a short pause, a turn with a longer one: where more may follow, its answer waits. What follows
an answer so closely that it belongs to it is heard again together with what came before, and the whole takes the
first half's place in the record.
"""

from __future__ import annotations

import asyncio
import io
import wave
from collections.abc import AsyncIterator
from dataclasses import dataclass, replace
from datetime import datetime

import msgspec
import numpy as np
from numpy.typing import NDArray

from bot.errors import MicrophoneError
from bot.message import Message, Outgoing
from bot.message.read import names_mayday, read
from bot.message.recording import Listened, Listener, as_reading, meaning_in, names
from bot.message.reply import Handled
from bot.message.situation import Situation
from bot.program.station import Station
from bot.rooms.panel.listening_screen import ListeningScreen
from bot.rooms.panel.panel_room import PanelRoom
from bot.speech.hands_free import HandsFree, Quiet, SaidToUs, Utterance, joined
from bot.speech.hearing import SAMPLE_RATE, Decision, Heard
from grammar.commands import Context, Reading
from grammar.phrases import WordGraph, word_graph
from grammar.turns import answers_question, could_go_on, is_urgent
from handlers.rig import Rig

Samples = NDArray[np.float32]
REMINDERS_GO_ON = "Nothing is heard any more; reminders go on."
MORE_WAS_SAID = "More was said than could be understood: say it again, whole."
SPOKE_OVER = "Something was said while I spoke: say it again if it was for me."
LOOK_S = 0.05


@dataclass(frozen=True, slots=True)
class Turn:
    """What was said in one turn so far, and where."""

    utterance: Utterance
    heard: Heard
    """Without the call name."""
    reading: Reading
    context: Context
    graph: WordGraph
    message: str = ""
    """The message it was handled as; "" while it may still go on."""
    at: datetime | None = None
    """… and when that was sent."""

    @property
    def understood(self) -> bool:
        """It means something: to be done, to be asked, or said not to be so."""
        if self.reading.commands or self.reading.question is not None:
            return True
        return self.heard.decision is not Decision.DECLINE and self.reading.intent is not None

    @property
    def sure(self) -> bool:
        """Understood without a question."""
        return self.understood and self.reading.question is None

    def means_as(self, other: Turn) -> bool:
        """Both come to the same."""
        return (self.reading.commands, self.reading.question, self.reading.declined) == (
            other.reading.commands,
            other.reading.question,
            other.reading.declined,
        )


class PanelEars:
    """Hands the pipeline what was heard already; a recording left from before a crash is listened to again."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self._heard: dict[str, Listened] = {}

    @property
    def speed(self) -> float | None:
        """Seconds that a second of sound took lately."""
        return self._listener.speed

    def keep(self, message: Message, turn: Turn) -> None:
        """What the message's recording was heard as."""
        self._heard[message.id] = Listened(turn.reading, turn.heard.words, turn.heard.engine, message.voice)

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened:
        return self._heard.pop(message.id, None) or await self._listener.hear(message, rig, context)


class Panel:
    """The driver's station while it listens."""

    def __init__(self, station: Station, room: PanelRoom, ears: PanelEars, hands_free: HandsFree) -> None:
        self.station = station
        self.room = room
        self._ears = ears
        self._hands_free = hands_free
        self._turn: Turn | None = None
        self._telling: asyncio.Task[None] | None = None

    async def listen(self, found: AsyncIterator[Utterance | Quiet], screen: ListeningScreen) -> bool:
        """Take every utterance until they end; False when the microphone has gone, which is said at the panel."""
        try:
            async for one in found:
                await self.take(one, screen)
        except MicrophoneError as error:
            await self.settle()
            screen.deaf_for_good = True
            await self.room.send(Outgoing(0, self.room.kind, "alert", f"{error.message} {REMINDERS_GO_ON}"))
            return False
        await self.settle()
        return True

    async def take(self, found: Utterance | Quiet, screen: ListeningScreen) -> None:
        """Recognise one utterance and, where it is addressed, handle it: now, or once nobody goes on."""
        if isinstance(found, Quiet):
            await self.settle()
            return
        try:
            await self._take(found, screen)
        finally:
            if not self._waiting:
                self._hands_free.dealt_with()

    async def settle(self) -> None:
        """The turn has ended: what waited is handled."""
        if self._turn is not None and self._waiting:
            await self._handle(self._turn)

    @property
    def _waiting(self) -> bool:
        return self._turn is not None and not self._turn.message

    async def _take(self, utterance: Utterance, screen: ListeningScreen) -> None:
        now = await self.station.pipeline.situation(self.room.message())
        graph = word_graph(names(now.rig, now.context))
        said = await self._hear(utterance, now.context, graph)
        turn = self._turn_of(utterance, said, now.context, graph)
        if _mayday_in(said.heard):
            await self._mayday(turn)
        elif utterance.cut:
            await self.settle()
            await self._cut_short(utterance, said, screen)
        elif said.named:
            await self.settle()
            await self._begin(turn, said, screen)
        elif self._answers(said, now):
            await self._begin(turn, said, screen)
        elif not await self._goes_on(turn, said):
            await self.settle()
            if said.addressed or self._hands_free.was_called():
                await self._begin(turn, said, screen)
            else:
                screen.left_alone(said.heard.words)
                self._hands_free.dealt_with()
                await self.room.finish()

    async def _hear(self, utterance: Utterance, context: Context, graph: WordGraph) -> SaidToUs:
        return await asyncio.to_thread(self._hands_free.hear, utterance, graph, meaning_in(context))

    def _turn_of(self, utterance: Utterance, said: SaidToUs, context: Context, graph: WordGraph) -> Turn:
        strip = self._hands_free.without_call_name
        guesses = tuple(replace(guess, words=strip(guess.words)) for guess in said.heard.guesses)
        heard = replace(said.heard, words=said.words, guesses=guesses)
        return Turn(utterance, heard, as_reading(heard, context), context, graph)

    def _answers(self, said: SaidToUs, now: Situation) -> bool:
        """After a question its answer needs no call name; whatever else is said does."""
        return self._hands_free.expects_answer and answers_question(said.words, now.context)

    async def _begin(self, turn: Turn, said: SaidToUs, screen: ListeningScreen) -> None:
        """A turn of its own: handled at once, or when nobody goes on."""
        if not said.words:
            screen.called()
            self._hands_free.called()
            self._turn = None
            return
        await self._handle_or_wait(turn)

    async def _handle_or_wait(self, turn: Turn) -> None:
        self._turn = turn
        if not could_go_on(turn.heard.words, turn.reading, turn.context, turn.graph):
            await self._handle(turn)

    async def _goes_on(self, turn: Turn, said: SaidToUs) -> bool:
        """Whether it belongs to what was said before; then both are heard as one, and the whole is what counts."""
        before = self._turn
        if before is None or not turn.utterance.goes_on(before.utterance) or is_urgent(before.reading):
            return False
        whole = await self._whole(before, turn)
        if not whole.sure and not _of_the_trade(turn, before):
            return False
        if said.addressed and before.reading.commands + turn.reading.commands == whole.reading.commands:
            return False  # a whole command of its own
        if not whole.understood:
            declined = Reading(text=whole.heard.words, declined=MORE_WAS_SAID, intent=before.reading.intent)
            whole = replace(whole, reading=declined)
        if not before.message:
            await self._handle_or_wait(whole)
        elif whole.means_as(before):
            self._turn = replace(before, utterance=whole.utterance)
        else:
            self.room.superseded.add(before.message)
            await self._handle(whole, instead_of=before)
        return True

    async def _whole(self, before: Turn, turn: Turn) -> Turn:
        """Both heard as one."""
        both = joined(before.utterance, turn.utterance)
        heard = await self._hear(both, before.context, before.graph)
        return self._turn_of(both, heard, before.context, before.graph)

    async def _mayday(self, turn: Turn) -> None:
        """At once, with what led up to it; what waited and is none comes after it."""
        before, waited = self._turn, self._waiting
        if before is not None and not before.reading.commands and turn.utterance.goes_on(before.utterance):
            whole = await self._whole(before, turn)
            if is_urgent(whole.reading):
                turn, waited = whole, False
        await self._handle(turn)
        if before is not None and waited:
            await self._handle(before)

    async def _handle(self, turn: Turn, instead_of: Turn | None = None) -> None:
        """Hand a turn to the pipeline, and wait until its answer was spoken or somebody speaks again."""
        message = self.room.message(as_wav(turn.utterance.samples))
        if instead_of is not None:
            message = msgspec.structs.replace(message, replaces=instead_of.message, at=instead_of.at or message.at)
        self._ears.keep(message, turn)
        self._turn = replace(turn, message=message.id, at=message.at)
        self._hands_free.answered()
        self._hands_free.dealt_with()
        handled = await self._say(message, turn)
        await self._tell()
        if handled is not None and handled.to_ask is not None:
            self._hands_free.expect_answer()

    async def _say(self, message: Message, turn: Turn) -> Handled | None:
        """Hand over the message that a turn has become."""
        return await self.station.pipeline.say(message)

    async def _tell(self) -> None:
        self._telling = asyncio.create_task(self.station.outbox.drain())
        while not self._telling.done() and not self._hands_free.attending:
            await asyncio.wait({self._telling}, timeout=LOOK_S)
        if self._telling.done():
            self._telling.result()

    async def _cut_short(self, utterance: Utterance, said: SaidToUs, screen: ListeningScreen) -> None:
        """Speech of which a part was lost; where it may have been meant for us, that is said aloud."""
        screen.cut_short(said.heard.words)
        last = self._turn
        self._hands_free.dealt_with()
        if said.named or (last is not None and utterance.follows(last.utterance)):
            await self.room.send(Outgoing(0, self.room.kind, "notice", SPOKE_OVER))
        await self.room.finish()


def _of_the_trade(turn: Turn, before: Turn) -> bool:
    """Whether words that can't be understood may belong to what was said before: those of the trade, or words that
    change its meaning. Others talk beside the panel too.
    """
    words = next((guess.words for guess in turn.heard.guesses if guess.source == "free"), turn.heard.words)
    if words and turn.graph.words >= set(words.split()):
        return True
    longer = read(f"{before.heard.words} {words}", before.context)
    same = longer.intent is not None and longer.intent == before.reading.intent
    return same and longer.question is None and longer.commands != before.reading.commands


def _mayday_in(heard: Heard) -> bool:
    """A Mayday needs no call name: the best guess or what was freely heard names it."""
    freely = (guess.words for guess in heard.guesses if guess.source == "free")
    return any(names_mayday(words) for words in (heard.words, *freely))


def as_wav(samples: Samples, rate: int = SAMPLE_RATE) -> bytes:
    """Mono samples as a 16-bit WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return out.getvalue()
