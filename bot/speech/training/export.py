"""Turns trained weights into the ear's files: encoder and cached decoder step for ONNX Runtime, and the token table.

    python -m bot.speech.training.export WEIGHTS_FOLDER [--to FOLDER] [--merges 30000] [--precision int8]

WEIGHTS_FOLDER holds Whisper weights in the Hugging Face layout (model.safetensors, config.json, tokenizer.json). The
graphs are written operator by operator, so the export needs no torch: numpy, onnx and safetensors (the `training`
extra) are enough.

The token cut: the byte-pair vocabulary is ordered by how often a pair occurred, so its first `--merges` merges are a
smaller vocabulary of the same kind. Of them only spaces, letters and plain punctuation are kept; every merge that a
word of the trade needs is added; all 256 single bytes stay, so that any word can be spelled.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper
from safetensors.numpy import load_file

from bot.speech.ear.tokens import Tokens

OPSET = 20
DECODER_POSITIONS = 128
"""Tokens of the longest sentence."""
BLOCK = 128
"""Weights that share one scale."""
MIDDLE = 128
"""The byte that stands for 0."""
TABLE, TABLE_BLOCK = "tokens", 64
Array = NDArray[Any]
Shape = Sequence[int | str]


# ------------------------------------------------------------------------------------------------------ the token cut


def cut_table(tokenizer: Path, words: Iterable[str], merges: int) -> tuple[Tokens, list[int]]:
    """The cut table, and for each of its rows (control tokens included) the row of the full table it comes from."""
    model = json.loads(tokenizer.read_text(encoding="utf-8"))
    by_id = {row: token for token, row in model["model"]["vocab"].items()}
    full = Tokens(by_id[row] for row in range(256 + len(model["model"]["merges"])))
    plain = re.compile(r"Ġ?(?:[A-Z]?[a-z]+|[A-Z]|'[a-z]{1,2}|[.,?!]+)")
    kept = {row for row in range(256, 256 + merges) if plain.fullmatch(full.table[row])}
    kept |= set(range(256))
    for word in set(words):
        for spelling in (word, word.capitalize()):
            kept |= set(full.encode_word(spelling))
    kept = _with_parts(full, kept)
    rows = sorted(kept)
    control = {entry["content"]: entry["id"] for entry in model["added_tokens"]}
    rows_of_control = [control[f"<|{name}|>"] for name in ("endoftext", "startoftranscript", "notimestamps")]
    return Tokens(full.table[row] for row in rows), rows + rows_of_control


def _with_parts(full: Tokens, kept: set[int]) -> set[int]:
    """Add the tokens that lie on the way to a kept one: without them it could never be merged."""
    rank = {token: row for row, token in enumerate(full.table)}
    todo = [row for row in kept if row >= 256]
    while todo:
        token = full.table[todo.pop()]
        # The last merge joins the two pieces that the table below this token's rank makes of it.
        for part in _pieces_below(rank, token):
            if part not in kept:
                kept.add(part)
                todo.append(part)
    return kept


def _pieces_below(rank: dict[str, int], token: str) -> list[int]:
    pieces, limit = list(token), rank[token]
    while len(pieces) > 2:
        ranks = [rank.get(a + b, limit) for a, b in pairwise(pieces)]
        best = min(range(len(ranks)), key=ranks.__getitem__)
        if ranks[best] >= limit:
            break
        pieces[best : best + 2] = [pieces[best] + pieces[best + 1]]
    return [rank[piece] for piece in pieces]


# ----------------------------------------------------------------------------------------------------- graph building


@dataclass
class GraphBuilder:
    """Collects nodes and weights of one graph; every method returns the name of its output."""

    weights: dict[str, Array]
    precision: str

    def __post_init__(self) -> None:
        self.nodes: list[onnx.NodeProto] = []
        self.initializers: dict[str, onnx.TensorProto] = {}

    def op(self, kind: str, *inputs: str, domain: str = "", **attributes: Any) -> str:
        name = f"{kind}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, list(inputs), [name], domain=domain, **attributes))
        return name

    def const(self, value: Array | np.generic, name: str | None = None) -> str:
        array = np.asarray(value)
        if array.dtype == np.float64:
            array = array.astype(np.float32)
        name = name or f"const_{array.dtype}_{array.tolist()}"
        if name not in self.initializers:
            self.initializers[name] = numpy_helper.from_array(array.copy(order="C"), name)
        return name

    def half(self, value: Array, name: str) -> str:
        """A float weight stored in 16 bits and widened once at load."""
        return self.op("Cast", self.const(value.astype(np.float16), name), to=TensorProto.FLOAT)

    def linear(self, x: str, *names: str) -> str:
        """x·Wᵀ + b for one named layer, or several side by side (q, k and v in one product)."""
        matrix = np.concatenate([self.weights[f"{name}.weight"] for name in names]).astype(np.float32)
        size = len(self.weights[f"{names[0]}.weight"])
        bias = np.concatenate([self.weights.get(f"{name}.bias", np.zeros(size)) for name in names]).astype(np.float32)
        product = self.matmul(x, matrix, "+".join(names))
        return self.op("Add", product, self.const(bias, "+".join(names) + ".bias"))

    def matmul(self, x: str, matrix: Array, name: str, block: int = BLOCK) -> str:
        """x·Mᵀ with M [out, in] in the chosen precision."""
        if self.precision == "float":
            return self.op("MatMul", x, self.const(matrix.T.astype(np.float32), name))
        packed, scales = quantise(matrix, block)
        return self.op(
            "MatMulNBits", x, self.const(packed, f"{name}.int8"), self.const(scales, f"{name}.scale"),
            domain="com.microsoft", K=matrix.shape[1], N=matrix.shape[0], bits=8, block_size=block, accuracy_level=4,
        )  # fmt: skip

    def norm(self, x: str, name: str) -> str:
        scale, shift = (
            self.const(self.weights[f"{name}.{part}"].astype(np.float32), f"{name}.{part}")
            for part in ("weight", "bias")
        )
        return self.op("LayerNormalization", x, scale, shift, axis=-1, epsilon=1e-5)

    def heads(self, x: str, shape: Sequence[int], order: Sequence[int]) -> str:
        return self.op("Transpose", self.op("Reshape", x, self.const(np.array(shape))), perm=list(order))

    def feed_forward(self, x: str, layer: str) -> str:
        hidden = self.op("Gelu", self.linear(self.norm(x, f"{layer}.final_layer_norm"), f"{layer}.fc1"))
        return self.op("Add", x, self.linear(hidden, f"{layer}.fc2"))

    def save(self, path: Path, inputs: Sequence[onnx.ValueInfoProto], outputs: dict[str, tuple[str, Shape]]) -> None:
        """Check and write the graph; `outputs` maps public names to a node's name and the shape."""
        for public, (name, _) in outputs.items():
            self.nodes.append(helper.make_node("Identity", [name], [public]))
        infos = [
            helper.make_tensor_value_info(public, TensorProto.FLOAT, shape) for public, (_, shape) in outputs.items()
        ]
        graph = helper.make_graph(self.nodes, path.stem, inputs, infos, list(self.initializers.values()))
        opsets = [helper.make_opsetid("", OPSET), helper.make_opsetid("com.microsoft", 1)]
        model = helper.make_model(graph, opset_imports=opsets, ir_version=9, producer_name="crosslay")
        onnx.checker.check_model(model)
        onnx.save(model, path)


def quantise(matrix: Array, block: int) -> tuple[Array, Array]:
    """Weights [out, in] as bytes round `MIDDLE`, one scale for each block of a row -> (packed, scales)."""
    out, width = matrix.shape
    blocks = matrix.astype(np.float32).reshape(out, width // block, block)
    scales = np.maximum(np.abs(blocks).max(-1), 1e-8) / (MIDDLE - 0.5)
    packed = np.clip(np.round(blocks / scales[..., None]) + MIDDLE, 0, 2 * MIDDLE - 1).astype(np.uint8)
    return packed, scales.reshape(-1).astype(np.float32)


# ----------------------------------------------------------------------------------------------------- the two graphs


def export_encoder(
    weights: dict[str, Array], heads: int, layers: int, decoder_layers: int, path: Path, precision: str
) -> None:
    """mel [1, 80, frames] -> cross_k [layers, heads, width, T], cross_v [layers, heads, T, width], T = frames / 2."""
    g = GraphBuilder(weights, precision)
    d = weights["model.encoder.layer_norm.weight"].shape[0]
    width = d // heads
    x = "mel"
    for i, stride in ((1, 1), (2, 2)):
        name = f"model.encoder.conv{i}"
        kernel, bias = (g.half(weights[f"{name}.{part}"], f"{name}.{part}") for part in ("weight", "bias"))
        x = g.op("Gelu", g.op("Conv", x, kernel, bias, kernel_shape=[3], pads=[1, 1], strides=[stride]))
    x = g.op("Transpose", x, perm=[0, 2, 1])
    x = g.op("Add", x, _sinusoids(g, x, weights["model.encoder.embed_positions.weight"]))
    for i in range(layers):
        layer = f"model.encoder.layers.{i}"
        normed = g.norm(x, f"{layer}.self_attn_layer_norm")
        qkv = g.linear(normed, *(f"{layer}.self_attn.{part}_proj" for part in "qkv"))
        qkv = g.heads(qkv, [-1, 3, heads, width], [1, 2, 0, 3])
        q, k, v = (g.op("Gather", qkv, g.const(np.array(j)), axis=0) for j in range(3))
        x = g.op("Add", x, g.linear(_attend(g, q, k, v, width, [1, -1, d]), f"{layer}.self_attn.out_proj"))
        x = g.feed_forward(x, layer)
    x = g.norm(x, "model.encoder.layer_norm")
    keys, values = [], []
    for i in range(decoder_layers):
        both = g.linear(x, *(f"model.decoder.layers.{i}.encoder_attn.{part}_proj" for part in "kv"))
        both = g.heads(both, [-1, 2, heads, width], [1, 2, 0, 3])
        k, v = (g.op("Gather", both, g.const(np.array([j])), axis=0) for j in range(2))
        keys.append(g.op("Transpose", k, perm=[0, 1, 3, 2]))
        values.append(v)
    outputs: dict[str, tuple[str, Shape]] = {
        "cross_k": (g.op("Concat", *keys, axis=0), [decoder_layers, heads, width, "T"]),
        "cross_v": (g.op("Concat", *values, axis=0), [decoder_layers, heads, "T", width]),
    }
    g.save(path, [helper.make_tensor_value_info("mel", TensorProto.FLOAT, [1, 80, "frames"])], outputs)


def _sinusoids(g: GraphBuilder, x: str, trained: Array) -> str:
    """The encoder's positions [T, d] by formula: they aren't trained (checked), so they needn't be stored."""
    half = trained.shape[1] // 2
    rates = np.exp(-np.log(10_000) / (half - 1) * np.arange(half))
    angles = np.arange(len(trained))[:, None] * rates
    if np.abs(np.concatenate([np.sin(angles), np.cos(angles)], axis=1) - trained).max() > 2e-3:
        raise ValueError("the encoder's positions aren't the usual sinusoids")
    frames = g.op("Squeeze", g.op("Shape", x, start=1, end=2), g.const(np.array([0])))
    steps = g.op("Cast", g.op("Range", g.const(np.array(0)), frames, g.const(np.array(1))), to=TensorProto.FLOAT)
    turned = g.op("Mul", g.op("Unsqueeze", steps, g.const(np.array([1]))), g.const(rates, "rates"))
    return g.op("Concat", g.op("Sin", turned), g.op("Cos", turned), axis=1)


def _attend(
    g: GraphBuilder,
    q: str,
    k: str,
    v: str,
    width: int,
    shape: Sequence[int],
    mask: str | None = None,
    swap: bool = True,
) -> str:
    """softmax(q·kᵀ/√width + mask)·v for [.., heads, T, width], heads joined to `shape`."""
    keys = g.op("Transpose", k, perm=[0, 2, 1] if mask is None else [0, 1, 3, 2]) if swap else k
    scores = g.op("MatMul", g.op("Mul", q, g.const(np.float32(width**-0.5))), keys)
    if mask is not None:
        scores = g.op("Add", scores, mask)
    mixed = g.op("MatMul", g.op("Softmax", scores, axis=-1), v)
    return g.op(
        "Reshape", g.op("Transpose", mixed, perm=[1, 0, 2] if mask is None else [0, 2, 1, 3]), g.const(np.array(shape))
    )


def export_decoder(
    weights: dict[str, Array], heads: int, layers: int, rows: Sequence[int], path: Path, precision: str
) -> None:
    """One step of B sentences at once.

    ids [B, T] int64, parents [B] int64 (which row of the past each sentence goes on from), past [layers, 2, B', heads,
    P, width], cross_k, cross_v -> log_probs [B, T, tokens], present [layers, 2, B, heads, P + T, width].
    """
    g = GraphBuilder(weights, precision)
    table = weights["model.decoder.embed_tokens.weight"][list(rows)].astype(np.float32)
    d = table.shape[1]
    width = d // heads
    past = g.op("Gather", "past", "parents", axis=2)
    past_length = g.op("Shape", "past", start=4, end=5)
    new_length = g.op("Shape", "ids", start=1, end=2)
    total = g.op("Add", past_length, new_length)
    scalar = {name: g.op("Squeeze", name, g.const(np.array([0]))) for name in (past_length, total)}
    steps = g.op("Range", scalar[past_length], scalar[total], g.const(np.array(1)))
    columns = g.op("Range", g.const(np.array(0)), scalar[total], g.const(np.array(1)))
    seen = g.op(
        "LessOrEqual",
        g.op("Unsqueeze", columns, g.const(np.array([0]))),
        g.op("Unsqueeze", steps, g.const(np.array([1]))),
    )
    mask = g.op("Where", seen, g.const(np.float32(0)), g.const(np.float32(-1e9)))
    positions = g.half(weights["model.decoder.embed_positions.weight"][:DECODER_POSITIONS], "positions")
    x = g.op("Add", _embed(g, table), g.op("Gather", positions, steps, axis=0))
    present = []
    for i in range(layers):
        layer = f"model.decoder.layers.{i}"
        qkv = g.linear(
            g.norm(x, f"{layer}.self_attn_layer_norm"), *(f"{layer}.self_attn.{part}_proj" for part in "qkv")
        )
        qkv = g.heads(qkv, [0, -1, 3, heads, width], [2, 0, 3, 1, 4])
        q = g.op("Gather", qkv, g.const(np.array(0)), axis=0)
        kv = g.op("Gather", qkv, g.const(np.array([1, 2])), axis=0)
        kv = g.op("Concat", g.op("Gather", past, g.const(np.array(i)), axis=0), kv, axis=3)
        present.append(g.op("Unsqueeze", kv, g.const(np.array([0]))))
        k, v = (g.op("Gather", kv, g.const(np.array(j)), axis=0) for j in range(2))
        x = g.op("Add", x, g.linear(_attend(g, q, k, v, width, [0, -1, d], mask), f"{layer}.self_attn.out_proj"))
        x = g.op("Add", x, _cross(g, x, layer, i, heads, width))
        x = g.feed_forward(x, layer)
    x = g.norm(x, "model.decoder.layer_norm")
    log_probs = g.op("LogSoftmax", g.matmul(x, table, TABLE, TABLE_BLOCK), axis=-1)
    outputs: dict[str, tuple[str, Shape]] = {
        "log_probs": (log_probs, ["sentences", "new", len(rows)]),
        "present": (g.op("Concat", *present, axis=0), [layers, 2, "sentences", heads, "total", width]),
    }
    inputs = [
        helper.make_tensor_value_info("ids", TensorProto.INT64, ["sentences", "new"]),
        helper.make_tensor_value_info("parents", TensorProto.INT64, ["sentences"]),
        helper.make_tensor_value_info("past", TensorProto.FLOAT, [layers, 2, "before", heads, "past", width]),
        helper.make_tensor_value_info("cross_k", TensorProto.FLOAT, [layers, heads, width, "T"]),
        helper.make_tensor_value_info("cross_v", TensorProto.FLOAT, [layers, heads, "T", width]),
    ]
    g.save(path, inputs, outputs)


def _cross(g: GraphBuilder, x: str, layer: str, i: int, heads: int, width: int) -> str:
    """Attention to the sound: the same keys and values for all sentences, so their rows are put side by side."""
    d = heads * width
    q = g.linear(g.norm(x, f"{layer}.encoder_attn_layer_norm"), f"{layer}.encoder_attn.q_proj")
    q = g.heads(q, [-1, heads, width], [1, 0, 2])
    k, v = (g.op("Gather", name, g.const(np.array(i)), axis=0) for name in ("cross_k", "cross_v"))
    mixed = _attend(g, q, k, v, width, [-1, d], swap=False)
    shape = g.op("Concat", g.op("Shape", x, start=0, end=2), g.const(np.array([d])), axis=0)
    return g.linear(g.op("Reshape", mixed, shape), f"{layer}.encoder_attn.out_proj")


def _embed(g: GraphBuilder, table: Array) -> str:
    """Rows of the token table for `ids`, unpacked from the output layer's weights: the table is stored once."""
    if g.precision == "float":
        return g.op("Gather", g.const(table, "embed"), "ids", axis=0)
    packed, scales = quantise(table, TABLE_BLOCK)
    blocks = table.shape[1] // TABLE_BLOCK
    name = f"{TABLE}.int8"
    g.const(packed, name)
    g.const(scales, f"{TABLE}.scale")
    row = g.op("Gather", name, "ids", axis=0)
    row = g.op("Sub", g.op("Cast", row, to=TensorProto.FLOAT), g.const(np.float32(MIDDLE)))
    grid = g.op("Reshape", f"{TABLE}.scale", g.const(np.array([-1, blocks, 1])))
    row = g.op("Mul", row, g.op("Gather", grid, "ids", axis=0))
    return g.op("Reshape", row, g.const(np.array([0, 0, table.shape[1]])))


# ------------------------------------------------------------------------------------------------------------ command


def export(source: Path, target: Path, words: Iterable[str], merges: int, precision: str) -> dict[str, int]:
    """Write encoder.onnx, decoder.onnx and tokens.txt to `target` -> their sizes in bytes."""
    weights = load_file(source / "model.safetensors")
    config = json.loads((source / "config.json").read_text(encoding="utf-8"))
    tokens, rows = cut_table(source / "tokenizer.json", words, merges)
    target.mkdir(parents=True, exist_ok=True)
    heads, decoder_layers = config["encoder_attention_heads"], config["decoder_layers"]
    export_encoder(weights, heads, config["encoder_layers"], decoder_layers, target / "encoder.onnx", precision)
    export_decoder(weights, heads, decoder_layers, rows, target / "decoder.onnx", precision)
    tokens.save(target / "tokens.txt")
    return {name: (target / name).stat().st_size for name in ("encoder.onnx", "decoder.onnx", "tokens.txt")}


def main() -> None:
    """The command line."""
    parser = argparse.ArgumentParser(description="Write the ear's files from trained weights.")
    parser.add_argument("weights", type=Path)
    parser.add_argument("--to", type=Path, default=Path(__file__).parents[1] / "ear" / "data")
    parser.add_argument("--merges", type=int, default=30_000, help="how many of the most frequent merges to keep")
    parser.add_argument("--precision", choices=("int8", "float"), default="int8")
    options = parser.parse_args()
    from grammar.phrases import every_word

    sizes = export(options.weights, options.to, every_word(), options.merges, options.precision)
    for name, size in sizes.items():
        print(f"{options.to / name}: {size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
