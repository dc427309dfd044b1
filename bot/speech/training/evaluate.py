"""Free decoding on validation clips, clean and with noise: how many words and whole sentences are right.

This chooses checkpoints and averaging shares. What the program's own ear reaches with its grammar and gate is measured
by `python -m tests.bench.speech`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from rapidfuzz.distance import Levenshtein

from bot.speech.training.augment import Augmenter, mixed
from bot.speech.training.clips import RATE, Clips
from bot.speech.training.model import EarModel, open_tokenizer, padded

LEVELS: tuple[float | None, ...] = (None, 20, 10, 5, 0)
"""Speech-to-noise ratios in dB; None is clean."""


@dataclass(frozen=True, slots=True)
class Score:
    """Shares of one kind of sentences at one level."""

    kind: str
    level: float | None
    clips: int
    sentences_right: float
    word_errors: float


def words(text: str) -> list[str]:
    """Lower-case words without signs, for comparison."""
    return re.sub(r"[^a-z0-9' ]", " ", text.lower()).split()


@dataclass(frozen=True, slots=True)
class Validation:
    """Clips with noise made once, so that several weights are compared on the very same sound."""

    rows: list[tuple[str, float | None, str, np.ndarray[tuple[int], np.dtype[np.float32]]]]

    @classmethod
    def of(cls, shards: Sequence[Path], clips_a_level: int, seed: int = 7) -> "Validation":
        """Draw clips and mix noise for every level."""
        clips = Clips(shards)
        rng = np.random.default_rng(seed)
        augmenter = Augmenter(crowd=clips)
        rows = []
        for level in LEVELS:
            for index in rng.permutation(len(clips))[:clips_a_level]:
                sound = np.pad(clips.samples(int(index)), (RATE // 4, RATE // 4))
                if level is not None:
                    sound = mixed(sound, augmenter.noise(len(sound), rng), level)
                clip = clips.clips[int(index)]
                kind = "english" if clip.kind == "english" else "trade"
                rows.append((kind, level, clip.text, (sound / (np.abs(sound).max() + 1e-9)).astype(np.float32)))
        rows.sort(key=lambda row: len(row[3]))
        return cls(rows)

    def scores(self, ear: EarModel, tokenizer_folder: Path, size: int = 64) -> list[Score]:
        """Transcribe everything and count."""
        device = next(ear.parameters()).device
        tokenizer = open_tokenizer(tokenizer_folder)
        found: dict[tuple[str, float | None], list[tuple[bool, int, int]]] = {}
        for start in range(0, len(self.rows), size):
            part = self.rows[start : start + size]
            length = -(-max(len(row[3]) for row in part) // (RATE // 2)) * (RATE // 2)
            samples = torch.tensor(padded([row[3] for row in part], max(length, 2 * RATE)), device=device)
            for (kind, level, text, _), ids in zip(part, ear.transcribe(samples), strict=True):
                truth, heard = words(text), words(tokenizer.decode(ids))
                errors = Levenshtein.distance(truth, heard)
                found.setdefault((kind, level), []).append((errors == 0, errors, len(truth)))
        return [
            Score(
                kind,
                level,
                len(rows),
                sum(right for right, _, _ in rows) / len(rows),
                sum(errors for _, errors, _ in rows) / max(1, sum(count for _, _, count in rows)),
            )
            for (kind, level), rows in sorted(
                found.items(), key=lambda item: (item[0][0], -99 if item[0][1] is None else -item[0][1])
            )
        ]


def _name(level: float | None) -> str:
    return "clean" if level is None else f"{level:g} dB"


def report(name: str, scores: list[Score]) -> str:
    """One line a kind: sentences right and word errors by level."""
    lines = []
    for kind in sorted({score.kind for score in scores}):
        cells = [
            f"{_name(score.level)} {score.sentences_right:.1%}/{score.word_errors:.1%}"
            for score in scores
            if score.kind == kind
        ]
        lines.append(f"{name:24} {kind:8} " + "  ".join(cells))
    return "\n".join(lines)
