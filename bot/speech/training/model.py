"""Whisper tiny.en in PyTorch for training: short windows instead of 30 s, log-mel on the device, greedy decoding.

The weights folder has the Hugging Face layout: model.safetensors, config.json, tokenizer.json.
"""

import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from safetensors.torch import load_file, save_file
from tokenizers import Tokenizer
from torch.nn import functional
from transformers import WhisperConfig, WhisperForConditionalGeneration
from transformers.audio_utils import mel_filter_bank

START = 50257
NO_TIMESTAMPS = 50362
END = 50256


def open_tokenizer(folder: Path) -> Tokenizer:
    """The token table of a weights folder."""
    return Tokenizer.from_file(str(folder / "tokenizer.json"))


def load_weights(folder: Path) -> dict[str, torch.Tensor]:
    """The tensors of a weights folder, as stored (half precision)."""
    return dict(load_file(str(folder / "model.safetensors")))


def save_weights(weights: Mapping[str, torch.Tensor], out: Path, like: Path) -> None:
    """Write a weights folder in half precision, with the configuration and token table of `like`."""
    out.mkdir(parents=True, exist_ok=True)
    halves = {
        name: tensor.detach().half().contiguous().cpu() for name, tensor in weights.items() if name != "proj_out.weight"
    }
    save_file(halves, str(out / "model.safetensors"), metadata={"format": "pt"})
    for name in ("config.json", "tokenizer.json"):
        if out.resolve() != like.resolve():
            shutil.copyfile(like / name, out / name)


class EarModel(torch.nn.Module):
    """The recogniser with windows as long as the clips of a batch."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        config = WhisperConfig.from_json_file(str(folder / "config.json"))
        self.whisper: Any = WhisperForConditionalGeneration(config).float()
        self.load(load_weights(folder))
        filters = mel_filter_bank(201, 80, 0.0, 8000.0, 16000, norm="slaney", mel_scale="slaney")
        self.register_buffer("filters", torch.tensor(np.asarray(filters).T, dtype=torch.float32), persistent=False)
        self.register_buffer("window", torch.hann_window(400), persistent=False)

    def load(self, weights: Mapping[str, torch.Tensor]) -> None:
        """Replace the weights (any precision)."""
        floats = {name: tensor.float() for name, tensor in weights.items()}
        floats["proj_out.weight"] = floats["model.decoder.embed_tokens.weight"]
        self.whisper.load_state_dict(floats)
        self.whisper.tie_weights()

    def weights(self) -> dict[str, torch.Tensor]:
        """A copy of the weights, full precision, on the CPU."""
        return {name: tensor.detach().float().cpu().clone() for name, tensor in self.whisper.state_dict().items()}

    def log_mel(self, samples: torch.Tensor) -> torch.Tensor:
        """[batch, samples] at 16 kHz -> [batch, 80, frames], as Whisper was trained with."""
        spectrum = torch.stft(samples, 400, 160, window=self.window, return_complex=True)[..., :-1].abs() ** 2
        mel = torch.clamp(self.filters @ spectrum, min=1e-10).log10()
        return (torch.maximum(mel, mel.amax((1, 2), keepdim=True) - 8) + 4) / 4

    def encode(self, mel: torch.Tensor) -> torch.Tensor:
        """The encoder over a short window: the first frames' positions, without the padding to 30 s."""
        encoder = self.whisper.model.encoder
        hidden = functional.gelu(encoder.conv1(mel))
        hidden = functional.gelu(encoder.conv2(hidden)).permute(0, 2, 1)
        hidden = hidden + encoder.embed_positions.weight[: hidden.shape[1]]
        for layer in encoder.layers:
            output = layer(hidden, None)
            hidden = output[0] if isinstance(output, tuple) else output
        return encoder.layer_norm(hidden)

    def decode(self, tokens: torch.Tensor, encoded: torch.Tensor) -> torch.Tensor:
        """Decoder states [batch, tokens, width]."""
        decoder = self.whisper.model.decoder
        return decoder(input_ids=tokens, encoder_hidden_states=encoded, use_cache=False).last_hidden_state

    @torch.no_grad()
    def transcribe(self, samples: torch.Tensor, longest: int = 48) -> list[list[int]]:
        """Greedy tokens of a batch of equally long clips."""
        encoded = self.encode(self.log_mel(samples))
        tokens = torch.tensor([[START, NO_TIMESTAMPS]], device=samples.device).repeat(len(samples), 1)
        ended = torch.zeros(len(samples), dtype=torch.bool, device=samples.device)
        for _ in range(longest):
            last = self.whisper.proj_out(self.decode(tokens, encoded)[:, -1])
            following = torch.where(ended, END, last.argmax(-1))
            tokens = torch.cat([tokens, following[:, None]], 1)
            ended |= following == END
            if bool(ended.all()):
                break
        return [[token for token in row if token < END] for row in tokens[:, 2:].tolist()]


def target(tokenizer: Tokenizer, text: str) -> list[int]:
    """The tokens to be produced for a text; for silence (empty text) only start and end."""
    ids = tokenizer.encode(" " + text, add_special_tokens=False).ids if text else []
    return [START, NO_TIMESTAMPS, *ids, END]


def padded(rows: Sequence[np.ndarray[Any, Any]], length: int) -> np.ndarray[Any, Any]:
    """Rows of different length as one array filled with zeros."""
    batch = np.zeros((len(rows), length), rows[0].dtype)
    for index, row in enumerate(rows):
        batch[index, : len(row)] = row[:length]
    return batch
