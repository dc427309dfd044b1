"""`python -m tests.bench.speech fit RECORDS`: chooses the gate's thresholds on the outcomes of a bench run.

Two steps, both cross-validated by sentence (a sentence's clips at all levels fall into the same fold):

1. the confidence: a logistic regression of "the best guess is right" on the margins;
2. for quiet, middling and loud recordings (by measured signal-to-noise ratio) the least confidence for an answer: the
   lowest with at most the allowed share of answers that are silently wrong, dangerous ones (numbers, under control)
   held to a stricter share.

Off-topic speech and noise count as wrong whatever was guessed, with the weight of a silent wrong.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from bot.speech.gate import features
from bot.speech.training.clips import RATE
from grammar.reader import read
from tests.bench.speech.made import setting
from tests.bench.speech.score import Outcome

FOLDS = 5
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rows:
    """What is fitted on, one row a recording in which something was heard."""

    features: Array
    right: NDArray[np.bool_]
    acts: NDArray[np.bool_]
    """An answer would do something (the best guess reads as commands)."""
    fold: NDArray[np.int_]
    weight: Array


def rows_of(outcomes: Sequence[Outcome]) -> tuple[Rows, list[Outcome]]:
    """The rows, and the outcomes they come from."""
    here, _ = setting()
    kept = [one for one in outcomes if one.heard.margins is not None]
    return Rows(
        np.array([features(one.heard.margins) for one in kept if one.heard.margins]),
        np.array([one.best_right for one in kept]),
        np.array([bool(read(one.heard.words, here).commands) for one in kept]),
        np.array([hashlib.sha256(one.text.encode()).digest()[0] % FOLDS for one in kept]),
        np.ones(len(kept)),
    ), kept


def regression(features: Array, right: NDArray[np.bool_], penalty: float = 1e-3) -> Array:
    """Weights of a logistic regression, constant first."""
    x = np.column_stack([np.ones(len(features)), features])

    def loss(weights: Array) -> tuple[float, Array]:
        score = x @ weights
        error = np.logaddexp(0, score) - right * score
        slope = 1 / (1 + np.exp(-score)) - right
        gradient = x.T @ slope / len(x)
        return float(error.mean() + penalty * (weights[1:] ** 2).sum()), gradient + 2 * penalty * np.r_[0, weights[1:]]

    return np.asarray(minimize(loss, np.zeros(x.shape[1]), jac=True, method="BFGS").x)


def confidences(features: Array, weights: Array) -> Array:
    """Estimated probabilities of being right."""
    return np.asarray(1 / (1 + np.exp(-(weights[0] + features @ weights[1:]))))


__all__ = ["RATE", "Rows", "confidences", "regression", "rows_of"]
