"""Packs rows into arrays of word pieces, small enough to be carried to a GPU: `python -m tests.judge pack`.

The encoder's word table is cut to the pieces that occur, those of at most three letters, and the first of the table
(the marks and commonest words), so that any other word can still be spelled. The encoder's own weights go along in
8 bits a row.
"""

from __future__ import annotations

import gzip
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from grammar.judge.pieces import Pieces, plain, words
from tests.judge.data import Row

LONGEST = 110
"""Pieces of a message that are read, and of a proposal."""
FIRST = 7000
"""Rows of the encoder's own table that are kept in any case."""
SELDOM = 4
"""A head seen fewer times is none."""


def rows(paths: list[Path]) -> Iterator[Row]:
    """The rows of these files."""
    decoder = msgspec.json.Decoder(Row)
    for path in paths:
        with gzip.open(path, "rb") as lines:
            yield from map(decoder.decode, lines)


def cut_table(full: Pieces, texts: Iterator[str]) -> list[str]:
    """The pieces that are kept, in their old order."""
    used = {row for text in texts for word in words(text) for row in full.rows(word.text)}
    keep = {
        row
        for row, piece in enumerate(full.table)
        if row in used
        or piece.startswith("[U")
        or piece in ("[CLS]", "[SEP]", "[PAD]")
        or _short(piece)
        or 999 <= row < FIRST
    }
    return [piece for row, piece in enumerate(full.table) if row in keep and not piece.startswith("[unused")]


def _short(piece: str) -> bool:
    bare = piece.removeprefix("##")
    return len(bare) <= 3 and bare.isascii()


def pack(sources: list[Path], encoder: Path, to: Path) -> dict[str, Any]:
    """Writes pack.npz and start.npz; returns what they hold."""
    vocabulary = json.loads((encoder / "tokenizer.json").read_text(encoding="utf-8"))["model"]["vocab"]
    full = Pieces(sorted(vocabulary, key=vocabulary.__getitem__))
    seen: Counter[str] = Counter()
    heads: Counter[tuple[str, str]] = Counter()
    tags: Counter[str] = Counter()
    count = 0
    for row in rows(sources):
        count += 1
        for part in (*(w.text for w in row.words), *(p for p, _ in row.pairs)):
            seen.update(w.text for w in words(plain(part)))
        heads.update(row.heads or ())
        tags.update(w.tag for w in row.words if w.tag)
    pieces = Pieces(cut_table(full, iter(seen)))
    heads_kept = [head for head, n in sorted(heads.items()) if n >= SELDOM]
    tags_kept = [tag for tag, n in sorted(tags.items()) if n >= SELDOM]
    cache = {word: pieces.rows(word) for word in seen}
    to.mkdir(parents=True, exist_ok=True)
    arrays = _arrays(
        rows(sources), cache, {h: k for k, h in enumerate(heads_kept)}, {t: k for k, t in enumerate(tags_kept)}
    )
    np.savez_compressed(to / "pack.npz", **arrays)
    listed = {"pieces": pieces.table, "heads": heads_kept, "tags": tags_kept}
    (to / "lists.json").write_text(json.dumps(listed), encoding="utf-8")
    _start(encoder, [vocabulary[piece] for piece in pieces.table], to / "start.npz")
    return {
        "rows": count,
        "pairs": len(arrays["label"]),
        "pieces": len(pieces.table),
        "heads": len(heads_kept),
        "tags": len(tags_kept),
    }


def _arrays(
    found: Iterator[Row], cache: dict[str, list[int]], heads: dict[Any, int], tags: dict[str, int]
) -> dict[str, Any]:
    messages, message_tags, kinds, head_rows, head_ids, pairs, labels = [], [], [], [], [], [], []
    proposals: dict[str, int] = {}
    proposal_rows: list[list[int]] = []
    for number, row in enumerate(found):
        ids, marks = [], []
        for word in row.words:
            cut = [p for w in words(plain(word.text)) for p in cache[w.text]]
            ids += cut
            marks += [tags.get(word.tag, -1)] * len(cut)
        messages.append(ids[:LONGEST])
        message_tags.append(marks[:LONGEST])
        kinds.append(2 if row.nothing else 0 if row.heads is None else 1)
        for one in row.heads or ():
            if one in heads:
                head_rows.append(number)
                head_ids.append(heads[one])
        for words_of, right in row.pairs:
            if words_of not in proposals:
                proposals[words_of] = len(proposals)
                proposal_rows.append([p for w in words(plain(words_of)) for p in cache[w.text]][:LONGEST])
            pairs.append((number, proposals[words_of]))
            labels.append(right)
    flat, ends = _flat(messages)
    flat_tags, _ = _flat(message_tags)
    proposal_flat, proposal_ends = _flat(proposal_rows)
    return {
        "message": flat.astype(np.uint16),
        "message_end": ends,
        "tag": flat_tags.astype(np.int8),
        "kind": np.array(kinds, np.int8),
        "head_row": np.array(head_rows, np.int32),
        "head": np.array(head_ids, np.int16),
        "proposal": proposal_flat.astype(np.uint16),
        "proposal_end": proposal_ends,
        "pair": np.array(pairs, np.int32),
        "label": np.array(labels, np.int8),
    }


def _flat(lists: list[list[int]]) -> tuple[Any, Any]:
    return np.array([x for one in lists for x in one]), np.cumsum([len(one) for one in lists]).astype(np.int32)


def _start(encoder: Path, kept: list[int], to: Path) -> None:
    """The encoder's weights in 8 bits a row, its word table cut."""
    from safetensors.numpy import load_file

    out: dict[str, Any] = {}
    for name, weight in load_file(encoder / "model.safetensors").items():
        if "pooler" in name or name.endswith("position_ids"):
            continue
        if name.endswith("word_embeddings.weight"):
            weight = weight[kept]
        if name.endswith("position_embeddings.weight"):
            weight = weight[: 2 * LONGEST + 4]
        if weight.ndim == 2:
            scale = np.abs(weight).max(1, keepdims=True) / 127
            out[name], out[name + ":scale"] = np.round(weight / scale).astype(np.int8), scale.astype(np.float32)
        else:
            out[name] = weight
    np.savez_compressed(to, **out)
