"""The network in ONNX Runtime: a message's heads and tags, and how likely a message means a proposal.

onnxruntime is asked for only when a network is loaded, so that the grammar works without it. One thread and one
sequence at a time: the same input gives the same answer, whatever was read before.
"""

from __future__ import annotations

import json
import math
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from grammar.judge.pieces import Pieces, plain, words

DATA = Path(__file__).with_name("data")
LONGEST = 110
"""Pieces of a message that are read, and of a proposal."""


class Tagged(NamedTuple):
    """What the tagger makes of a message."""

    heads: tuple[float, ...]
    """The probability of each of `Network.heads`."""
    words: tuple[tuple[int, int, str, float], ...]
    """Each word of the plain text: (start, end, tag, probability)."""


class Network:
    """The weights; holds no state between calls."""

    def __init__(self, folder: Path = DATA) -> None:
        """Raises what onnxruntime raises where the files don't hold, ImportError where it isn't there."""
        import onnxruntime as ort

        options = ort.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._session = ort.InferenceSession(folder / "judge.onnx", options, providers=["CPUExecutionProvider"])
        self._pieces = Pieces.load(folder / "pieces.txt")
        listed = json.loads((folder / "heads.json").read_text(encoding="utf-8"))
        self.heads: tuple[tuple[str, str], ...] = tuple((head, stance) for head, stance in listed["heads"])
        self.tags: tuple[str, ...] = tuple(listed["tags"])
        self.right = lru_cache(maxsize=256)(self._right)
        self.tagged = lru_cache(maxsize=64)(self._tagged)

    def _rows(self, text: str) -> list[int]:
        return [row for word in words(plain(text)) for row in self._pieces.rows(word.text)][:LONGEST]

    def _run(self, outputs: list[str], ids: list[int], kinds: list[int]) -> Any:
        import numpy as np

        return self._session.run(outputs, {"ids": np.array(ids, np.int64), "kinds": np.array(kinds, np.int64)})

    def _right(self, message: str, proposal: str) -> float:
        """How surely the message means the proposal: the log of the odds."""
        m, p, cut = self._rows(message), self._rows(proposal), self._pieces
        ids = [cut.begin, *m, cut.end, *p, cut.end]
        (out,) = self._run(["right"], ids, [0] * (len(m) + 2) + [1] * (len(p) + 1))
        return round(float(out[0, 0]), 4)

    def _tagged(self, message: str) -> Tagged:
        """The heads and the tag of every word."""
        listed = words(plain(message))
        rows = [self._pieces.rows(word.text) for word in listed]
        ids = [self._pieces.begin, *[row for cut in rows for row in cut][:LONGEST], self._pieces.end]
        heads, tags = self._run(["heads", "tags"], ids, [0] * len(ids))
        out, at = [], 1
        for word, cut in zip(listed, rows, strict=True):
            if at >= len(ids) - 1:
                break
            row = [float(x) for x in tags[at]]
            best = max(range(len(row)), key=row.__getitem__)
            total = sum(math.exp(x - row[best]) for x in row)
            out.append((word.start, word.end, self.tags[best], round(1 / total, 4)))
            at += len(cut)
        return Tagged(tuple(round(1 / (1 + math.exp(-min(max(float(x), -30), 30))), 4) for x in heads[0]), tuple(out))
