"""Recordings of every usual format, and every way a recording can be bad."""

from __future__ import annotations

import io
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from bot.errors import (
    AudioError,
    BigAudioError,
    BrokenAudioError,
    EmptyAudioError,
    LongAudioError,
    NotAudioError,
)
from bot.speech.audio import Bounds, decode, encode_opus

Samples = NDArray[np.float32]
RATE = 16_000
TONE = (0.4 * np.sin(2 * np.pi * 440 * np.arange(3 * RATE) / RATE)).astype(np.float32)


def recording(samples: Samples, container: str, codec: str, rate: int, layout: str = "mono") -> bytes:
    """Samples (16 kHz) in the given format."""
    file = io.BytesIO()
    with av.open(file, "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate, layout=layout)
        stream.open() if not stream.codec_context.is_open else None
        resampler = av.AudioResampler(
            format=stream.format.name, layout=layout, rate=rate, frame_size=stream.codec_context.frame_size or None
        )
        frame = av.AudioFrame.from_ndarray((samples * 32_767).astype(np.int16)[None], format="s16", layout="mono")
        frame.sample_rate = RATE
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    return file.getvalue()


FORMATS = [
    pytest.param("ogg", "libopus", 48_000, "mono", id="OGG/Opus"),
    pytest.param("webm", "libopus", 48_000, "mono", id="WebM/Opus"),
    pytest.param("mp4", "aac", 44_100, "mono", id="M4A/AAC"),
    pytest.param("mp3", "libmp3lame", 44_100, "stereo", id="MP3"),
    pytest.param("wav", "pcm_s16le", 8_000, "stereo", id="WAV, 8 kHz stereo"),
    pytest.param("wav", "pcm_s16le", 48_000, "mono", id="WAV, 48 kHz"),
    pytest.param("flac", "flac", 16_000, "mono", id="FLAC"),
]


def pitch_hz(samples: Samples) -> float:
    """The strongest frequency."""
    return float(np.fft.rfftfreq(len(samples), 1 / RATE)[np.abs(np.fft.rfft(samples)).argmax()])


@pytest.mark.parametrize(("container", "codec", "rate", "layout"), FORMATS)
def test_every_usual_format_is_heard(container: str, codec: str, rate: int, layout: str) -> None:
    samples = decode(recording(TONE, container, codec, rate, layout))
    assert samples.dtype == np.float32
    assert len(samples) / RATE == pytest.approx(3.0, abs=0.15)
    assert pitch_hz(samples) == pytest.approx(440, abs=2)
    assert np.abs(samples).max() == pytest.approx(0.4, rel=0.25)


@pytest.mark.parametrize(("container", "codec", "rate", "layout"), FORMATS)
def test_a_recording_cut_short_is_said_to_be(container: str, codec: str, rate: int, layout: str) -> None:
    whole = recording(TONE, container, codec, rate, layout)
    with pytest.raises(AudioError, match=r"send it again or type it|send a voice message"):
        decode(whole[: len(whole) // 2])


def test_a_recording_shorter_than_the_message_says_was_cut_short() -> None:
    whole = encode_opus(TONE, RATE)
    assert len(decode(whole, stated_s=3)) / RATE == pytest.approx(3, abs=0.1)
    with pytest.raises(BrokenAudioError):
        decode(whole, stated_s=9)


BAD = [
    pytest.param(b"", EmptyAudioError, "The recording is empty", id="0 bytes"),
    pytest.param(b"two lines, 200 feet " * 100, NotAudioError, "isn't a recording", id="text"),
    pytest.param(bytes(range(256)) * 40, NotAudioError, "isn't a recording", id="random bytes"),
    pytest.param(bytes(25_000_000), BigAudioError, "over 20 MB", id="25 MB"),
]


@pytest.mark.parametrize(("data", "error", "sentence"), BAD)
def test_bad_recordings_get_one_sentence(data: bytes, error: type[AudioError], sentence: str) -> None:
    with pytest.raises(error) as caught:
        decode(data)
    assert sentence in str(caught.value)
    assert str(caught.value).count(".") == 1


def test_a_picture_in_a_known_container_is_no_recording() -> None:
    file = io.BytesIO()
    with av.open(file, "w", format="matroska") as out:
        stream = out.add_stream("mpeg4", rate=10)
        stream.width = stream.height = 64
        stream.pix_fmt = "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    with pytest.raises(NotAudioError):
        decode(file.getvalue())


@pytest.fixture(scope="module")
def hour() -> bytes:
    return recording(np.zeros(3600 * RATE, np.float32), "flac", "flac", RATE)


def test_an_hour_of_silence_is_refused_before_it_is_decoded(hour: bytes) -> None:
    assert len(hour) < 5_000_000
    tracemalloc.start()
    for _ in range(5):
        with pytest.raises(LongAudioError):
            decode(hour)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 20_000_000


def test_an_hour_that_states_no_length_stops_at_the_bound() -> None:
    longer = recording(np.zeros(150 * RATE, np.float32), "adts", "aac", RATE)
    with pytest.raises(LongAudioError):
        decode(longer)
    with pytest.raises(LongAudioError):
        decode(recording(TONE, "adts", "aac", RATE), bounds=Bounds(most_seconds=2))


def test_clipped_and_quiet_recordings_are_decoded() -> None:
    assert np.abs(decode(encode_opus(np.clip(TONE * 9, -1, 1), RATE))).max() > 0.9
    assert 0 < np.abs(decode(encode_opus(TONE * 0.002, RATE))).max() < 0.01


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match=r"nowhere\.ogg: there is no such file"):
        decode(tmp_path / "nowhere.ogg")
    with pytest.raises(AudioError, match="can't be read"):
        decode(tmp_path)


def test_files_with_random_faults_never_raise_anything_else(say: Callable[..., Samples]) -> None:
    whole = encode_opus(say("water on the fire"), RATE)
    rng = np.random.default_rng(5)
    for _ in range(120):
        damaged = bytearray(whole)
        for place in rng.integers(0, len(damaged), rng.integers(1, 40)):
            damaged[place] = rng.integers(256)
        try:
            samples = decode(bytes(damaged[: rng.integers(1, len(damaged) + 1)]))
        except AudioError:
            continue
        assert np.isfinite(samples).all()
