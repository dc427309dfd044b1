"""Log-mel features of speech, as the ear's network was trained on them.

16 kHz, 25 ms Hann window every 10 ms, 80 mel bands 0–8 kHz with Slaney's scale and area normalisation, base-10
logarithm, floor 8 below the loudest point, scaled to about −1…1 (Radford et al. 2022, "Robust Speech Recognition via
Large-Scale Weak Supervision", section 2.2).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE, FFT, HOP, BANDS = 16_000, 400, 160, 80
WINDOW_STEP = SAMPLE_RATE // 2
"""Windows are padded to a multiple of half a second, as in training."""
SHORTEST = 2 * SAMPLE_RATE


def log_mel(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Features [1, 80, frames] of mono samples in −1…1, padded with silence to a whole window of at least 2 s."""
    length = max(SHORTEST, -(-len(samples) // WINDOW_STEP) * WINDOW_STEP)
    padded = np.pad(samples, (0, length - len(samples)))
    padded = np.pad(padded, FFT // 2, mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, FFT)[::HOP][:-1]
    power = np.abs(np.fft.rfft(frames * _hann(), axis=1)).astype(np.float32) ** 2
    bands = np.log10(np.maximum(mel_filters() @ power.T, 1e-10))
    bands = np.maximum(bands, bands.max() - 8.0)
    features: NDArray[np.float32] = ((bands + 4.0) / 4.0).astype(np.float32)[None]
    return features


@cache
def _hann() -> NDArray[np.float32]:
    window: NDArray[np.float32] = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(FFT) / FFT)).astype(np.float32)
    return window


@cache
def mel_filters() -> NDArray[np.float32]:
    """Triangular filters [80, 201], linear below 1 kHz and logarithmic above (Slaney 1998, "Auditory Toolbox")."""
    edges = _mel_to_hz(np.linspace(0.0, _hz_to_mel(SAMPLE_RATE / 2), BANDS + 2))
    bins = np.fft.rfftfreq(FFT, 1 / SAMPLE_RATE)
    rising = (bins - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    falling = (edges[2:, None] - bins) / (edges[2:] - edges[1:-1])[:, None]
    triangles = np.maximum(0.0, np.minimum(rising, falling))
    filters: NDArray[np.float32] = (triangles * (2.0 / (edges[2:] - edges[:-2]))[:, None]).astype(np.float32)
    return filters


_LINEAR_HZ_PER_MEL, _BREAK_HZ, _LOG_STEP = 200 / 3, 1000.0, np.log(6.4) / 27.0


def _hz_to_mel(hz: float) -> float:
    if hz < _BREAK_HZ:
        return hz / _LINEAR_HZ_PER_MEL
    return float(_BREAK_HZ / _LINEAR_HZ_PER_MEL + np.log(hz / _BREAK_HZ) / _LOG_STEP)


def _mel_to_hz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    break_mel = _BREAK_HZ / _LINEAR_HZ_PER_MEL
    return np.where(mel < break_mel, mel * _LINEAR_HZ_PER_MEL, _BREAK_HZ * np.exp(_LOG_STEP * (mel - break_mel)))
