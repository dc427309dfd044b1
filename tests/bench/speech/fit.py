"""The fit of the gate: `python -m tests.bench.speech.fit RECORDS`, on the outcomes that a bench run wrote.

Two steps, cross-validated by sentence (all clips of a sentence fall into one fold):

1. the confidence: a logistic regression of "the best guess is right" on the margins, over everything that was heard
   and can be read; off-topic speech and noise count as not right, whatever was guessed;
2. a table of what each least confidence would give: commands answered right and silently wrong at each level, apart
   for guesses with a number in them and without, free wording and off-topic speech wrongly answered; for guesses with
   a number also what each lead over a rival and over a twin ("fifty" for "fifteen") would give.

The figures chosen stand in `bot.speech.gate.EAR`.
"""

from __future__ import annotations

import hashlib
import itertools
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from bot.speech.gate import EAR, features, is_dangerous
from grammar.commands import Context
from grammar.reader import read
from tests.bench.speech import noise
from tests.bench.speech.made import setting
from tests.bench.speech.run import read_records
from tests.bench.speech.score import Outcome, same

FOLDS = 5
STEPS = (0.85, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.975, 0.98, 0.99)
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Row:
    """A recording in which something readable was heard."""

    outcome: Outcome
    right: bool
    acts: bool
    """An answer would do something."""
    dangerous: bool
    fold: int


def rows_of(outcomes: Sequence[Outcome], here: Context) -> list[Row]:
    """The recordings that a gate could answer."""
    rows = []
    for one in outcomes:
        # The gate shows the free text where it declined the grammar's guess; what is weighed is the grammar's.
        grammar = [guess for guess in one.heard.guesses if guess.source == "grammar"]
        best = max(grammar, key=lambda guess: guess.score, default=None)
        if best is None or one.heard.margins is None:
            continue
        reading = read(best.words, here)
        if reading.commands or reading.question:
            right = one.kind in {"command", "free"} and same(read(one.text, here), reading)
            fold = hashlib.sha256(one.text.encode()).digest()[0] % FOLDS
            rows.append(Row(one, right, bool(reading.commands), is_dangerous(best.words), fold))
    return rows


def regression(x: Array, right: Array, penalty: float = 1e-6) -> Array:
    """Weights of a logistic regression, the constant first."""
    x = np.column_stack([np.ones(len(x)), x])

    def loss(weights: Array) -> tuple[float, Array]:
        score = x @ weights
        error = float((np.logaddexp(0, score) - right * score).mean() + penalty * (weights[1:] ** 2).sum())
        slope = x.T @ (1 / (1 + np.exp(-score)) - right) / len(x)
        return error, slope + 2 * penalty * np.concatenate([[0], weights[1:]])

    return np.asarray(minimize(loss, np.zeros(x.shape[1]), jac=True, method="BFGS").x)


def confidences(x: Array, weights: Array) -> Array:
    """Estimated probabilities of being right."""
    return np.asarray(1 / (1 + np.exp(-(weights[0] + x @ weights[1:]))))


def cross_validated(rows: Sequence[Row]) -> Array:
    """Each row's confidence by weights fitted without its sentence."""
    x = np.array([features(row.outcome.heard.margins) for row in rows if row.outcome.heard.margins])
    right = np.array([float(row.right) for row in rows])
    folds = np.array([row.fold for row in rows])
    sure = np.zeros(len(rows))
    for fold in range(FOLDS):
        sure[folds == fold] = confidences(x[folds == fold], regression(x[folds != fold], right[folds != fold]))
    print("weights", regression(x, right).round(2).tolist())
    return sure


def table(rows: Sequence[Row], sure: Array, counts: dict[int | None, int], dangerous: bool) -> str:
    """What each least confidence gives, for guesses with (or without) a number."""
    lines = ["least    right/silently wrong % of commands at clean, 20, 10, 5 dB      free wrong   off-topic answered"]
    for least in STEPS:
        taken = [row for row, one in zip(rows, sure, strict=True) if one >= least and row.dangerous == dangerous]
        cells = []
        for level in noise.LEVELS:
            part = [row for row in taken if row.outcome.kind == "command" and row.outcome.level == level]
            right = sum(row.right for row in part)
            wrong = sum(row.acts and not row.right for row in part)
            cells.append(f"{100 * right / counts[level]:5.1f}/{100 * wrong / counts[level]:.2f}")
        free = sum(row.outcome.kind == "free" and row.acts and not row.right for row in taken)
        idle = sum(row.outcome.kind in {"offtopic", "noise"} and row.acts for row in taken)
        lines.append(f"{least:.3f}  " + "  ".join(cells) + f"   {free}   {idle}")
    return "\n".join(lines)


def margins_table(rows: Sequence[Row], sure: Array, counts: dict[int | None, int]) -> str:
    """What each least rival and twin margin gives for guesses with a number that are confident enough as shipped."""
    lines = ["rival twin  right/silently wrong % of commands at clean, 20, 10, 5 dB"]
    numbers = [
        (row, row.outcome.heard.margins)
        for row, one in zip(rows, sure, strict=True)
        if one >= EAR.answer[0].confidence
        and row.dangerous
        and row.outcome.kind == "command"
        and row.outcome.heard.margins
    ]
    for rival, twin in itertools.product((1.2, 2.0, 2.5, 3.0), (2.0, 3.2, 4.0, 5.0)):
        taken = [row for row, margins in numbers if margins.rival_margin > rival and margins.twin_margin > twin]
        cells = []
        for level in noise.LEVELS:
            part = [row for row in taken if row.outcome.level == level]
            right, wrong = sum(row.right for row in part), sum(row.acts and not row.right for row in part)
            cells.append(f"{100 * right / counts[level]:5.1f}/{100 * wrong / counts[level]:.2f}")
        lines.append(f"{rival:5} {twin:4}  " + "  ".join(cells))
    return "\n".join(lines)


def calibration(rows: Sequence[Row], sure: Array) -> str:
    """Share right by confidence."""
    lines = []
    right = np.array([row.right for row in rows])
    for low, high in (
        (0, 0.2),
        (0.2, 0.4),
        (0.4, 0.6),
        (0.6, 0.8),
        (0.8, 0.9),
        (0.9, 0.95),
        (0.95, 0.98),
        (0.98, 1.01),
    ):
        part = (sure >= low) & (sure < high)
        if part.any():
            means = f"mean {sure[part].mean():.3f}  right {right[part].mean():.3f}"
            lines.append(f"{low:.2f}-{min(high, 1):.2f} {part.sum():6}  {means}")
    return "\n".join(lines)


def main() -> None:
    """Print the weights and what each threshold would give."""
    outcomes = read_records(Path(sys.argv[1]))
    here, _ = setting()
    rows = rows_of(outcomes, here)
    counts = {
        level: sum(one.kind == "command" and one.readable and one.level == level for one in outcomes)
        for level in noise.LEVELS
    }
    sure = cross_validated(rows)
    print(calibration(rows, sure))
    for dangerous, name in ((True, "with a number, or under control"), (False, "without")):
        print(f"\n{name}\n{table(rows, sure, counts, dangerous)}")
    x = np.array([features(row.outcome.heard.margins) for row in rows if row.outcome.heard.margins])
    print(f"\n{margins_table(rows, confidences(x, np.array(EAR.weights)), counts)}")


if __name__ == "__main__":
    main()
