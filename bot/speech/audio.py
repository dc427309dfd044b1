"""Recordings in and out: any phone's or browser's voice message to 16 kHz mono samples, and speech to OGG/Opus.

Everything that comes in is bounded: its kind (`bot.speech.container`), bytes, decoded samples and the time it may
take, so that an hour of silence in a small file or a crafted file can't hold the program up. Every fault is one error
of ours (`bot.errors`).
"""

from __future__ import annotations

import io
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av
import numpy as np
from numpy.typing import NDArray

from bot.errors import (
    AudioError,
    BigAudioError,
    BrokenAudioError,
    EmptyAudioError,
    LongAudioError,
    NotAudioError,
)
from bot.speech.container import is_playable, open_recording

if TYPE_CHECKING:
    from collections.abc import Iterator

Samples = NDArray[np.float32]
SAMPLE_RATE = 16_000


@dataclass(frozen=True, slots=True)
class Bounds:
    """What one recording may cost."""

    most_bytes: int = 20_000_000
    most_seconds: float = 120.0
    decode_seconds: float = 10.0
    """Wall-clock time for decoding."""
    least_fraction: float = 0.7
    """Less of the stated length than this was decoded: the file was cut short."""


BOUNDS = Bounds()


_FAULTS = (av.FFmpegError, EOFError, ValueError, IndexError, OSError, MemoryError)
"""All that PyAV raises for files that are broken in one way or another."""


def decode(source: bytes | Path, stated_s: float | None = None, bounds: Bounds = BOUNDS) -> Samples:
    """Mono samples (16 kHz, −1…1) of a recording's first audio stream.

    `stated_s` is the length that came with the message, when one did: a recording that decodes to much less was cut
    short.

    Raises:
        AudioError: one of its kinds for each fault; the sentence says what to do.
    """
    data = _read(source, bounds) if isinstance(source, Path) else source
    if not data:
        raise EmptyAudioError
    if len(data) > bounds.most_bytes:
        raise BigAudioError
    try:
        container = open_recording(data)
    except _FAULTS as fault:
        raise NotAudioError from fault
    if container is None:
        raise NotAudioError
    with container:
        try:
            samples = _decode(container, bounds)
        except _FAULTS as fault:
            raise BrokenAudioError from fault
        stated_s = stated_s or _stated_seconds(container)
    if _cut_short(data) or (stated_s and len(samples) / SAMPLE_RATE < stated_s * bounds.least_fraction):
        raise BrokenAudioError
    return samples


def _read(path: Path, bounds: Bounds) -> bytes:
    """A file's bytes, one more than allowed at most."""
    try:
        with path.open("rb") as file:
            return file.read(bounds.most_bytes + 1)
    except FileNotFoundError:
        raise AudioError(f"{path}: there is no such file.") from None
    except OSError as fault:
        raise AudioError(f"{path}: the file can't be read ({(fault.strerror or 'unknown fault').lower()}).") from None


def _decode(container: av.container.InputContainer, bounds: Bounds) -> Samples:
    if not is_playable(container):
        raise NotAudioError
    stated_s = _stated_seconds(container)
    if stated_s is not None and stated_s > bounds.most_seconds:
        raise LongAudioError
    blocks = list(_bounded(_resampled(container), bounds))
    samples = np.concatenate(blocks) if blocks else np.empty(0, np.float32)
    if not len(samples):
        raise EmptyAudioError
    if not np.isfinite(samples).all():
        raise BrokenAudioError
    return samples


def _stated_seconds(container: av.container.InputContainer) -> float | None:
    """Length in the file's own words; None when it states none (a live WebM recording)."""
    stream = container.streams.audio[0]
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / av.time_base if container.duration else None


def _cut_short(data: bytes) -> bool:
    """Whether the container itself shows that bytes are missing at the end (a decoder may not mind)."""
    if data[:4] == b"RIFF":
        stated = int.from_bytes(data[4:8], "little") + 8
        return len(data) < stated < 0xFFFFFFFF  # all ones: recorded as a stream, length unknown
    if data[:4] == b"OggS":
        page = data.rfind(b"OggS")
        segments = data[page + 27 : page + 27 + data[page + 26]] if page + 26 < len(data) else b""
        return not segments or page + 27 + len(segments) + sum(segments) > len(data)
    return False


def _resampled(container: av.container.InputContainer) -> Iterator[Samples]:
    resampler = av.AudioResampler(format="flt", layout="mono", rate=SAMPLE_RATE)
    for frame in container.decode(audio=0):
        frame.pts = None  # gaps in a recording's clock are no silence to be filled in
        yield from (_samples(part) for part in resampler.resample(frame))
    yield from (_samples(part) for part in resampler.resample(None))


def _samples(frame: av.AudioFrame) -> Samples:
    return frame.to_ndarray().reshape(-1).astype(np.float32, copy=False)


def _bounded(blocks: Iterator[Samples], bounds: Bounds) -> Iterator[Samples]:
    """The blocks, as long as samples and time last."""
    deadline = time.monotonic() + bounds.decode_seconds
    count = 0
    for block in blocks:
        count += len(block)
        if count > bounds.most_seconds * SAMPLE_RATE or time.monotonic() > deadline:
            raise LongAudioError
        yield block


def encode_opus(samples: NDArray[Any], rate: int, bit_rate: int = 24_000) -> bytes:
    """Mono samples (float −1…1 or 16-bit) as an OGG/Opus voice message."""
    pcm = samples if samples.dtype == np.int16 else (np.clip(samples, -1, 1) * 32_767).astype(np.int16)
    file = io.BytesIO()
    with av.open(file, mode="w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = bit_rate
        resampler = av.AudioResampler(format="s16", layout="mono", rate=48_000, frame_size=960)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(pcm)[None], format="s16", layout="mono")
        frame.sample_rate = rate
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    return file.getvalue()
