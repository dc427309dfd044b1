"""The commands of training: `python -m bot.speech.training COMMAND --help`."""

import json
import os
from pathlib import Path
from random import Random
from typing import Annotated, Literal

import numpy as np
import typer

from bot.speech.training.clips import RATE, Clips

app = typer.Typer(add_completion=False, no_args_is_help=True, help=__doc__)
CORES = os.cpu_count() or 1
Shards = Annotated[list[Path], typer.Argument(help="shards of clips (without ending)")]
Out = Annotated[Path, typer.Option(help="where to write")]


@app.command()
def sentences(
    out: Out,
    count: int = 6000,
    seed: int = 1,
    english: Annotated[Path | None, typer.Option(help="a folder of plain English text files")] = None,
    held_out: Annotated[bool, typer.Option(help="the bench's and validation's side of the split")] = False,
) -> None:
    """Write sentences to be spoken, a JSON object a line."""
    from bot.speech.training.sentences import as_record, plain_sentences, training_sentences

    lines = plain_sentences(english) if english else []
    made = training_sentences(count, seed, lines, held_out)
    out.write_text("".join(json.dumps(as_record(sentence)) + "\n" for sentence in made), encoding="utf-8")
    typer.echo(f"{len(made)} sentences, {sum(len(one.text.split()) for one in made) / len(made):.1f} words each")


@app.command()
def synthesise(
    source: Annotated[Path, typer.Argument(help="sentences (JSON lines)")],
    out: Out,
    engine: Literal["espeak", "kokoro"] = "kokoro",
    kokoro_voices: Annotated[Path | None, typer.Option(help="the voices folder of kokoro-js")] = None,
    seed: int = 0,
    workers: int = CORES,
    minutes: Annotated[float, typer.Option(help="stop after so long")] = 600,
    validation: Annotated[bool, typer.Option(help="use the voices kept back for validation")] = False,
) -> None:
    """Speak the sentences into a shard of clips."""
    from bot.speech.training import synthesise as step

    made = step.synthesise(
        step.read_sentences(source),
        out,
        engine,
        kokoro_voices,
        seed=seed,
        workers=workers,
        minutes=minutes,
        validation=validation,
    )
    typer.echo(f"{made} clips in {out}")


@app.command()
def augment(shards: Shards, out: Out, count: int = 20, seed: int = 0) -> None:
    """Write a few augmented clips as WAV files, to listen to what training hears."""
    import wave

    from bot.speech.training.augment import Augmenter

    clips = Clips(shards)
    rng = np.random.default_rng(seed)
    augmenter = Augmenter(crowd=clips)
    out.mkdir(parents=True, exist_ok=True)
    for number, index in enumerate(Random(seed).sample(range(len(clips)), min(count, len(clips)))):
        sound = augmenter.augmented(clips.samples(index), rng)
        with wave.open(str(out / f"{number:03}.wav"), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE)
            file.writeframes((sound * 32767).astype(np.int16).tobytes())
        typer.echo(f"{number:03}.wav {clips.clips[index].text}")


@app.command()
def train(
    shards: Shards,
    start: Annotated[Path, typer.Option(help="weights folder to start from")],
    out: Out,
    minutes: float = 8,
    size: Annotated[int, typer.Option(help="clips a batch")] = 192,
    rate: float = 2e-4,
    seed: int = 0,
    workers: int = max(1, CORES - 2),
) -> None:
    """Fine-tune on shards of clips."""
    from bot.speech.training.batches import BatchPlan
    from bot.speech.training.train import Recipe
    from bot.speech.training.train import train as run

    plan = BatchPlan(tuple(shards), start, size, seed)
    run(start, plan, out, Recipe(minutes, rate), workers, lambda line: typer.echo(line))


@app.command()
def average(
    folders: Annotated[list[Path], typer.Argument(help="weights folders")],
    out: Out,
    share: Annotated[list[float], typer.Option(help="a share for each folder, adding up to 1")],
) -> None:
    """Mix weights folders."""
    from bot.speech.training.average import average as run

    run(folders, share, out)


@app.command()
def export(
    weights: Annotated[Path, typer.Argument(help="weights folder")],
    to: Annotated[Path, typer.Option(help="where the program finds them")] = Path(__file__).parents[1] / "ear" / "data",
    merges: Annotated[int, typer.Option(help="how many of the most frequent token merges to keep")] = 30_000,
) -> None:
    """Write the ear's files: encoder, decoder step and token table."""
    from bot.speech.training.export import export as run
    from grammar.phrases import every_word

    for name, size in run(weights, to, every_word(), merges, "int8").items():
        typer.echo(f"{to / name}: {size / 1e6:.2f} MB")


@app.command()
def restore(
    original: Annotated[Path, typer.Argument(help="weights folder that the ear was first trained from")],
    out: Out,
    ear: Annotated[Path, typer.Option(help="the ear's files")] = Path(__file__).parents[1] / "ear" / "data",
) -> None:
    """Make a weights folder of the ear's files, to train on from what is shipped."""
    from bot.speech.training.restore import restore as run

    run(ear, original, out)


@app.command()
def evaluate(
    weights: Annotated[list[Path], typer.Argument(help="weights folders")],
    shard: Annotated[list[Path], typer.Option(help="validation shards")],
    start: Annotated[Path | None, typer.Option(help="also try mixtures with these start weights")] = None,
    mix: Annotated[list[float], typer.Option(help="shares of the tuned weights in those mixtures")] = [0.8, 0.6, 0.4],  # noqa: B006
    clips: Annotated[int, typer.Option(help="clips a level")] = 300,
) -> None:
    """Words and sentences right by free decoding, and which mixture with the start weights does best."""
    import torch

    from bot.speech.training.average import averaged
    from bot.speech.training.evaluate import Validation, report
    from bot.speech.training.model import EarModel, load_weights

    validation = Validation.of(shard, clips)
    ear = EarModel(weights[0]).to("cuda" if torch.cuda.is_available() else "cpu").eval()
    tried = [(folder.name, load_weights(folder)) for folder in weights]
    if len(weights) > 1:
        even = [1 / len(weights)] * len(weights)
        tried.append(("mean", averaged(weights, even)))
    if start is not None:
        tried.append(("start", load_weights(start)))
        parts = len(weights)
        tried += [
            (f"{share:g} of the mean", averaged([*weights, start], [*[share / parts] * parts, 1 - share]))
            for share in mix
        ]
    for name, tensors in tried:
        ear.load(tensors)
        typer.echo(report(name, validation.scores(ear, weights[0])))


if __name__ == "__main__":
    app()
