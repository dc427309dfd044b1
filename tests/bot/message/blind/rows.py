"""Reads a set, and tells of an answer whether it is what a row expects."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, TypeAlias

Verdict: TypeAlias = Literal["right", "asked", "declined", "wrong"]
HERE = Path(__file__).parent
SETS = tuple(path.stem for path in sorted(HERE.glob("*.json")))
_LOGS = frozenset(
    ("benchmark", "strategy", "water_source", "line_on", "line_off", "line_change", "evacuate", "mayday", "emergency",
     "entry", "exit", "par", "assign", "dispatch")
)  # fmt: skip
_STAMPS = frozenset(("benchmark", "strategy", "water_source"))
_SHARE, _LEAST, _SMALL = 0.01, 1.0, 20


def rows(name: str) -> list[dict[str, Any]]:
    """The rows of a set, as written."""
    found: list[dict[str, Any]] = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))
    return found


def verdict(row: Mapping[str, Any], told: Mapping[str, Any]) -> Verdict:
    """What the answer to a row is, as `ask --json` prints it."""
    said = told.get("commands") or [{"intent": told.get("intent"), "answer": told.get("answer")}]
    done = {one["intent"]: one["answer"] or {} for one in said if one.get("answer")}
    answers = [(one["intent"], one["answer"]) for one in said if one.get("answer")]
    asked, either = bool(told.get("question")), row.get("either") or ()
    if (asked and "question" in either) or (not asked and told.get("intent") in either):
        return "right"
    if not done.keys().isdisjoint(row.get("never") or ()):
        return "wrong"
    if _as_expected(row, told, done, answers, asked):
        return "right"
    return "asked" if asked else "wrong" if answers else "declined"


def _as_expected(
    row: Mapping[str, Any],
    told: Mapping[str, Any],
    done: Mapping[str, Any],
    answers: list[tuple[str, Any]],
    asked: bool,
) -> bool:
    match row.get("expect"):
        case "question_or_refusal":
            return done.keys().isdisjoint(_LOGS) if row.get("nothing") else not answers
        case "refused":
            return not answers and (asked or told.get("intent") == row["intent"])
        case "no_stamp":
            return done.keys().isdisjoint(_STAMPS)
        case "partial_or_question":
            mark = done.get("benchmark", {})
            return asked or (mark.get("benchmark") == row["benchmark"] and bool(mark.get("place")))
        case "commands":
            named = {one["intent"] for one in told.get("commands") or [told]}
            wanted = [(one["intent"], one["answer"]) for one in row.get("answers", [])]
            return {*row["intents"]} <= named and all(_among(intent, answer, answers) for intent, answer in wanted)
    return _among(row["intent"], row["answer"], answers)


def _among(intent: str, answer: Mapping[str, Any], answers: list[tuple[str, Any]]) -> bool:
    return any(
        name == intent and all(_same(value, got.get(key)) for key, value in answer.items()) for name, got in answers
    )


def _same(wanted: object, got: object) -> bool:
    if isinstance(wanted, bool) or wanted is None:
        return wanted == got
    if isinstance(wanted, (int, float)):
        near = max(_LEAST if abs(wanted) > _SMALL else _LEAST / 10, abs(wanted) * _SHARE)
        return isinstance(got, (int, float)) and abs(got - wanted) <= near
    return isinstance(got, str) and str(wanted).casefold() in got.casefold()
