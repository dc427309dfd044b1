"""Loads the corpus of sentences into the command types, and judges a reading against what a sentence must mean.

One JSON object a line:

    {"say": "two lines, 200 feet, 1.75, second floor",   what is typed or heard
     "in": "plain",                                      a context of contexts.json (default "plain")
     "expect": [{"type": "PumpPressure", …}],            the commands, in order, defaults left out
     "or": [[…], …],                                     other lists of commands that are as right
     "ask": "pump_pressure" | null,                      instead of expect: a closed question (null: of any intent)
     "decline": true | "ignore": true,                   instead of expect: one sentence / no reply at all
     "or_ask": true, "or_decline": true,                 also right
     "loose": ["text"]}                                  fields whose wording doesn't matter

Readings that say the same thing in two ways are made the same before they are compared (see `canonical`).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeAlias

import msgspec

from grammar.commands import Command, Context, LineRef, Reading

FOLDER = Path(__file__).parent

Verdict: TypeAlias = Literal["right", "asked", "declined", "missed", "wrong"]
"""right: as expected. asked / declined / missed: a question / a refusal / silence where an answer was due (a nuisance,
not a danger). wrong: commands that were not meant: the silent wrong, the worst fault."""


class Expectation(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"in_": "in", "or_": "or"}):
    """One line of a corpus file."""

    say: str
    in_: str = "plain"
    expect: tuple[Command, ...] | None = None
    or_: tuple[tuple[Command, ...], ...] = ()
    ask: str | msgspec.UnsetType | None = msgspec.UNSET
    decline: bool = False
    ignore: bool = False
    or_ask: bool = False
    or_decline: bool = False
    loose: tuple[str, ...] = ()


@dataclass(frozen=True)
class Case:
    """An expectation with its context and where it stands in the files ("benchmarks.jsonl:12")."""

    where: str
    context: Context
    expected: Expectation


@cache
def contexts() -> dict[str, Context]:
    """The named contexts of contexts.json."""
    return msgspec.json.decode((FOLDER / "contexts.json").read_bytes(), type=dict[str, Context])


def cases(pattern: str = "*.jsonl") -> Iterator[Case]:
    """Every sentence of the files that match, in order. ValueError, with file and line, where one can't be decoded."""
    decoder = msgspec.json.Decoder(Expectation)
    for path in sorted(FOLDER.glob(pattern)):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            where = f"{path.name}:{number}"
            try:
                yield _checked(where, decoder.decode(line), line)
            except (msgspec.ValidationError, msgspec.DecodeError, KeyError) as problem:
                raise ValueError(f"{where}: {problem}") from problem


def _checked(where: str, expected: Expectation, line: str) -> Case:
    """Exactly one expectation, a known context, and no field that decoding silently dropped (a misspelt one)."""
    kinds = [expected.expect is not None, expected.ask is not msgspec.UNSET, expected.decline, expected.ignore]
    if kinds.count(True) != 1:
        raise ValueError(f"{where}: one of expect, ask, decline, ignore is needed")
    said, kept = json.loads(line), json.loads(msgspec.json.encode(expected))
    for key in ("expect", "or"):
        if said.get(key, []) != (kept[key] or []):
            raise ValueError(f"{where}: {key} has a field that the command doesn't have, or a default written out")
    return Case(where, contexts()[expected.in_], expected)


def judge(case: Case, reading: Reading) -> Verdict:
    """What the reading is worth against the expectation."""
    expected = case.expected
    if reading.commands:
        lists = (() if expected.expect is None else (expected.expect,)) + expected.or_
        got = canonical(reading.commands, case.context, expected.loose)
        return "right" if any(canonical(one, case.context, expected.loose) == got for one in lists) else "wrong"
    if reading.question is not None:
        asked_for = expected.ask is not msgspec.UNSET and expected.ask in (None, reading.intent)
        return "right" if expected.or_ask or asked_for else "asked"
    nothing_due = expected.decline or expected.ignore
    if reading.declined is not None:
        return "right" if expected.decline or expected.or_decline else "declined"
    return "right" if nothing_due or expected.or_decline else "missed"


# ---------------------------------------------------------------------------------- two ways of saying the same thing

Plain: TypeAlias = Any
"""What JSON holds."""


def canonical(commands: tuple[Command, ...], context: Context, loose: tuple[str, ...] = ()) -> Plain:
    """The commands as plain data in which equal meanings are equal.

    The same line twice is a count of two; lines without a feed are lays of their own; the order of lays, and which side
    of a house is its length, say nothing; a place that only repeats the floor, "smooth bore" beside a tip and "fog"
    beside a flow add nothing; a line is the same by number, name or place; metric numbers agree to three figures.
    """
    digits = 3 if context.units == "metric" else 6
    return [_canonical_command(json.loads(msgspec.json.encode(c)), context, loose, digits) for c in commands]


def _canonical_command(plain: dict[str, Plain], context: Context, loose: tuple[str, ...], digits: int) -> Plain:
    if plain["type"] == "LineOn" and "lay" in plain and "ref" not in plain:
        plain = _line_on_by_name(plain)
    if plain["type"] == "NeededFlow":
        sides = sorted(float(plain.pop(k)) for k in ("length_ft", "width_ft") if k in plain)
        plain["sides_ft"] = sides
    return _walk(plain, context, loose, digits)


def _line_on_by_name(plain: dict[str, Plain]) -> dict[str, Plain]:
    """Charging the rig's line by its name alone is the same as a lay that is only that name."""
    lines = plain["lay"].get("lines", [])
    if (
        len(lines) == 1
        and set(lines[0]) <= {"name", "device", "hose"}
        and "name" in lines[0]
        and "feed" not in plain["lay"]
    ):
        return {"type": "LineOn", "ref": {"name": lines[0]["name"]}}
    return plain


def _walk(value: Plain, context: Context, loose: tuple[str, ...], digits: int) -> Plain:
    if isinstance(value, dict):
        kept = {k: _walk(v, context, loose, digits) for k, v in value.items() if k not in (*loose, "parts")}
        for key in ("ref", "shut"):
            if isinstance(value.get(key), dict):
                kept[key] = _which_lines(value[key], context)
        for key in ("lays", "add"):
            if isinstance(kept.get(key), list):
                kept[key] = _lays(kept[key])
        if isinstance(kept.get("lay"), dict):
            kept["lay"] = _lays([kept["lay"]])
        _drop_echoes(kept)
        return {k: v for k, v in kept.items() if v not in ({}, [], None)}
    if isinstance(value, list):
        return [_walk(item, context, loose, digits) for item in value]
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int | float):
        return float(f"{float(value):.{digits}g}")
    return " ".join(str(value).casefold().split())


def _drop_echoes(part: dict[str, Plain]) -> None:
    """Things that only say again what another field says."""
    if "floor" in part and _is_floor(str(part.get("place", ""))):
        part.pop("place", None)
    if (part.get("kind") == "smooth_bore" and "tip_in" in part) or (part.get("kind") == "fog" and "flow_gpm" in part):
        part.pop("kind")


def _is_floor(place: str) -> bool:
    return any(word in place for word in ("floor", "story", "basement", "cellar", "level", "roof"))


def _lays(lays: list[dict[str, Plain]]) -> Plain:
    """Lays with every count written out, one line a lay where there is no feed, in a fixed order."""
    out = []
    for one in lays:
        lines = [_without_count(line) for line in one.get("lines", []) for _ in range(int(line.get("count", 1)))]
        lines.sort(key=_key)
        if one.get("feed") or one.get("split"):
            out.append({**one, "lines": lines})
        else:
            out.extend({"lines": [line]} for line in lines)
    return sorted(out, key=_key)


def _key(value: Plain) -> str:
    return json.dumps(value, sort_keys=True)


def _which_lines(ref: dict[str, Plain], context: Context) -> Plain:
    """The working lines that a reference means in this context, else the reference as it was said."""
    said = msgspec.convert(ref, LineRef)
    seen = context.lines
    if said.seq is not None:
        found = [line.seq for line in seen if line.seq == said.seq]
    elif said.all:
        return "all"
    elif said.name is not None:
        found = [line.seq for line in seen if line.name == said.name]
    elif said.order is not None:
        found = [line.seq for line in seen if line.seq == said.order]
    elif said.hose_in is not None:
        found = [line.seq for line in seen if line.hose_in == said.hose_in]
    elif said.place is not None:
        found = [line.seq for line in seen if (line.place or "").casefold() == said.place.casefold()]
    elif said.other:
        found = [line.seq for line in seen][:-1]
    else:
        found = [line.seq for line in seen][-1:]
    return found if len(found) == 1 else ref


def _without_count(line: dict[str, Plain]) -> dict[str, Plain]:
    return {key: value for key, value in line.items() if key != "count"}
