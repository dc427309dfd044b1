"""Where somebody speaks, and how loud the noise is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.speech.activity import find_speech
from tests.bot.speech.conftest import pump_noise, with_noise

Samples = NDArray[np.float32]
RATE = 16_000


def test_speech_is_found_with_its_edges(say: Callable[..., Samples]) -> None:
    samples = say("two lines two hundred feet")
    found = find_speech(samples)
    assert len(found.stretches) == 1
    assert 0 <= found.stretches[0].start < RATE // 2
    assert found.stretches[0].end > len(samples) - 0.6 * RATE
    assert 1 < found.speech_s < len(samples) / RATE


@pytest.mark.parametrize("seconds", [0.0, 0.01, 1.0, 4.0])
def test_silence_and_pump_noise_are_no_speech(seconds: float) -> None:
    count = int(seconds * RATE)
    assert find_speech(np.zeros(count, np.float32)).stretches == ()
    if count > 1:
        assert find_speech(0.1 * pump_noise(count)).stretches == ()


@pytest.mark.parametrize("snr_db", [5, 10, 20])
def test_the_noise_is_measured(say: Callable[..., Samples], snr_db: float) -> None:
    found = find_speech(with_noise(say("pump pressure for crosslay one second floor"), snr_db))
    assert found.snr_db == pytest.approx(snr_db, abs=2)


def test_a_long_pause_makes_two_stretches(say: Callable[..., Samples]) -> None:
    quiet = np.zeros(2 * RATE, np.float32)
    assert len(find_speech(np.concatenate([say("water on the fire"), quiet, say("say again")])).stretches) == 2
