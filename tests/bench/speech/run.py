"""Makes the bench's clips, sends them through the chain on all cores, prints the tables."""

from __future__ import annotations

import os
import pickle
import sys
import time
from collections.abc import Sequence
from multiprocessing import get_context
from pathlib import Path
from random import Random
from typing import Annotated

import numpy as np
import psutil
import typer
from rich.progress import Progress

from bot.speech.ear.network import DATA
from bot.speech.hearing import Recogniser
from tests.bench.__main__ import machine
from tests.bench.speech import noise, score
from tests.bench.speech.made import FULL, QUICK, Clip, make, setting
from tests.bench.speech.score import Chain, Outcome

app = typer.Typer(add_completion=False)
_chain: Chain
_clips: list[Clip]
_crowd: list[np.ndarray[tuple[int], np.dtype[np.float32]]]
Job = tuple[int, int | None]
"""(number of the clip, level); clip −1−n is the nth of noise alone."""


def recogniser(engine: str, folder: Path) -> Recogniser:
    """The ear of these files, or Vosk of this model folder."""
    if engine == "vosk":
        from bot.speech.vosk import Vosk

        return Vosk(folder)
    from bot.speech.ear.ear import Ear

    return Ear(folder, threads=1)


def _start(engine: str, folder: Path, clips: list[Clip]) -> None:
    global _chain, _clips, _crowd  # one recogniser and one copy of the clips a process
    _clips = clips
    _crowd = [clip.samples for clip in clips if clip.kind == "offtopic"][:40]
    _chain = Chain(recogniser(engine, folder), *setting())


def _do(job: Job) -> tuple[Outcome, float]:
    number, level = job
    chance = np.random.default_rng([17, abs(number), level or 99])
    if number < 0:
        return _chain.noise_alone(chance, _crowd), _memory_mb()
    return _chain.one(_clips[number], level, chance, _crowd), _memory_mb()


def _memory_mb() -> float:
    return float(psutil.Process().memory_info().rss) / 1e6


def evaluate(
    engine: str, folder: Path, clips: list[Clip], noises: int, workers: int, records: Path | None
) -> tuple[list[Outcome], float]:
    """Every clip at every level, and noise alone; with the most memory that a process held.

    The outcomes are written to `records` as they come, in mixed order, so that a run that is broken off isn't lost.
    """
    jobs: list[Job] = [(number, level) for level in noise.LEVELS for number in range(len(clips))]
    jobs += [(-1 - number, None) for number in range(noises)]
    Random(0).shuffle(jobs)
    outcomes, memory = [], 0.0
    kept = records.with_stem(f"{records.stem}-{engine}").open("wb") if records is not None else None
    with get_context("spawn").Pool(workers, _start, (engine, folder, clips)) as pool, Progress() as progress:
        task = progress.add_task(f"hearing ({engine})", total=len(jobs))
        for outcome, held in pool.imap_unordered(_do, jobs, chunksize=4):
            outcomes.append(outcome)
            if kept is not None:
                pickle.dump(outcome, kept)
                kept.flush()
            memory = max(memory, held)
            progress.advance(task)
    if kept is not None:
        kept.close()
    return outcomes, memory


def report(outcomes: Sequence[Outcome], memory: float) -> str:
    """All tables."""
    parts = [
        score.table(outcomes, "command"),
        score.table(outcomes, "mayday"),
        score.table(outcomes, "free"),
        score.accepted(outcomes),
        score.mayday(outcomes),
        score.calibration(outcomes),
        score.cost(outcomes, memory),
        score.wrongs(outcomes),
    ]
    return "\n\n".join(part for part in parts if part)


def read_records(path: Path) -> list[Outcome]:
    """The outcomes that a run wrote."""
    outcomes = []
    with path.open("rb") as file:
        try:
            while True:
                outcomes.append(pickle.load(file))
        except EOFError:
            return outcomes


@app.command()
def bench(
    quick: Annotated[bool, typer.Option(help="a tenth of the clips")] = False,
    weights: Annotated[Path, typer.Option(help="the ear's files, to compare others with the shipped ones")] = DATA,
    vosk: Annotated[Path | None, typer.Option(help="a Vosk model folder, measured too")] = None,
    workers: int = os.cpu_count() or 1,
    seed: int = 2026,
    keep: Annotated[Path | None, typer.Option(help="a file to keep the clips in between runs")] = None,
    records: Annotated[Path | None, typer.Option(help="write the outcomes here, for `fit`")] = None,
) -> None:
    """Print how many commands are answered right, asked about, declined and silently wrong, by noise level."""
    print(machine())
    began = time.monotonic()
    size = QUICK if quick else FULL
    clips, missing = make(size, seed, keep)
    for one in missing:
        print(f"Not heard: {one}.")
    wanted = [("ear", weights), *([("vosk", vosk)] if vosk else [])]
    if not vosk:
        print("Vosk: not measured, no model named (--vosk FOLDER).")
    for engine, folder in wanted:
        outcomes, memory = evaluate(engine, folder, clips, size.noise, workers, records)
        print(f"\n{engine}\n\n{report(outcomes, memory)}")
    print(f"\n{time.monotonic() - began:.0f} s", file=sys.stderr)
