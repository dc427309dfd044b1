"""The bench's own noises, made apart from training's: a pump under load, a siren, a crowd of held-out voices.

Each is float32 of standard deviation 1.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from bot.speech.training.clips import RATE

Samples = NDArray[np.float32]
LEVELS: tuple[int | None, ...] = (None, 20, 10, 5)
"""Speech-to-noise ratios in dB; None is clean."""


def _unit(sound: NDArray[np.floating]) -> Samples:
    return np.asarray(sound / (sound.std() + 1e-9), np.float32)


def _pink(count: int, chance: Generator) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(chance.standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(count, 1 / RATE), 30))
    return np.fft.irfft(spectrum, count)


def pump(count: int, chance: Generator) -> Samples:
    """Engine harmonics of 28–60 Hz that wander, over pink noise."""
    time = np.arange(count) / RATE
    wander = np.interp(time, np.linspace(0, max(time[-1], 1e-3), 6), np.cumsum(chance.normal(0, 0.01, 6)))
    phase = 2 * np.pi * np.cumsum(chance.uniform(28, 60) * (1 + wander)) / RATE
    fall = chance.uniform(0.6, 1.2)
    tone = np.sum([k**-fall * np.sin(k * phase + chance.uniform(0, 6.28)) for k in range(1, 24)], axis=0)
    return _unit(_unit(tone) + _unit(_pink(count, chance)) * chance.uniform(0.7, 1.3))


def siren(count: int, chance: Generator) -> Samples:
    """A wail of 500–1,400 Hz with two overtones, over a little pump."""
    time = np.arange(count) / RATE
    pitch = 950 + 450 * np.sin(2 * np.pi * chance.uniform(0.2, 3.0) * time + chance.uniform(0, 6.28))
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    return _unit(_unit(np.sin(phase) + 0.4 * np.sin(2 * phase) + 0.2 * np.sin(3 * phase)) + 0.4 * pump(count, chance))


def crowd(count: int, chance: Generator, voices: Sequence[Samples]) -> Samples:
    """Five voices talking at once, over a little pump."""
    sound = np.zeros(count, np.float32)
    for index in chance.integers(len(voices), size=5):
        voice = np.resize(voices[index], count)  # repeated to fill
        sound += np.roll(voice, int(chance.integers(count))) / (voice.std() + 1e-6)
    return _unit(_unit(sound) + 0.4 * pump(count, chance))


def drawn(count: int, chance: Generator, voices: Sequence[Samples]) -> tuple[Samples, str]:
    """Pump for three clips in five, siren or crowd for the others; the noise and its name."""
    kind = chance.random()
    if kind < 0.6:
        return pump(count, chance), "pump"
    return (siren(count, chance), "siren") if kind < 0.8 else (crowd(count, chance, voices), "crowd")


def speech_level(speech: Samples) -> float:
    """Root mean square of the 20 ms frames within 20 dB of the loudest."""
    frames = speech[: len(speech) // 320 * 320].reshape(-1, 320)
    power = (frames.astype(np.float64) ** 2).mean(1)
    return float(np.sqrt(power[power >= power.max() * 0.01].mean()))


def mixed(speech: Samples, level_db: int | None, chance: Generator, voices: Sequence[Samples]) -> tuple[Samples, str]:
    """A recording of the speech, with 0.3–0.8 s before and after it; noise at a speech-to-noise ratio, peak at 0.9."""
    before, after = (int(RATE * chance.uniform(0.3, 0.8)) for _ in range(2))
    sound = np.pad(speech, (before, after))
    if level_db is None:
        noise, name = chance.standard_normal(len(sound)).astype(np.float32), "clean"
        sound = sound + noise * speech_level(speech) / 10 ** (45 / 20)
    else:
        noise, name = drawn(len(sound), chance, voices)
        sound = sound + noise * speech_level(speech) / 10 ** (level_db / 20)
    return (sound / np.abs(sound).max() * 0.9).astype(np.float32), name
