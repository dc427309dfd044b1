"""Turn a clean clip into one from the fireground: speed, shouting, mask, room, noise, radio, clipping, codec.

`augmented` is the whole chain with random strengths, made afresh each time a clip is used, so that no clip is ever
heard twice the same.
"""

import io
from dataclasses import dataclass

import av
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy import signal
from scipy.fft import irfft, next_fast_len, rfft

from bot.speech.training import noises
from bot.speech.training.clips import RATE, Clips

Samples = NDArray[np.float32]


def speech_level(samples: Samples) -> float:
    """Root mean square of the 20 ms frames within 20 dB of the loudest: the level of the speech itself."""
    frames = samples[: len(samples) // 320 * 320].reshape(-1, 320)
    if not len(frames):
        return 1e-6
    power = (frames**2).mean(1)
    return float(np.sqrt(power[power >= power.max() * 0.01].mean() + 1e-12))


def mixed(speech: Samples, noise: Samples, snr_db: float) -> Samples:
    """Speech with unit-level noise added at a speech-to-noise ratio in dB."""
    return np.asarray(speech + noise * (speech_level(speech) / 10 ** (snr_db / 20)), np.float32)


def resped(samples: Samples, factor: float) -> Samples:
    """Played faster by `factor`: tempo, pitch and formants move together, as in another speaker."""
    return np.asarray(signal.resample_poly(samples, 100, round(100 * factor)), np.float32)


def shaped(samples: Samples, gains_db: NDArray[np.float64]) -> Samples:
    """Equalised with gains at 50, 200, 500, 1,200, 2,500, 4,500 and 8,000 Hz."""
    fast = next_fast_len(len(samples), real=True)
    frequency = np.fft.rfftfreq(fast, 1 / RATE)
    corners = np.log(np.array([50, 200, 500, 1200, 2500, 4500, 8050]) + 50)
    gain = 10 ** (np.interp(np.log(frequency + 50), corners, gains_db) / 20)
    return np.asarray(irfft(rfft(samples, fast) * gain, fast)[: len(samples)], np.float32)


def shouted(samples: Samples, rng: Generator) -> Samples:
    """A raised voice: energy moves up to 1–4 kHz, loudness is evened out, vowels are a little higher."""
    strength = rng.uniform(0.4, 1.2)
    louder = shaped(samples, np.array([-8, -6, 0, 5, 6, 2, -3]) * strength)
    louder = louder / (np.abs(louder).max() + 1e-9)
    return resped(
        (np.sign(louder) * np.abs(louder) ** rng.uniform(0.55, 0.9)).astype(np.float32), rng.uniform(1.0, 1.1)
    )


def masked(samples: Samples, rng: Generator) -> Samples:
    """Through a face piece: dull above 1–2.5 kHz, a resonance of the cup, breathing."""
    low = signal.sosfilt(signal.butter(2, rng.uniform(1000, 2600), fs=RATE, output="sos"), samples)
    cup = signal.sosfilt(signal.butter(1, [400, 900], "band", fs=RATE, output="sos"), samples)
    muffled = (low + rng.uniform(0.2, 1) * cup + rng.uniform(0.02, 0.2) * samples).astype(np.float32)
    if rng.random() < 0.6:
        muffled = mixed(muffled, noises.breathing(len(muffled), rng), rng.uniform(8, 28))
    return muffled


def in_room(samples: Samples, rng: Generator) -> Samples:
    """With the echo of a small room, garage or street."""
    length = int(RATE * rng.uniform(0.05, 0.5))
    echo = rng.standard_normal(length) * np.exp(-np.arange(length) / length * 6.9) * rng.uniform(0.02, 0.2)
    echo[0] = 1
    return np.asarray(signal.oaconvolve(samples, echo)[: len(samples) + RATE // 5], np.float32)


def by_radio(samples: Samples, rng: Generator) -> Samples:
    """Through a hand-held radio: narrow, driven into clipping, with squelch bursts before and after."""
    edges = [rng.uniform(200, 400), rng.uniform(2600, 3600)]
    narrow = signal.sosfilt(signal.butter(4, edges, "band", fs=RATE, output="sos"), samples)
    narrow = np.tanh(narrow / (np.abs(narrow).max() + 1e-9) * rng.uniform(1, 5))
    parts = [narrow]
    if rng.random() < 0.7:
        burst = rng.standard_normal(int(RATE * rng.uniform(0.03, 0.2))) * rng.uniform(0.1, 0.6)
        parts.insert(int(rng.integers(0, 2)), burst)
    if rng.random() < 0.2:
        beep = np.sin(2 * np.pi * rng.uniform(700, 1800) * np.arange(int(RATE * rng.uniform(0.05, 0.2))) / RATE)
        parts.insert(0, beep * rng.uniform(0.1, 0.5))
    return np.concatenate(parts).astype(np.float32)


def opus(samples: Samples, bit_rate: int) -> Samples:
    """Encoded as a voice message (Ogg/Opus) and decoded again."""
    store = io.BytesIO()
    with av.open(store, "w", format="ogg") as target:
        stream = target.add_stream("libopus", rate=RATE)
        stream.layout = "mono"
        stream.bit_rate = bit_rate
        stream.options = {"compression_level": "4"}  # three times quicker, the same to the ear
        frame = av.AudioFrame.from_ndarray(
            (np.clip(samples, -1, 1) * 32767).astype(np.int16)[None], format="s16", layout="mono"
        )
        frame.sample_rate = RATE
        target.mux(stream.encode(frame))
        target.mux(stream.encode(None))
    store.seek(0)
    resampler = av.AudioResampler("s16", "mono", RATE)
    parts = []
    with av.open(store, "r") as source:
        for decoded in source.decode(audio=0):
            parts += [piece.to_ndarray()[0] for piece in resampler.resample(decoded)]
        parts += [piece.to_ndarray()[0] for piece in resampler.resample(None)]
    return np.concatenate(parts).astype(np.float32) / np.float32(32_768)


@dataclass(slots=True)
class Augmenter:
    """The random chain. `crowd`: clips for voices in the background."""

    crowd: Clips | None = None
    longest: int = 8 * RATE
    """Samples at most (what is longer is cut)."""
    easiest_db: float = 25
    hardest_db: float = -5

    def noise(self, count: int, rng: Generator) -> Samples:
        """Unit-level noise of one kind, often with an engine under it."""
        kinds = list(noises.KINDS)
        shares = np.array([noises.KINDS[kind][0] for kind in kinds])
        if self.crowd is not None and rng.random() < 0.11:
            drawn = [self.crowd.samples(int(rng.integers(len(self.crowd)))) for _ in range(rng.integers(3, 8))]
            kind, sound = "crowd", noises.babble(drawn, count, rng)
        else:
            kind = str(rng.choice(kinds, p=shares / shares.sum()))
            sound = noises.KINDS[kind][1](count, rng)
        if kind not in {"engine", "pump", "plain"} and rng.random() < 0.6:
            under = noises.engine if rng.random() < 0.5 else noises.pump_under_load
            sound = sound * 0.6 + under(count, rng) * rng.uniform(0.3, 1)
        if rng.random() < 0.3:
            sound = signal.lfilter(*signal.butter(2, rng.uniform(800, 5000), fs=RATE), sound)
        return np.asarray(sound / (sound.std() + 1e-9), np.float32)

    def _voice(self, samples: Samples, rng: Generator) -> Samples:
        factor = rng.uniform(0.86, 1.16)
        if abs(factor - 1) > 0.02:
            samples = resped(samples, factor)
        if rng.random() < 0.18:
            samples = shouted(samples, rng)
        if rng.random() < 0.5:
            samples = shaped(samples, rng.normal(0, 4, 7))
        if rng.random() < 0.12:
            samples = masked(samples, rng)
        if rng.random() < 0.4:
            samples = in_room(samples, rng)
        before, after = rng.uniform(0.05, 0.6), rng.uniform(0.1, 0.7)
        return np.pad(samples, (int(before * RATE), int(after * RATE)))[: self.longest]

    def augmented(self, samples: Samples | None, rng: Generator) -> Samples:
        """A clip as it might be heard; None makes noise alone. Peak between −24 and 0 dB of full scale."""
        if samples is None:
            sound = self.noise(int(RATE * rng.uniform(1, 6)), rng)
        else:
            sound = self._voice(samples, rng)
            if rng.random() < 0.85:
                hardest, easiest = (self.hardest_db, self.easiest_db) if rng.random() < 0.7 else (0, 12)
                sound = mixed(sound, self.noise(len(sound), rng), rng.uniform(hardest, easiest))
            else:
                sound = sound + rng.normal(0, 10 ** rng.uniform(-4, -2.5), len(sound)).astype(np.float32)
        if rng.random() < 0.12:
            sound = by_radio(sound, rng)
        elif rng.random() < 0.15:
            edges = [rng.uniform(60, 400), rng.uniform(2800, 7000)]
            sound = signal.sosfilt(signal.butter(3, edges, "band", fs=RATE, output="sos"), sound)
        sound = sound / (np.abs(sound).max() + 1e-9)
        if rng.random() < 0.1:
            sound = np.clip(sound * rng.uniform(1.2, 4), -1, 1)
        sound = (sound * 10 ** rng.uniform(-1.2, 0)).astype(np.float32)
        if rng.random() < 0.15:
            sound = opus(sound, int(rng.choice([8000, 12000, 16000, 24000, 32000])))
        return sound[: self.longest].astype(np.float32)
