"""The ear's files and a weights folder, one made of the other and back."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from bot.speech.training.export import export_decoder, export_encoder
from bot.speech.training.restore import restored

WIDTH, HEADS, HIDDEN, ROWS = 128, 2, 256, 40
Weights = dict[str, NDArray[np.float32]]


def sinusoids() -> NDArray[np.float32]:
    """As Whisper's encoder has them (Robust Speech Recognition via Large-Scale Weak Supervision, 2022, section 2.2)."""
    rates = np.exp(-np.log(10_000) / (WIDTH // 2 - 1) * np.arange(WIDTH // 2))
    angles = np.arange(20)[:, None] * rates
    return np.concatenate([np.sin(angles), np.cos(angles)], axis=1).astype(np.float32)


def a_small_whisper(chance: np.random.Generator) -> Weights:
    """Weights of one encoder and one decoder layer, with the names of the Hugging Face layout."""
    shapes: dict[str, tuple[int, ...]] = {
        "model.encoder.conv1": (WIDTH, 80, 3),
        "model.encoder.conv2": (WIDTH, WIDTH, 3),
        "model.encoder.layer_norm": (WIDTH,),
        "model.decoder.layer_norm": (WIDTH,),
    }
    for layer, attentions in (
        ("model.encoder.layers.0", ("self_attn",)),
        ("model.decoder.layers.0", ("self_attn", "encoder_attn")),
    ):
        for attention in attentions:
            shapes[f"{layer}.{attention}_layer_norm"] = (WIDTH,)
            shapes |= {
                f"{layer}.{attention}.{part}": (WIDTH, WIDTH) for part in ("q_proj", "k_proj", "v_proj", "out_proj")
            }
        shapes |= {
            f"{layer}.final_layer_norm": (WIDTH,), f"{layer}.fc1": (HIDDEN, WIDTH), f"{layer}.fc2": (WIDTH, HIDDEN),
        }  # fmt: skip
    weights = {f"{name}.weight": chance.normal(size=shape).astype(np.float32) for name, shape in shapes.items()}
    weights |= {
        f"{name}.bias": chance.normal(size=shape[0]).astype(np.float32)
        for name, shape in shapes.items()
        if not name.endswith("k_proj")  # Whisper's keys have none
    }
    weights["model.encoder.embed_positions.weight"] = sinusoids()
    weights["model.decoder.embed_positions.weight"] = chance.normal(size=(200, WIDTH)).astype(np.float32)
    weights["model.decoder.embed_tokens.weight"] = chance.normal(size=(ROWS, WIDTH)).astype(np.float32)
    return weights


def test_what_is_exported_can_be_trained_on_from(tmp_path: Path) -> None:
    trained, original = (a_small_whisper(np.random.default_rng(seed)) for seed in (1, 2))
    export_encoder(trained, HEADS, 1, 1, tmp_path / "encoder.onnx", "int8")
    export_decoder(trained, HEADS, 1, range(ROWS), tmp_path / "decoder.onnx", "int8")
    weights = restored(tmp_path, original)
    assert weights.keys() == trained.keys()
    kept = {"model.decoder.embed_tokens.weight", "model.encoder.embed_positions.weight"}
    for name in trained.keys() - kept - {"model.decoder.embed_positions.weight"}:
        assert weights[name] == pytest.approx(trained[name], abs=0.02), name  # a byte's step at these sizes
    positions = weights["model.decoder.embed_positions.weight"]
    assert positions[:128] == pytest.approx(trained["model.decoder.embed_positions.weight"][:128], abs=2e-3)
    assert np.array_equal(positions[128:], original["model.decoder.embed_positions.weight"][128:])
    for name in kept:
        assert np.array_equal(weights[name], original[name])
