"""Fits how the rules' costs, the verifier, the tagger and the lead are weighed together, and the bounds.

On the "fit" sentences of the bank and the corpus, each also spoiled, and the "fit" messages of the sets: used for
nothing else. A logistic of a few features, by Newton's method with a small penalty; the same sentences in two folds say
how sure its probability is (each half judged by the other's weights), and from them come the bounds: the least
probability from which on the share of wrong readings among those newly taken is at most `WRONG`.
"""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from grammar.judge.features import Scored
from grammar.judge.settle import FEATURES, features, logs, two_ways
from grammar.verdict import unsure
from tests.judge.judged import Judged, is_asked_on_purpose

WRONG, WRONG_LOGGED = 0.015, 0.006
"""Share of wrong ones among the readings that are newly taken at the bound."""
BANDS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995)


class Point(NamedTuple):
    """A proposal: its features, whether it is right, and what it stands in."""

    x: tuple[float, ...]
    right: bool
    top: bool
    one: Scored
    judged: Judged


def points(listed: Sequence[Judged]) -> list[Point]:
    """Every proposal whose worth is known."""
    out = []
    for each in listed:
        for right, one in each.proposals:
            if right is not None and not is_asked_on_purpose(each.sentence):
                out.append(Point(features(one, each.reading), right, False, one, each))
    return out


def logistic(x: Any, y: Any, penalty: float = 3.0) -> Any:
    """Weights of a logistic regression."""
    weights = np.zeros(x.shape[1])
    for _ in range(40):
        p = 1 / (1 + np.exp(-np.clip(x @ weights, -30, 30)))
        slope = x.T @ (y - p) - penalty * weights
        bend = (x * (p * (1 - p))[:, None]).T @ x + penalty * np.eye(x.shape[1])
        step = np.linalg.solve(bend, slope)
        weights += step
        if np.abs(step).max() < 1e-6:
            break
    return weights


def folded(found: list[Point], seed: int) -> Any:
    """Each proposal's probability by weights fitted on the other half of the messages."""
    rng = random.Random(seed)
    half = {text: rng.random() < 0.5 for text in sorted({point.judged.sentence.text for point in found})}
    mask = np.array([half[point.judged.sentence.text] for point in found])
    x, y = np.array([point.x for point in found]), np.array([float(point.right) for point in found])
    out = np.zeros(len(found))
    for side in (mask, ~mask):
        weights = logistic(x[~side], y[~side])
        out[side] = 1 / (1 + np.exp(-np.clip(x[side] @ weights, -30, 30)))
    return out


def calibration(found: list[Point], p: Any) -> list[str]:
    """A row a band: from, how many, how many right."""
    rows = []
    for low, high in zip(BANDS, (*BANDS[1:], 1.01), strict=True):
        inside = [point.right for point, q in zip(found, p, strict=True) if low <= q < high]
        if inside:
            rows.append(
                f"{low:5.3f}..{min(high, 1):5.3f} {len(inside):6} {100 * sum(inside) / len(inside):6.2f} % right"
            )
    return rows


def bound(cases: list[tuple[float, bool]], wrong: float, least: float) -> float:
    """The least probability from which on at most this share is wrong, a wrong one more allowed for than was seen."""
    best, bad = 1.0, 0
    for count, (p, right) in enumerate(sorted(cases, key=lambda case: -case[0]), start=1):
        bad += not right
        if (bad + 0.5) / (count + 1) <= wrong or (bad == 0 and p > 0.97):
            best = p
    return max(best, least)


def fit(listed: list[Judged], seed: int = 1, without: Sequence[str] = ()) -> dict[str, Any]:
    """The weights and bounds, as settled.json holds them, and the calibration table; `without`: features left out."""
    found = points(listed)
    if without:
        kept = [float(name not in without) for name in FEATURES]
        found = [p._replace(x=tuple(a * b for a, b in zip(p.x, kept, strict=True))) for p in found]
        found = [p for p in found if "own" not in without or not p.one.own]
    doubtful = [point for point in found if not point.judged.reading.commands]
    certain = [point for point in found if point.judged.reading.commands]
    p = np.zeros(len(found))
    weights = {}
    for of, some in (("weights", doubtful), ("taken", certain)):
        x, y = np.array([point.x for point in some]), np.array([float(point.right) for point in some])
        weights[of] = dict(zip(FEATURES, (round(float(w), 4) for w in logistic(x, y)), strict=True))
        inside = np.array([bool(point.judged.reading.commands) == (of == "taken") for point in found])
        p[inside] = folded(some, seed)
    best: dict[int, tuple[float, Point]] = {}
    for point, q in zip(found, p, strict=True):
        if q > best.get(id(point.judged), (-1.0, point))[0]:
            best[id(point.judged)] = (float(q), point)
    held = [
        (q, point)
        for q, point in best.values()
        if not point.judged.reading.commands
        and unsure(point.judged.reading)
        and point.one.numbers
        and not two_ways(point.one, [o for _, o in point.judged.proposals])
    ]
    take = bound([(q, point.right) for q, point in held if not point.one.own], WRONG, 0.8)
    logging = [(q, point.right) for q, point in held if not point.one.own and logs(point.one.commands)]
    alone = bound([(q, point.right) for q, point in held if point.one.own], WRONG, 0.85)
    taken = [(float(q), point) for point, q in zip(found, p, strict=True) if point.one.taken]
    return {
        **weights,
        "take": round(take, 4),
        "logs": round(bound(logging, WRONG_LOGGED, max(take, 0.9)), 4),
        "alone": round(alone, 4),
        "ask": 0.3,
        "doubt": _doubt(taken),
        "sure": 0.995,
        "calibration": {
            "where the rules doubt": calibration([point for _, point in held], [q for q, _ in held]),
            "where they take": calibration([point for _, point in taken], [q for q, _ in taken]),
        },
    }


def _doubt(taken: list[tuple[float, Point]]) -> float:
    """Below this a reading of the rules is asked about: where at least a fifth of those below is wrong."""
    best, right, wrong = 0.0, 0, 0
    for q, point in sorted(taken, key=lambda case: case[0]):
        right, wrong = right + point.right, wrong + (not point.right)
        if q <= 0.4 and wrong >= 0.25 * (right + wrong):
            best = q
    return round(best, 4)


def write(found: dict[str, Any], to: Path) -> None:
    """Writes settled.json."""
    to.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
