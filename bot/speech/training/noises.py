"""The sounds of a fireground made from arithmetic: engine and pump, siren, horn, crowd, wind, radio, breathing.

Every function takes a length in samples at 16 kHz and a numpy generator and returns float32 noise with a standard
deviation of 1 (loudness is the caller's business). No recordings are used.
"""

from collections.abc import Callable

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy import signal
from scipy.fft import irfft, next_fast_len, rfft

from bot.speech.training.clips import RATE

Noise = NDArray[np.float32]


def _level(samples: NDArray[np.floating]) -> Noise:
    return np.asarray(samples / (samples.std() + 1e-9), np.float32)


def coloured(count: int, rng: Generator, slope: float) -> Noise:
    """Noise whose power falls with frequency to the power `slope` (0 white, 1 pink, 2 brown)."""
    fast = next_fast_len(count, real=True)
    spectrum = rfft(rng.standard_normal(fast).astype(np.float32))
    frequency = np.fft.rfftfreq(fast, 1 / RATE).astype(np.float32)
    return _level(irfft(spectrum / np.maximum(frequency, 30) ** (slope / 2), fast)[:count])


def _tone(phase: NDArray[np.float64], rng: Generator, harmonics: int, decay: float) -> NDArray[np.float64]:
    # A table of one period read by phase: as exact as summing sines here, and many times faster.
    table = np.zeros(4096)
    turn = np.arange(4096) * (2 * np.pi / 4096)
    for order in range(1, harmonics + 1):
        table += order**-decay * rng.uniform(0.4, 1.2) * np.sin(order * turn + rng.uniform(0, 6.28))
    return table[((phase / (2 * np.pi)) % 1 * 4096).astype(np.int32)]


def engine(count: int, rng: Generator) -> Noise:
    """A diesel at some speed, wandering, with broadband hiss and a whine or two."""
    time = np.arange(count) / RATE
    wander = np.cumsum(rng.normal(0, rng.choice([0.005, 0.03]), 8))
    speed = rng.uniform(22, 90) * (1 + np.interp(time, np.linspace(0, time[-1], 8), wander))
    phase = 2 * np.pi * np.cumsum(speed) / RATE * rng.choice([0.5, 1, 0.25])
    tone = _tone(phase, rng, int(rng.integers(10, 40)), rng.uniform(0.4, 1.3))
    tone *= 1 + 0.2 * np.sin(2 * np.pi * rng.uniform(0.2, 3) * time)
    hiss = coloured(count, rng, rng.uniform(0.2, 1.8)) * (1 + 0.3 * np.sin(2 * np.pi * rng.uniform(0.1, 1) * time))
    sound = _level(tone) * rng.uniform(0.3, 1) + hiss * rng.uniform(0.3, 1)
    for _ in range(rng.integers(0, 3)):
        sound = sound + rng.uniform(0, 0.3) * np.sin(2 * np.pi * rng.uniform(300, 2800) * time)
    if rng.random() < 0.3:
        sound = np.tanh(sound * rng.uniform(0.5, 2))
    return _level(sound)


def pump_under_load(count: int, rng: Generator) -> Noise:
    """Engine raced by the governor, the pump's whine, water roaring in a gated valve, now and then cavitation."""
    time = np.arange(count) / RATE
    steps = np.interp(time, np.sort(rng.uniform(0, time[-1], 5)), rng.uniform(0.85, 1.2, 5))
    speed = rng.uniform(20, 40) * steps
    phase = 2 * np.pi * np.cumsum(speed) / RATE
    low = _tone(phase, rng, int(rng.integers(20, 50)), rng.uniform(0.3, 0.9))
    whine = _tone(phase * rng.uniform(6, 24), rng, 4, 0.8)
    edges = [rng.uniform(200, 900), rng.uniform(2000, 6500)]
    roar = signal.sosfilt(signal.butter(1, edges, "band", fs=RATE, output="sos"), rng.standard_normal(count))
    sound = _level(low) + _level(whine) * rng.uniform(0.1, 0.5) + _level(roar) * rng.uniform(0.3, 1.1)
    if rng.random() < 0.25:
        clicks = (rng.random(count) < rng.uniform(20, 200) / RATE) * rng.exponential(1, count)
        rattle = signal.lfilter(*signal.butter(1, [800, 5000], "band", fs=RATE), clicks)
        sound = sound + _level(rattle) * rng.uniform(0.2, 0.8)
    return _level(sound)


def siren(count: int, rng: Generator) -> Noise:
    """Wail, yelp or two-tone, sometimes passing by."""
    time = np.arange(count) / RATE
    kind = rng.integers(3)
    rate = rng.uniform(0.15, 0.4) if kind == 0 else rng.uniform(2, 5)
    low, high = rng.uniform(400, 700), rng.uniform(1000, 1700)
    if kind < 2:
        pitch = low + (high - low) * (0.5 - 0.5 * np.cos(2 * np.pi * rate * time + rng.uniform(0, 6)))
    else:
        pitch = np.where((time * rng.uniform(0.8, 1.5)) % 1 < 0.5, low, high)
    sound = _tone(2 * np.pi * np.cumsum(pitch) / RATE, rng, 4, 1.0)
    if rng.random() < 0.4:
        sound = sound * np.interp(time, [0, time[-1] * rng.uniform(0.2, 0.8), time[-1]], rng.uniform(0.1, 1, 3))
    return _level(sound)


def air_horn(count: int, rng: Generator) -> Noise:
    """One to three blasts of two to four reeds."""
    time = np.arange(count) / RATE
    sound = sum(signal.sawtooth(2 * np.pi * pitch * time) for pitch in rng.uniform(150, 420, rng.integers(2, 5)))
    blasts = np.zeros(count)
    for _ in range(rng.integers(1, 4)):
        start = rng.integers(0, count)
        blasts[start : start + int(RATE * rng.uniform(0.3, 1.5))] = 1
    return _level(sound * blasts + coloured(count, rng, 1) * 0.05)


def wind(count: int, rng: Generator) -> Noise:
    """Low rumble in gusts across a bare microphone, flattened where it overloads."""
    time = np.arange(count) / RATE
    gusts = np.interp(time, np.linspace(0, time[-1], 12), rng.exponential(1, 12))
    rumble = coloured(count, rng, rng.uniform(1.6, 2.6)) * gusts
    return _level(np.tanh(_level(rumble) * rng.uniform(0.5, 2)) + 0.1 * coloured(count, rng, 0.5))


def crackle(count: int, rng: Generator) -> Noise:
    """Fire, chain saw or fan: impulses and a rough buzz over pink noise."""
    impulses = (rng.random(count) < rng.uniform(10, 80) / RATE) * rng.standard_normal(count) * 8
    sound = signal.lfilter([1], [1, -0.9], impulses) + coloured(count, rng, 1)
    if rng.random() < 0.5:
        phase = (
            2 * np.pi * np.cumsum(rng.uniform(60, 160) * (1 + 0.02 * rng.standard_normal(count).cumsum() / 300)) / RATE
        )
        sound = sound + np.tanh(3 * _tone(phase, rng, 25, 0.5)) * rng.uniform(0.3, 1.5)
    return _level(sound)


def breathing(count: int, rng: Generator) -> Noise:
    """Air through a mask's demand valve: hiss in, softer hiss out, twenty to forty times a minute."""
    time = np.arange(count) / RATE
    cycle = np.sin(2 * np.pi * rng.uniform(0.33, 0.7) * time + rng.uniform(0, 6))
    inward = signal.sosfilt(signal.butter(2, [900, 6000], "band", fs=RATE, output="sos"), rng.standard_normal(count))
    outward = signal.sosfilt(signal.butter(2, [200, 1500], "band", fs=RATE, output="sos"), rng.standard_normal(count))
    return _level(inward * np.clip(cycle, 0, 1) + 0.5 * outward * np.clip(-cycle, 0, 1) + 1e-3)


def babble(voices: list[NDArray[np.float32]], count: int, rng: Generator) -> Noise:
    """A crowd: several given voices at random moments and strengths."""
    sound = np.zeros(count, np.float32)
    for voice in voices:
        piece = voice[:count]
        start = int(rng.integers(0, max(1, count - len(piece) + 1)))
        sound[start : start + len(piece)] += piece / (piece.std() + 1e-6) * rng.uniform(0.4, 1)
    return _level(sound)


KINDS: dict[str, tuple[float, Callable[[int, Generator], Noise]]] = {
    "engine": (0.34, engine),
    "pump": (0.24, pump_under_load),
    "plain": (0.10, lambda count, rng: coloured(count, rng, rng.uniform(0, 2))),
    "siren": (0.09, siren),
    "horn": (0.05, air_horn),
    "wind": (0.06, wind),
    "crackle": (0.06, crackle),
    "breathing": (0.06, breathing),
}
"""Kinds of noise with their share in training."""
