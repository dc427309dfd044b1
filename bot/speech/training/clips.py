"""Shards of spoken clips on disk: `NAME.i16` holds 16 kHz mono int16 samples end to end, `NAME.jsonl` a line a clip."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

RATE = 16_000
"""Samples a second, everywhere in training."""


@dataclass(frozen=True, slots=True)
class Clip:
    """One spoken sentence: its text, kind (sentences.Sentence) and voice, and where its samples lie in the shard."""

    text: str
    kind: str
    voice: str
    start: int
    length: int


class ShardWriter:
    """Appends clips to a shard; usable as a context manager."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._samples = path.with_suffix(".i16").open("wb")
        self._lines = path.with_suffix(".jsonl").open("w", encoding="utf-8")
        self._start = 0
        self.count = 0

    def add(self, samples: NDArray[np.int16], text: str, kind: str, voice: str) -> None:
        """Append one clip of int16 samples at 16 kHz."""
        self._samples.write(samples.tobytes())
        clip = Clip(text, kind, voice, self._start, len(samples))
        self._lines.write(json.dumps(asdict(clip)) + "\n")
        self._start += len(samples)
        self.count += 1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._samples.close()
        self._lines.close()


class Clips:
    """The clips of one or more shards; samples are read from disk as they are asked for."""

    def __init__(self, shards: Sequence[Path]) -> None:
        self.clips: list[Clip] = []
        self._shard_of: list[int] = []
        self._samples: list[NDArray[np.int16]] = []
        for index, path in enumerate(shards):
            self._samples.append(np.memmap(path.with_suffix(".i16"), np.int16, mode="r"))
            for line in path.with_suffix(".jsonl").read_text(encoding="utf-8").splitlines():
                self.clips.append(Clip(**json.loads(line)))
                self._shard_of.append(index)

    def __len__(self) -> int:
        return len(self.clips)

    def samples(self, index: int) -> NDArray[np.float32]:
        """The samples of one clip, −1…1."""
        clip = self.clips[index]
        raw = self._samples[self._shard_of[index]][clip.start : clip.start + clip.length]
        return raw.astype(np.float32) / np.float32(32_768)
