"""The ear's network in ONNX Runtime: the sound once, then cached steps over many sentences at a time."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import onnxruntime as ort
from numpy.typing import NDArray

from bot.errors import EarError
from bot.speech.ear.features import log_mel
from bot.speech.ear.tokens import Tokens

Floats = NDArray[np.float32]
DATA = Path(__file__).with_name("data")
LONGEST_SENTENCE = 120
"""Tokens; the decoder has 128 positions, the prompt takes two."""


@dataclass(frozen=True, slots=True)
class Sound:
    """What the decoder attends to: keys [layers, heads, width, T] and values [layers, heads, T, width]."""

    keys: Floats
    values: Floats


@dataclass(frozen=True, slots=True)
class Step:
    """Log-probabilities of the next token [sentences, tokens] and the past that goes with them."""

    log_probs: Floats
    past: Floats


class Network:
    """Encoder and decoder; holds no state between calls, so threads may share it."""

    def __init__(self, folder: Path = DATA, threads: int | None = None) -> None:
        options = ort.SessionOptions()
        options.intra_op_num_threads = threads or min(2, os.cpu_count() or 1)
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        # Threads that spin between two short steps would burn the pump's second core for nothing.
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
        options.enable_cpu_mem_arena = False
        try:
            self.tokens = Tokens.load(folder / "tokens.txt")
            self._encoder = ort.InferenceSession(folder / "encoder.onnx", options, providers=["CPUExecutionProvider"])
            self._decoder = ort.InferenceSession(folder / "decoder.onnx", options, providers=["CPUExecutionProvider"])
        except Exception as fault:  # onnxruntime's own errors share no base class
            raise EarError from fault
        layers, _, _, heads, _, width = self._decoder.get_inputs()[2].shape
        self._empty = np.zeros((layers, 2, 1, heads, 0, width), np.float32)

    def encode(self, samples: Floats) -> Sound:
        """Listen to mono samples (16 kHz, up to 15 s)."""
        keys, values = self._encoder.run(None, {"mel": log_mel(samples)})
        return Sound(keys, values)

    def start(self, sound: Sound) -> Step:
        """The first step: what the sentence may begin with; log_probs [1, tokens]."""
        return self._run(sound, [[self.tokens.start, self.tokens.no_timestamps]], [0], self._empty)

    def go_on(self, sound: Sound, ids: list[int], parents: list[int], past: Floats) -> Step:
        """One token more for each sentence; `parents[i]` is the row of `past` that sentence i goes on from."""
        return self._run(sound, [[i] for i in ids], parents, past)

    def _run(self, sound: Sound, ids: list[list[int]], parents: list[int], past: Floats) -> Step:
        feeds: dict[str, Any] = {
            "ids": np.array(ids, np.int64),
            "parents": np.array(parents, np.int64),
            "past": past,
            "cross_k": sound.keys,
            "cross_v": sound.values,
        }
        log_probs, present = self._decoder.run(None, feeds)
        return Step(log_probs[:, -1], present)
