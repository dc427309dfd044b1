"""The other way from `export`: a weights folder out of the ear's files, to train on from what is shipped.

The token table and the positions beyond the ear's longest sentence come from the original weights; training leaves them
as they are.
"""

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import numpy_helper
from safetensors.numpy import load_file, save_file

from bot.speech.training.export import BLOCK, MIDDLE, TABLE

Array = NDArray[Any]


def restored(ear: Path, original: dict[str, Array]) -> dict[str, Array]:
    """The original weights with everything that the ear's two graphs hold in its place."""
    weights = {name: value.astype(np.float32) for name, value in original.items()}
    for graph in ("encoder", "decoder"):
        held = {one.name: numpy_helper.to_array(one) for one in onnx.load(ear / f"{graph}.onnx").graph.initializer}
        for name, value in held.items():
            if name.endswith(".int8") and not name.startswith(TABLE):
                joined = name.removesuffix(".int8")
                _place(weights, joined.split("+"), "weight", _widened(value, held[f"{joined}.scale"]))
                _place(weights, joined.split("+"), "bias", held[f"{joined}.bias"])
            elif name == "positions":
                weights["model.decoder.embed_positions.weight"][: len(value)] = value
            elif name in weights and weights[name].shape == value.shape:
                weights[name] = value.astype(np.float32)
    return weights


def _widened(packed: Array, scales: Array) -> Array:
    """8-bit weights [out, blocks, block] -> float [out, in]."""
    scale = scales.reshape(len(packed), -1, 1)
    return ((packed.reshape(len(packed), -1, BLOCK).astype(np.float32) - MIDDLE) * scale).reshape(len(packed), -1)


def _place(weights: dict[str, Array], layers: list[str], part: str, joined: Array) -> None:
    """Layers that the graph works out side by side, apart again."""
    for layer, own in zip(layers, np.split(joined, len(layers)), strict=True):
        if f"{layer}.{part}" in weights:
            weights[f"{layer}.{part}"] = own


def restore(ear: Path, original: Path, out: Path) -> None:
    """Write the weights folder `out` from the ear's files and the weights folder `original`."""
    out.mkdir(parents=True, exist_ok=True)
    weights = restored(ear, load_file(original / "model.safetensors"))
    save_file({name: value.astype(np.float16) for name, value in weights.items()}, out / "model.safetensors")
    for name in ("config.json", "tokenizer.json"):
        shutil.copyfile(original / name, out / name)
