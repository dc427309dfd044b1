"""Turns trained weights into the reader's one ONNX file of 8 bits: `python -m tests.judge export` (needs no torch).

The graph is written operator by operator for one sequence: pieces and their kinds (0 message, 1 proposal) in; the
verifier's logit, the heads' and every piece's tags out. Word rows are kept in 8 bits with a scale each; onnxruntime's
own tool puts the products into 8 bits, a scale a column, seven bits used, so that every processor adds up alike.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

OPSET = 20
WIDTH, LAYERS, HEADS = 384, 6, 12


class Graph:
    """Nodes and weights as they are written."""

    def __init__(self, weights: dict[str, Any]) -> None:
        self.weights = {name: w.astype(np.float32) for name, w in weights.items()}
        self.nodes: list[Any] = []
        self.stored: dict[str, Any] = {}

    def put(self, name: str, value: Any) -> str:
        self.stored[name] = value
        return name

    def do(self, kind: str, *inputs: str, to: str = "", **more: Any) -> str:
        out = to or f"{kind.lower()}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, list(inputs), [out], name=f"n_{out}", **more))
        return out

    def linear(self, x: str, name: str, to: str = "") -> str:
        y = self.do("MatMul", x, self.put(f"{name}.w", self.weights[f"{name}.weight"].T.copy()))
        return self.do("Add", y, self.put(f"{name}.b", self.weights[f"{name}.bias"]), to=to)

    def norm(self, x: str, name: str) -> str:
        scale, bias = (self.put(f"{name}.{end}", self.weights[f"{name}.{end}"]) for end in ("weight", "bias"))
        return self.do("LayerNormalization", x, scale, bias, axis=-1, epsilon=1e-12)

    def rows(self, name: str, ids: str) -> str:
        """Rows of a table in 8 bits."""
        table = self.weights[f"{name}.weight"]
        scale = np.maximum(np.abs(table).max(1, keepdims=True), 1e-8) / 127
        low = self.do("Gather", self.put(f"{name}.q", np.round(table / scale).astype(np.int8)), ids)
        wide = self._cast(low)
        return self.do("Mul", wide, self.do("Gather", self.put(f"{name}.s", scale.astype(np.float32)), ids))

    def _cast(self, x: str) -> str:
        out = f"cast_{len(self.nodes)}"
        self.nodes.append(helper.make_node("Cast", [x], [out], name=f"n_{out}", to=TensorProto.FLOAT))
        return out


def graph_of(weights: dict[str, Any]) -> Any:
    """The whole graph in 32 bits (the word table in 8)."""
    g = Graph(weights)
    zero, one = g.put("zero", np.array(0, np.int64)), g.put("one", np.array(1, np.int64))
    length = g.do("Squeeze", g.do("Shape", "ids"))
    places = g.do("Range", zero, length, one)
    x = g.do("Add", g.do("Add", g.rows("word", "ids"), g.rows("position", places)), g.rows("kind", "kinds"))
    x = g.norm(x, "norm")
    split = g.put("split", np.array([-1, 3, HEADS, WIDTH // HEADS], np.int64))
    join = g.put("join", np.array([-1, WIDTH], np.int64))
    scale = g.put("scale", np.array((WIDTH // HEADS) ** -0.5, np.float32))
    picks = [g.put(f"pick{k}", np.array(k, np.int64)) for k in range(3)]
    for k in range(LAYERS):
        name = f"layers.{k}"
        qkv = g.do("Transpose", g.do("Reshape", g.linear(x, f"{name}.qkv"), split), perm=[1, 2, 0, 3])
        q, key, v = (g.do("Gather", qkv, pick, axis=0) for pick in picks)
        near = g.do("Mul", g.do("MatMul", q, g.do("Transpose", key, perm=[0, 2, 1])), scale)
        seen = g.do("MatMul", g.do("Softmax", near, axis=-1), v)
        seen = g.do("Reshape", g.do("Transpose", seen, perm=[1, 0, 2]), join)
        x = g.norm(g.do("Add", x, g.linear(seen, f"{name}.out")), f"{name}.norm1")
        inner = g.do("Gelu", g.linear(x, f"{name}.up"))
        x = g.norm(g.do("Add", x, g.linear(inner, f"{name}.down")), f"{name}.norm2")
    first = g.do("Gather", x, g.put("first", np.array([0], np.int64)), axis=0)
    g.linear(g.do("Gelu", g.linear(first, "verify1")), "verify2", to="right")
    g.linear(g.do("Gelu", g.linear(first, "head1")), "head2", to="heads")
    g.linear(x, "tag", to="tags")
    inputs = [helper.make_tensor_value_info(n, TensorProto.INT64, ["n"]) for n in ("ids", "kinds")]
    shapes = {"right": [1, 1], "heads": [1, len(g.weights["head2.bias"])], "tags": ["n", len(g.weights["tag.bias"])]}
    outputs = [helper.make_tensor_value_info(name, TensorProto.FLOAT, shape) for name, shape in shapes.items()]
    stored = [numpy_helper.from_array(value, name) for name, value in g.stored.items()]
    graph = helper.make_graph(g.nodes, "judge", inputs, outputs, stored)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", OPSET)])
    model.ir_version = 9
    onnx.checker.check_model(model)
    return model


def export(weights: Path, lists: Path, to: Path) -> int:
    """Writes judge.onnx, pieces.txt and heads.json; returns the bytes of all."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    to.mkdir(parents=True, exist_ok=True)
    stored = {
        name: part[name]
        for path in sorted(weights.glob("weights*.npz"))
        for part in [np.load(path)]
        for name in part.files
    }
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole.onnx"
        onnx.save(graph_of(stored), whole)
        quantize_dynamic(
            whole,
            to / "judge.onnx",
            per_channel=True,
            reduce_range=True,
            weight_type=QuantType.QInt8,
            op_types_to_quantize=["MatMul"],
            extra_options={"MatMulConstBOnly": True},
        )
    listed = json.loads(lists.read_text(encoding="utf-8"))
    (to / "pieces.txt").write_text("\n".join(listed["pieces"]) + "\n", encoding="utf-8")
    (to / "heads.json").write_text(
        json.dumps({"heads": listed["heads"], "tags": listed["tags"]}, indent=0) + "\n", encoding="utf-8"
    )
    return sum(path.stat().st_size for path in to.iterdir())
