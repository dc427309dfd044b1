"""Speak a file of sentences into a shard of clips, on all cores."""

import json
import time
from multiprocessing import get_context
from pathlib import Path
from random import Random
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from rich.progress import track

from bot.speech.training import voices
from bot.speech.training.clips import RATE, ShardWriter
from bot.speech.training.sentences import Sentence

Engine = Literal["espeak", "kokoro"]
_speaker: voices.MadeVoice


def make_speaker(engine: Engine, kokoro_voices: Path | None, validation: bool) -> voices.MadeVoice:
    """A speaker in training's voices, or in the ones kept back for validation."""
    if engine == "espeak":
        variants = voices.VALIDATION_VARIANTS if validation else voices.TRAINING_VARIANTS
        return voices.EspeakSpeaker(variants=variants)
    if kokoro_voices is None:
        raise ValueError("Kokoro needs the folder of its voice files: pass --kokoro-voices")
    return voices.KokoroSpeaker(kokoro_voices, voices.VALIDATION_KOKORO if validation else None)


def _start(engine: Engine, kokoro_voices: Path | None, validation: bool) -> None:
    global _speaker  # one synthesiser a process: espeak-ng keeps global state, Kokoro takes a second to load
    _speaker = make_speaker(engine, kokoro_voices, validation)


def _speak(job: tuple[int, Sentence]) -> tuple[Sentence, NDArray[np.int16], str]:
    seed, sentence = job
    samples, voice = _speaker.speak(sentence.text, Random(seed))
    return sentence, samples, voice


def read_sentences(path: Path) -> list[Sentence]:
    """The sentences of a JSON-lines file."""
    return [Sentence(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


def synthesise(
    sentences: list[Sentence],
    out: Path,
    engine: Engine,
    kokoro_voices: Path | None = None,
    *,
    seed: int = 0,
    workers: int = 2,
    minutes: float = 600,
    validation: bool = False,
    longest_s: float = 8.0,
) -> int:
    """Speak sentences into the shard `out`; clips longer than `longest_s` are left out, and it stops after
    `minutes`. Returns the number of clips."""
    jobs = [(seed * 1_000_003 + index, sentence) for index, sentence in enumerate(sentences)]
    if engine == "kokoro":
        voices.kokoro_model()  # put together once, before several processes would
    deadline = time.monotonic() + minutes * 60
    context = get_context("spawn")
    with (
        ShardWriter(out) as shard,
        context.Pool(workers, _start, (engine, kokoro_voices, validation)) as pool,
    ):
        results = pool.imap_unordered(_speak, jobs, chunksize=1)
        for sentence, samples, voice in track(results, f"{engine} voices", total=len(sentences)):
            if RATE // 5 < len(samples) < longest_s * RATE:
                shard.add(samples, sentence.text, sentence.kind, voice)
            if time.monotonic() > deadline:
                break
        return shard.count
