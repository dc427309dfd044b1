"""Fine-tune the recogniser on shards of clips, with fresh noise for each; minutes on a GPU, longer on CPUs.

Trained: everything but the token table and the encoder's positions. The decoder's input tokens are spoiled at random,
so that it listens instead of reciting the training sentences. The result is a running mean of the weights.
"""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import torch
from torch.nn import functional

from bot.speech.training.batches import IGNORED, BatchPlan, batches
from bot.speech.training.model import EarModel, save_weights

FROZEN = ("model.decoder.embed_tokens.weight", "model.encoder.embed_positions.weight", "proj_out.weight")


@dataclass(frozen=True, slots=True)
class Recipe:
    """Settings of one training run."""

    minutes: float
    rate: float = 2e-4
    warm_up_steps: int = 100
    mean_decay: float = 0.998
    label_smoothing: float = 0.05
    spoiled_tokens: float = 0.08
    weight_decay: float = 0.01
    report_every: int = 50


def _spoiled(tokens: torch.Tensor, share: float) -> torch.Tensor:
    """The input tokens with some replaced by tokens of other places in the batch."""
    if random.random() < 0.35:
        return tokens
    mask = torch.rand(tokens.shape, device=tokens.device) < share
    mask[:, :2] = False
    others = tokens.flatten()[torch.randint(tokens.numel(), tokens.shape, device=tokens.device)]
    return torch.where(mask, others, tokens)


def _masked(mel: torch.Tensor) -> torch.Tensor:
    """Two bands of frequency blanked, half of the time."""
    if random.random() < 0.5:
        for _ in range(2):
            band, width = random.randrange(80), random.randrange(12)
            mel[:, band : band + width] = mel.mean()
    return mel


def _loss(ear: EarModel, batch: Any, device: str, recipe: Recipe) -> torch.Tensor:
    samples, tokens, labels = (part.to(device, non_blocking=True) for part in batch)
    with torch.no_grad():
        mel = _masked(ear.log_mel(samples.float() / 32768))
    with torch.autocast(device, dtype=torch.bfloat16):
        states = ear.decode(_spoiled(tokens, recipe.spoiled_tokens), ear.encode(mel))
        counted = labels != IGNORED
        scores = ear.whisper.proj_out(states[counted])
    return functional.cross_entropy(scores.float(), labels[counted], label_smoothing=recipe.label_smoothing)


def train(
    start: Path,
    plan: BatchPlan,
    out: Path,
    recipe: Recipe,
    workers: int,
    say: Callable[[str], None] = print,
) -> None:
    """Train from the weights folder `start` and write the weights folder `out`."""
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(plan.seed)
    random.seed(plan.seed)
    ear = EarModel(start).to(device).train()
    for name, parameter in ear.whisper.named_parameters():
        parameter.requires_grad_(name not in FROZEN)
    trained = [parameter for parameter in ear.whisper.parameters() if parameter.requires_grad]
    mean = [parameter.detach().clone() for parameter in trained]
    optimiser = torch.optim.AdamW(trained, lr=recipe.rate, betas=(0.9, 0.98), weight_decay=recipe.weight_decay)
    began, step, running = time.monotonic(), 0, torch.zeros((), device=device)
    for batch in batches(plan, workers):
        if step == 0:
            began = time.monotonic()  # the workers' start doesn't count
        done = (time.monotonic() - began) / 60 / recipe.minutes
        if done >= 1:
            break
        factor = min(1, (step + 1) / recipe.warm_up_steps) * (1 - 0.97 * done)
        for group in optimiser.param_groups:
            group["lr"] = recipe.rate * factor
        loss = _loss(ear, batch, device, recipe)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(trained, 1.0)
        optimiser.step()
        step += 1
        with torch.no_grad():
            decay = min(recipe.mean_decay, step / (step + 20))
            torch._foreach_lerp_(mean, trained, 1 - decay)
            running = loss.detach() if step == 1 else running * 0.98 + loss.detach() * 0.02
        if step % recipe.report_every == 0:
            say(f"{done:4.0%} step {step} loss {running.item():.3f}")
    with torch.no_grad():
        for parameter, value in zip(trained, mean, strict=True):
            parameter.copy_(value)
    save_weights(ear.weights(), out, start)
    say(f"{step} steps of {plan.size} clips in {(time.monotonic() - began) / 60:.1f} min")
