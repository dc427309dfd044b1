"""Endless batches for training: clips augmented afresh in worker processes, grouped by length."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from bot.speech.training.augment import Augmenter
from bot.speech.training.clips import RATE, Clips
from bot.speech.training.model import END, open_tokenizer, padded, target

IGNORED = -100
"""Label of a position that doesn't count."""
SHARE_OF_NOISE_ALONE = 0.03
KIND_WEIGHTS = {"english": 1.3}
"""How often a kind is drawn beside the others; a clip of espeak-ng is drawn less (see `_chances`)."""
Batch = tuple[torch.Tensor, torch.Tensor, torch.Tensor]


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """What batches to make: shards of clips, the folder with the token table, clips a batch."""

    shards: tuple[Path, ...]
    tokenizer: Path
    size: int
    seed: int
    espeak_weight: float = 0.35


class AugmentedBatches(IterableDataset[Batch]):
    """Yields (int16 samples [b, n], input tokens [b, t], labels [b, t]), each worker its own random stream."""

    def __init__(self, plan: BatchPlan) -> None:
        self.plan = plan

    def _chances(self, clips: Clips) -> np.ndarray[Any, Any]:
        weights = np.array(
            [
                KIND_WEIGHTS.get(clip.kind, 1.0) * (self.plan.espeak_weight if clip.voice.startswith("espeak") else 1)
                for clip in clips.clips
            ]
        )
        return np.asarray(weights / weights.sum())

    def __iter__(self) -> Iterator[Batch]:
        worker = get_worker_info()
        torch.set_num_threads(1)
        rng = np.random.default_rng([self.plan.seed, worker.id if worker else 0])
        clips = Clips(self.plan.shards)
        tokenizer = open_tokenizer(self.plan.tokenizer)
        chances = self._chances(clips)
        augmenter = Augmenter(crowd=clips)
        size, parts = self.plan.size, 1  # the first batch comes alone, so that training starts at once
        while True:
            drawn = rng.choice(len(clips), size * parts, p=chances)
            pool = []
            for index in drawn:
                if rng.random() < SHARE_OF_NOISE_ALONE:
                    pool.append((augmenter.augmented(None, rng), target(tokenizer, "")))
                else:
                    clip = clips.clips[index]
                    pool.append((augmenter.augmented(clips.samples(index), rng), target(tokenizer, clip.text)))
            pool.sort(key=lambda pair: len(pair[0]))
            for part in rng.permutation(parts):
                yield _batch(pool[part * size : (part + 1) * size], augmenter.longest, rng)
            parts = 4


def _batch(pairs: Sequence[tuple[Any, list[int]]], longest: int, rng: np.random.Generator) -> Batch:
    length = -(-max(2 * RATE, *(len(samples) for samples, _ in pairs)) // (RATE // 2)) * (RATE // 2)
    if rng.random() < 0.15:  # now and then a window longer than the speech, as at run time
        length += RATE // 2 * int(rng.integers(1, 5))
    samples = padded([(samples * 32767).astype(np.int16) for samples, _ in pairs], min(length, longest))
    width = max(len(tokens) for _, tokens in pairs)
    inputs = np.full((len(pairs), width), END)
    labels = np.full((len(pairs), width - 1), IGNORED)
    for row, (_, tokens) in enumerate(pairs):
        inputs[row, : len(tokens)] = tokens
        labels[row, 1 : len(tokens) - 1] = tokens[2:]
    return torch.tensor(samples), torch.tensor(inputs[:, :-1]), torch.tensor(labels)


def batches(plan: BatchPlan, workers: int) -> Iterator[Batch]:
    """Endless batches from `workers` processes (0: in this one)."""
    loader = DataLoader(
        AugmentedBatches(plan), batch_size=None, num_workers=workers, prefetch_factor=4 if workers else None
    )
    return iter(loader)
