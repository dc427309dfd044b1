"""Trains the encoder for its two uses on packed rows: `python train.py FOLDER --out FOLDER` (torch and numpy alone).

FOLDER holds pack.npz, lists.json and start.npz. The tagger reads a message and gives heads and a tag for every piece;
the verifier reads a message and a proposal and gives one probability. Both share the encoder and are trained together.
`--minutes` bounds the time: the steps are planned from the first hundred. On two cores `--batch 64` takes hours.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.nn import functional as F  # noqa: N812

WIDTH, LAYERS, HEADS, INNER = 384, 6, 12, 1536
PARTS = 3
"""Files of weights, so that each is small enough to be handed back."""


class Layer(nn.Module):
    """One layer of the encoder, its normalisation behind each half."""

    def __init__(self) -> None:
        super().__init__()
        self.qkv, self.out = nn.Linear(WIDTH, 3 * WIDTH), nn.Linear(WIDTH, WIDTH)
        self.up, self.down = nn.Linear(WIDTH, INNER), nn.Linear(INNER, WIDTH)
        self.norm1, self.norm2 = nn.LayerNorm(WIDTH, 1e-12), nn.LayerNorm(WIDTH, 1e-12)
        self.drop = nn.Dropout(0.1)

    def forward(self, x: torch.Tensor, mask: torch.Tensor) -> torch.Tensor:
        batch, length, _ = x.shape
        q, k, v = self.qkv(x).view(batch, length, 3, HEADS, WIDTH // HEADS).permute(2, 0, 3, 1, 4)
        seen = F.scaled_dot_product_attention(q, k, v, attn_mask=mask)
        x = self.norm1(x + self.drop(self.out(seen.transpose(1, 2).reshape(batch, length, WIDTH))))
        return self.norm2(x + self.drop(self.down(F.gelu(self.up(x)))))


class Judge(nn.Module):
    """The encoder with the heads of both uses."""

    def __init__(self, pieces: int, positions: int, heads: int, tags: int) -> None:
        super().__init__()
        self.word, self.position, self.kind = (
            nn.Embedding(pieces, WIDTH),
            nn.Embedding(positions, WIDTH),
            nn.Embedding(2, WIDTH),
        )
        self.norm, self.drop = nn.LayerNorm(WIDTH, 1e-12), nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.verify1, self.verify2 = nn.Linear(WIDTH, WIDTH), nn.Linear(WIDTH, 1)
        self.head1, self.head2, self.tag = nn.Linear(WIDTH, WIDTH), nn.Linear(WIDTH, heads), nn.Linear(WIDTH, tags)

    def encode(self, ids: torch.Tensor, kinds: torch.Tensor, there: torch.Tensor) -> torch.Tensor:
        places = torch.arange(ids.shape[1], device=ids.device)
        x = self.drop(self.norm(self.word(ids) + self.position(places) + self.kind(kinds)))
        mask = there[:, None, None, :]
        for layer in self.layers:
            x = layer(x, mask)
        return x

    def verify(self, ids: torch.Tensor, kinds: torch.Tensor, there: torch.Tensor) -> torch.Tensor:
        first = self.encode(ids, kinds, there)[:, 0]
        return self.verify2(self.drop(F.gelu(self.verify1(first))))[:, 0].float()

    def tags(self, ids: torch.Tensor, there: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        x = self.encode(ids, torch.zeros_like(ids), there)
        return self.head2(F.gelu(self.head1(x[:, 0]))).float(), self.tag(x).float()


def start(model: Judge, path: Path) -> None:
    """Puts the pretrained weights in."""
    stored = np.load(path)

    def get(name: str) -> torch.Tensor:
        weight = stored[name].astype(np.float32)
        return torch.tensor(weight * stored[name + ":scale"] if name + ":scale" in stored else weight)

    state = {
        "word.weight": get("embeddings.word_embeddings.weight"),
        "position.weight": get("embeddings.position_embeddings.weight"),
        "kind.weight": get("embeddings.token_type_embeddings.weight"),
        "norm.weight": get("embeddings.LayerNorm.weight"),
        "norm.bias": get("embeddings.LayerNorm.bias"),
    }
    parts = {
        "out": "attention.output.dense",
        "norm1": "attention.output.LayerNorm",
        "up": "intermediate.dense",
        "down": "output.dense",
        "norm2": "output.LayerNorm",
    }
    for k in range(LAYERS):
        old = f"encoder.layer.{k}."
        for end in ("weight", "bias"):
            state[f"layers.{k}.qkv.{end}"] = torch.cat(
                [get(f"{old}attention.self.{n}.{end}") for n in ("query", "key", "value")]
            )
            for new, name in parts.items():
                state[f"layers.{k}.{new}.{end}"] = get(f"{old}{name}.{end}")
    missing, unexpected = model.load_state_dict(state, strict=False)
    assert not unexpected
    assert all(name.split(".")[0] in ("verify1", "verify2", "head1", "head2", "tag") for name in missing), missing


class Packed:
    """The packed rows; gives batches."""

    def __init__(self, folder: Path, device: torch.device) -> None:
        stored = np.load(folder / "pack.npz")
        self.lists = json.loads((folder / "lists.json").read_text())
        self.data = {name: stored[name] for name in stored.files}
        self.device = device
        row = {piece: k for k, piece in enumerate(self.lists["pieces"])}
        self.pad, self.begin, self.end = row["[PAD]"], row["[CLS]"], row["[SEP]"]
        self.reported = np.array([stance in ("reported", "ordered") for _, stance in self.lists["heads"]])
        self.by_row: dict[int, list[int]] = {}
        for at, head in zip(self.data["head_row"], self.data["head"], strict=True):
            self.by_row.setdefault(int(at), []).append(int(head))

    def _cut(self, name: str, k: int, what: str = "") -> np.ndarray:
        ends = self.data[f"{name}_end"]
        return self.data[what or name][ends[k - 1] if k else 0 : ends[k]]

    def _padded(self, lists: list[np.ndarray], fill: int) -> torch.Tensor:
        longest = max(map(len, lists))
        out = np.full((len(lists), -(-longest // 8) * 8), fill, np.int64)
        for k, one in enumerate(lists):
            out[k, : len(one)] = one
        return torch.from_numpy(out)

    def pairs(self, which: np.ndarray) -> tuple[torch.Tensor, ...]:
        lists, kinds = [], []
        for message, proposal in self.data["pair"][which]:
            m, p = self._cut("message", message), self._cut("proposal", proposal)
            lists.append(np.concatenate(([self.begin], m, [self.end], p, [self.end])))
            kinds.append(np.array([0] * (len(m) + 2) + [1] * (len(p) + 1)))
        ids = self._padded(lists, self.pad)
        return self._on(
            ids, self._padded(kinds, 0), ids != self.pad, torch.from_numpy(self.data["label"][which].astype(np.float32))
        )

    def messages(self, which: np.ndarray) -> tuple[torch.Tensor, ...]:
        lists, tags = [], []
        heads = np.zeros((len(which), len(self.reported)), np.float32)
        known = np.zeros_like(heads)
        for k, row in enumerate(which):
            lists.append(np.concatenate(([self.begin], self._cut("message", row), [self.end])))
            tags.append(np.concatenate(([-1], self._cut("message", row, "tag"), [-1])))
            kind = self.data["kind"][row]
            known[k] = self.reported if kind == 2 else kind
            heads[k, self.by_row.get(int(row), [])] = kind == 1
        ids = self._padded(lists, self.pad)
        return self._on(ids, ids != self.pad, self._padded(tags, -1), torch.from_numpy(heads), torch.from_numpy(known))

    def _on(self, *tensors: torch.Tensor) -> tuple[torch.Tensor, ...]:
        return tuple(t.to(self.device, non_blocking=True) for t in tensors)

    def sizes(self) -> np.ndarray:
        """Pieces of each pair."""
        message = np.diff(self.data["message_end"], prepend=0)
        proposal = np.diff(self.data["proposal_end"], prepend=0)
        return message[self.data["pair"][:, 0]] + proposal[self.data["pair"][:, 1]]


def batches(sizes: np.ndarray, batch: int, rng: np.random.Generator) -> list[np.ndarray]:
    """Pairs of like length together, in chance order."""
    order = np.argsort(sizes + rng.random(len(sizes)) * 6, kind="stable")
    cut = [order[k : k + batch] for k in range(0, len(order), batch)]
    return [cut[k] for k in rng.permutation(len(cut))]


def feeder(jobs: list, make, workers: int):  # type: ignore[no-untyped-def]
    """Makes batches ahead, in order."""
    from collections import deque
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(workers) as pool:
        ahead: deque = deque()
        for job in jobs:
            ahead.append(pool.submit(make, job))
            if len(ahead) > 3 * workers:
                yield ahead.popleft().result()
        while ahead:
            yield ahead.popleft().result()


def _losses(model: Judge, pair: tuple[torch.Tensor, ...], message: tuple[torch.Tensor, ...]) -> list[torch.Tensor]:
    """What the verifier, the heads and the tags lose on a batch."""
    device = pair[0].device.type
    with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
        right = model.verify(*pair[:3])
        heads, tags = model.tags(message[0], message[1])
    of_heads = F.binary_cross_entropy_with_logits(heads, message[3], reduction="none") * message[4]
    return [
        F.binary_cross_entropy_with_logits(right, pair[3]),
        of_heads.sum() / message[4].sum().clamp(min=1) * 40,
        F.cross_entropy(tags.flatten(0, 1), message[2].flatten(), ignore_index=-1),
    ]


def fit(model: Judge, packed: Packed, train: np.ndarray, options: argparse.Namespace, rng: np.random.Generator) -> None:
    """Trains the model on these pairs and their messages."""
    sizes, rows = packed.sizes()[train], np.unique(packed.data["pair"][train, 0])
    planned = steps = max(1, round(math.ceil(len(train) / options.batch) * options.epochs))
    optimiser = torch.optim.AdamW(model.parameters(), lr=options.rate, weight_decay=0.01)
    print(f"{len(train)} pairs, {len(rows)} messages, {steps} steps of {options.batch} on {packed.device}", flush=True)

    def jobs():  # type: ignore[no-untyped-def]
        while True:
            order = rng.permutation(rows)
            for number, which in enumerate(batches(sizes, options.batch, rng)):
                third = options.batch // 3
                at = number * third % max(1, len(order) - third)
                yield train[which], order[at : at + third]

    def make(job):  # type: ignore[no-untyped-def]
        return packed.pairs(job[0]), packed.messages(job[1])

    begun = time.monotonic()
    lost = np.zeros(3)
    for step, (pair, message) in enumerate(feeder(jobs(), make, options.workers)):
        if step >= steps:
            break
        if step == 150:
            each = (time.monotonic() - begun) / 150
            steps = min(planned, int(options.minutes * 60 / each))
            print(f"{each * 1000:.0f} ms a step: {steps} of {planned} steps", flush=True)
        rate = options.rate * min(1, (step + 1) / (0.05 * steps + 1)) * max(0.01, 1 - step / steps)
        for group in optimiser.param_groups:
            group["lr"] = rate
        losses = _losses(model, pair, message)
        loss = losses[0] + 0.3 * losses[1] + 0.2 * torch.nan_to_num(losses[2])
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        if step % 20 == 0:
            lost = 0.9 * lost + 0.1 * np.array([one.item() for one in losses])
        if step % 500 == 0 and step:
            print(step, f"{time.monotonic() - begun:.0f} s", (lost).round(4), flush=True)


def tell(model: Judge, packed: Packed, check: np.ndarray, batch: int) -> None:
    """Prints how the verifier does on the pairs that were set aside."""
    model.eval()
    with torch.no_grad():
        scores, labels = [], []
        for k in range(0, len(check), batch):
            pair = packed.pairs(check[k : k + batch])
            scores.append(model.verify(*pair[:3]).cpu().numpy())
            labels.append(pair[3].cpu().numpy())
    score, label = np.concatenate(scores), np.concatenate(labels)
    share, high = ((score > 0) == label).mean(), score > 4
    print(f"aside: {share:.4f} right of {len(label)}; of score > 4: {label[high].sum()} of {high.sum()}")


def write(model: Judge, out: Path) -> None:
    """Writes the weights in parts of like size."""
    weights = {name: weight.cpu().numpy().astype(np.float32) for name, weight in model.state_dict().items()}
    parts: list[dict[str, np.ndarray]] = [{} for _ in range(PARTS)]
    for name, w in sorted(weights.items(), key=lambda entry: -entry[1].size):
        small = w if w.ndim == 1 else w.astype(np.float16)
        min(parts, key=lambda part: sum(x.nbytes for x in part.values()))[name] = small
    out.mkdir(parents=True, exist_ok=True)
    for k, part in enumerate(parts):
        np.savez(out / f"weights{k}.npz", **part)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True, help="a folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=384)
    parser.add_argument("--epochs", type=float, default=6)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--rate", type=float, default=1.5e-4)
    parser.add_argument("--first", type=int, default=0, help="only so many rows (sets packed behind them are left out)")
    parser.add_argument("--workers", type=int, default=4)
    options = parser.parse_args()
    torch.manual_seed(options.seed)
    rng = np.random.default_rng(options.seed)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    packed = Packed(options.folder, device)
    pairs = packed.data["pair"]
    model = Judge(len(packed.lists["pieces"]), 224, len(packed.lists["heads"]), len(packed.lists["tags"]))
    start(model, options.folder / "start.npz")
    model.to(device).train()
    aside = (pairs[:, 0].astype(np.int64) * 2654435761 % 97) == 0
    used = pairs[:, 0] < (options.first or len(packed.data["kind"]))
    fit(model, packed, np.flatnonzero(~aside & used), options, rng)
    tell(model, packed, np.flatnonzero(aside & used), options.batch)
    write(model, options.out)


if __name__ == "__main__":
    main()
