"""Mix weights: tuned runs with one another and with the start, so that plain English isn't forgotten."""

from collections.abc import Sequence
from pathlib import Path

import torch

from bot.speech.training.model import load_weights, save_weights


def averaged(folders: Sequence[Path], shares: Sequence[float]) -> dict[str, torch.Tensor]:
    """The weighted mean of weights folders, full precision.

    Raises:
        ValueError: the shares don't add up to 1, or there isn't one for each folder.
    """
    if len(folders) != len(shares) or abs(sum(shares) - 1) > 1e-6:
        raise ValueError(f"one share for each of {len(folders)} folders, adding up to 1; got {list(shares)}")
    mixed: dict[str, torch.Tensor] = {}
    for folder, share in zip(folders, shares, strict=True):
        for name, tensor in load_weights(folder).items():
            mixed[name] = mixed.get(name, torch.zeros(())) + tensor.float() * share
    return mixed


def average(folders: Sequence[Path], shares: Sequence[float], out: Path) -> None:
    """Write the weighted mean as a weights folder (configuration and token table of the first)."""
    save_weights(averaged(folders, shares), out, folders[0])
