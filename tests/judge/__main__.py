"""The learned reader's recipe: `python -m tests.judge STEP --help`; `all` makes everything but the sets' own messages.

data      sentences with what they mean -> FOLDER/*.jsonl.gz             (two cores: 20 minutes)
pack      as arrays -> FOLDER/pack.npz, lists.json, start.npz             (a minute)
train     python tests/judge/train.py FOLDER --out FOLDER                 (a GPU: 4 minutes; two cores: hours)
export    weights -> grammar/judge/data/judge.onnx, pieces.txt, heads.json
wordings  -> grammar/judge/data/wordings.json
fit       -> grammar/judge/data/settled.json, with the calibration
measure   rules alone, verifier alone, tagger alone, together, on what was never trained on
use       how long a message takes with it
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from grammar.judge.network import DATA

app = typer.Typer(add_completion=False, no_args_is_help=True, help=__doc__)
CORES = os.cpu_count() or 1
Folder = Annotated[Path, typer.Option("--folder", help="where the rows and arrays are")]
Sets = Annotated[list[Path] | None, typer.Option("--wild", help="opened sets of messages (JSON), each trained on")]
Left = Annotated[list[Path] | None, typer.Option("--left-out", help="opened sets that were never trained on")]
Encoder = Annotated[Path, typer.Option("--encoder", help="the pretrained encoder: model.safetensors, tokenizer.json")]
Network = Annotated[Path, typer.Option("--network", help="the exported files")]
Workers = Annotated[int, typer.Option("--workers")]


@app.command()
def data(folder: Folder, wild: Sets = None, seed: int = 1, workers: Workers = CORES, slice_of: int = 1) -> None:
    """Draw, spoil and label sentences, and let the rules propose."""
    from tests.judge.data import make

    typer.echo(make(folder, wild or [], seed, workers, slice_of))


@app.command()
def pack(folder: Folder, encoder: Encoder, left_out: Left = None) -> None:
    """Turn the rows into arrays; the sets left out are packed last, for `train --first`."""
    from tests.judge.pack import pack as step

    behind = [path.stem for path in left_out or []]
    files = sorted(folder.glob("*.jsonl.gz"), key=lambda path: (path.name.split(".")[0] in behind, path.name))
    typer.echo(step(files, encoder, folder))


@app.command()
def export(folder: Folder, to: Network = DATA) -> None:
    """Write the network's files."""
    from tests.judge.export import export as step

    typer.echo(f"{step(folder, folder / 'lists.json', to):,} bytes")


@app.command()
def wordings(to: Network = DATA) -> None:
    """Pick the plain wordings."""
    from tests.judge.wordings import write

    typer.echo(f"{write(to / 'wordings.json')} wordings")


@app.command()
def fit(wild: Sets = None, network: Network = DATA, workers: Workers = CORES) -> None:
    """Fit the weighing and the bounds."""
    from tests.judge.fit import fit as step
    from tests.judge.fit import write
    from tests.judge.judged import fit_sentences, judged

    found = step(judged(fit_sentences(wild or []), network, workers))
    write(found, network / "settled.json")
    for of, rows in found["calibration"].items():
        typer.echo("\n".join([of, *rows]))


@app.command()
def measure(wild: Sets = None, left_out: Left = None, network: Network = DATA, workers: Workers = CORES) -> None:
    """Count what each part gives on the bank's held-out tenth and on the sets left out of training."""
    from tests.judge.judged import bank_sentences, fit_sentences, judged, wild_sentences
    from tests.judge.measure import table

    fitted_on = judged(fit_sentences(wild or []), network, workers)
    shown = [*bank_sentences("test", 1, noise=False), *wild_sentences(left_out or [], None)]
    typer.echo("\n".join(table(fitted_on, judged(shown, network, workers))))


@app.command()
def quiet(each: int = 60, seed: int = 7) -> None:
    """Chatter and what is asked, denied, hoped, quoted, exercised: what the rules alone and both log of it."""
    import random

    from grammar.judge import active
    from grammar.reader import read, warm
    from tests.grammar.corpus.loader import contexts
    from tests.grammar.test_never_stamped import TABLE, sentences, stamps
    from tests.judge.judged import bank_sentences

    warm()
    rng = random.Random(seed)
    listed = [
        (text, contexts()["officer"]) for stance in TABLE["ways"] for text in rng.sample([*sentences(stance)], each)
    ]
    nothing = [one for one in bank_sentences("test", seed, noise=False) if one.behind.commands is None]  # type: ignore[attr-defined]
    listed += [(one.text, one.context) for one in nothing]
    for name in ("rules alone", "both"):
        active.use(None)
        if name == "both" and not active.load():
            raise typer.Exit(1)
        stamped = [text for text, context in listed if stamps(read(text, context))]
        typer.echo(f"{name}: {len(stamped)} of {len(listed)} logged: {stamped}")


@app.command()
def use(count: int = 600) -> None:
    """Time messages of the bank's held-out tenth, with the rules alone and with both."""
    from grammar.judge import active
    from grammar.reader import read, warm
    from tests.judge.judged import bank_sentences

    warm()
    listed = list(bank_sentences("test", 1, noise=False))[:count]
    for name in ("rules alone", "both"):
        active.use(None)
        if name == "both" and not active.load():
            raise typer.Exit(1)
        took = []
        for one in listed:
            begun = time.perf_counter()
            read(one.text, one.context)
            took.append(1000 * (time.perf_counter() - begun))
        took.sort()
        typer.echo(f"{name}: p50 {took[len(took) // 2]:.1f} ms, p99 {took[len(took) * 99 // 100]:.1f} ms")


@app.command("all")
def everything(folder: Folder, encoder: Encoder, wild: Sets = None, workers: Workers = CORES) -> None:
    """Every step in order, with torch on this machine."""
    data(folder, wild, 1, workers, 1)
    pack(folder, encoder)
    train = Path(__file__).with_name("train.py")
    subprocess.run([sys.executable, str(train), str(folder), "--out", str(folder), "--minutes", "100"], check=True)
    export(folder)
    wordings()
    fit(wild, DATA, workers)


if __name__ == "__main__":
    app()
