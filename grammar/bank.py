"""The wording bank: thousands of ways of saying, one a line, with their slots marked and what they mean named.

    Exit | <unit>'s out with <gauge_psi>
    WaterSource source=hydrant | ok on the plug now
    PumpPressure | <count> lines, <length> of <hose>, <floor>
    PumpPressure | <length> of <hose> and <length2> of <hose2> with the <tip2>
    @officer Benchmark benchmark=knocked_down + Par request=true | fire's knocked, get me a par
    nothing | not knocked down yet
    ask | two out

Left of the bar: where it is said (a context of the reader's tests, "plain" if unsaid), the commands with what the
wording itself decides, or "nothing" (nothing is logged or started) or "ask" (a question is due). Right of it the
wording as it is typed or spoken. A slot is a command's field, or a part of a lay (count, length, hose, flow, tip, npsi,
floor, rise, name, percent, feed_length, feed_hose, supply_length, supply_hose); a digit behind it tells lines apart,
":2" that it is the second command's, "=minutes" whose values it takes. Left, "ref.order=2", "ref.place=attic" say which
working line is meant where no name does; "unit=same" takes the first command's. `values.toml` says how values are said.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import msgspec

from grammar import commands
from grammar.commands import Command, LineRef, SaidHose, SaidLay, SaidLine, SaidNozzle
from grammar.lexicon import LanguageError, by_language, spoken_here
from grammar.spoken import wordings

_SLOT = re.compile(r"<(?P<field>[a-z_]+?)(?P<line>\d?)(?::(?P<command>\d))?(?:=(?P<values>[a-z_]+))?>")
_LAY_FIELDS = {
    **dict.fromkeys(("PumpPressure", "FlowAtPressure", "TankTime"), "lays"),
    **dict.fromkeys(("LineOn", "LongestLay"), "lay"),
    "WhatIf": "add",
}
"""Commands that hold lays, and the field where."""
_LAY_PARTS = frozenset(SaidLine.__struct_fields__) | frozenset(
    ("length", "flow", "tip", "npsi", "rise", "percent", "feed_length", "feed_hose", "kind", "split")
)


@dataclass(frozen=True, slots=True)
class Way:
    """One line of the bank. `means`: the commands with their decided fields; None: nothing is due; () a question."""

    where: str
    context: str
    means: tuple[tuple[type[Command], dict[str, Any]], ...] | None
    wording: str

    @property
    def held_out(self) -> bool:
        """One of the tenth that is only measured on: by a fixed hash of the wording."""
        return hashlib.sha256(self.wording.encode()).digest()[0] < 26


@dataclass(frozen=True, slots=True)
class Said:
    """A drawn sentence: its words, and what it means as in `Way`."""

    words: str
    way: Way
    commands: tuple[Command, ...] | None
    slots: tuple[tuple[int, int, str], ...] = ()
    """Where its slots stand in the words, and whose they are: (start, end, field)."""


@by_language
def bank() -> tuple[Way, ...]:
    """Every way of the language's bank; none where it has none.

    Raises:
        LanguageError: a line that doesn't hold, with its file and number.
    """
    ways = []
    for path in sorted(_folder().glob("*.txt")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if line.strip() and not line.startswith("#"):
                ways.append(way_of(f"{path.name}:{number}", line))
    return tuple(ways)


def way_of(where: str, line: str) -> Way:
    """A line as a way.

    Raises:
        LanguageError: it doesn't hold.
    """
    left, bar, wording = line.partition(" | ")
    if not bar or not wording.strip():
        raise LanguageError(f"{where}: no “ | ” between what is meant and how it is said")
    context = "plain"
    if left.startswith("@"):
        context, _, left = left[1:].partition(" ")
    wording = wording.strip()
    if left == "nothing":
        return Way(where, context, None, wording)
    if left == "ask":
        return Way(where, context, (), wording)
    means = tuple(_meant(where, part) for part in left.split(" + "))
    way = Way(where, context, means, wording)
    for slot in _SLOT.finditer(wording):
        _values_of(way, slot)
    if wording.count("<") != len(_SLOT.findall(wording)):
        raise LanguageError(f"{where}: a slot isn't written like <field>, <field2>, <field:2> or <field=values>")
    return way


def _meant(where: str, part: str) -> tuple[type[Command], dict[str, Any]]:
    name, *pairs = part.split()
    command = getattr(commands, name, None)
    if command is None or not issubclass(command, commands.Spoken):
        raise LanguageError(f"{where}: {name} is no command")
    sets = {}
    for pair in pairs:
        key, _, value = pair.partition("=")
        known = {*command.__struct_fields__, "name", *(_LAY_PARTS if name in _LAY_FIELDS else ())}
        if "ref" in command.__struct_fields__:
            known |= {f"ref.{part}" for part in LineRef.__struct_fields__}
        if key not in known:
            raise LanguageError(f"{where}: {name} has no field {key}")
        sets[key] = _value(value.replace("_", " ") if key in ("place", "ref.place", "unit", "item") else value)
    return command, sets


def _value(text: str) -> Any:
    if text in ("true", "false"):
        return text == "true"
    try:
        return float(text) if "." in text else int(text)
    except ValueError:
        return text


def in_pieces(way: Way) -> Iterator[tuple[str, str]]:
    """The wording in order: ("said", words) and ("slot", whose values it takes, as values.toml calls them)."""
    at = 0
    for slot in _SLOT.finditer(way.wording):
        yield "said", way.wording[at : slot.start()]
        yield "slot", slot["values"] or _all_values()["fields"].get(slot["field"], slot["field"])
        at = slot.end()
    yield "said", way.wording[at:]


# ------------------------------------------------------------------------------------------------------------- drawing


def draw(way: Way, rng: Random) -> Said:
    """The way with values put in."""
    values: dict[tuple[int, str, str], Any] = {}
    words, spans, at = "", [], 0
    for slot in _SLOT.finditer(way.wording):
        key = (int(slot["command"] or 1), slot["field"], slot["line"])
        said, values[key] = _said(_values_of(way, slot), rng)
        words += way.wording[at : slot.start()]
        spans.append((len(words), len(words) + len(said), slot["field"]))
        words, at = words + said, slot.end()
    words += way.wording[at:]
    if not way.means:
        return Said(words, way, None if way.means is None else (), tuple(spans))
    first = {field: value for (n, field, _), value in values.items() if n == 1}
    built = []
    for n, (command, sets) in enumerate(way.means, start=1):
        decided = {key: first[key] if value == "same" else value for key, value in sets.items()}
        slots = {k[1:]: v for k, v in values.items() if k[0] == n or len(way.means) == 1}
        built.append(_build(command, decided, slots))
    return Said(words, way, tuple(built), tuple(spans))


def _folder() -> Path:
    return spoken_here().folder / "language" / "bank"


@by_language
def _all_values() -> dict[str, Any]:
    return tomllib.loads((_folder() / "values.toml").read_text(encoding="utf-8"))


def _values_of(way: Way, slot: re.Match[str]) -> dict[str, Any]:
    listed = _all_values()
    name = slot["values"] or listed["fields"].get(slot["field"], slot["field"])
    if name not in listed:
        raise LanguageError(f"{way.where}: values.toml says no values of {name}")
    values: dict[str, Any] = listed[name]
    return values


def _said(values: dict[str, Any], rng: Random) -> tuple[str, Any]:
    if "ways" in values:
        key = rng.choice(list(values["ways"]))
        return rng.choice(values["ways"][key]), _value(key)
    value = rng.choice(values["numbers"])
    unit = rng.choice(values["units"])
    typed = unit in ("'", "%", "ft", "gpm", "GPM", "mins")  # nobody writes "one fifty ft"
    figures = str(value) if typed or rng.random() < 0.5 else _in_words(value, rng)
    glue = "" if unit in ("'", "%") else " "
    return f"{figures}{glue}{unit}".strip(), value


def _in_words(value: int, rng: Random) -> str:
    ways = wordings(value)
    return ways[min(int(rng.expovariate(1.5)), len(ways) - 1)]


# ------------------------------------------------------------------------------------------------------------ building


def _build(command: type[Command], sets: dict[str, Any], values: dict[tuple[str, str], Any]) -> Command:
    fields = dict(sets)
    lay_field = _LAY_FIELDS.get(command.__name__)
    by_name = "ref" in command.__struct_fields__ and {field for field, _ in values} <= {"name"}  # a line the rig knows
    lines: dict[str, dict[str, Any]] = {}
    for (field, line), value in values.items():
        if lay_field and field in _LAY_PARTS and not by_name:
            lines.setdefault(line, {})[field] = value
        else:
            fields[field] = value
    if lay_field and not by_name:
        own = {key for key in fields if key in _LAY_PARTS and key not in command.__struct_fields__}
        decided = {key: fields.pop(key) for key in own}
        if decided or lines:
            lays = _lays(lines or {"": {}}, decided)
            fields[lay_field] = lays if lay_field in ("lays", "add") else lays[0]
    if "ref" in command.__struct_fields__ and ("name" in fields or any(key.startswith("ref.") for key in fields)):
        told = {key[4:]: fields.pop(key) for key in list(fields) if key.startswith("ref.")}
        fields["ref"] = LineRef(**{"name": fields.pop("name", None), **told})
    if "nozzle" in command.__struct_fields__ and "tip" in fields:
        fields["nozzle"] = SaidNozzle("smooth_bore", fields.pop("tip"), nozzle_psi=fields.pop("npsi", None))
    supply = {key: fields.pop(key) for key in ("supply_hose", "supply_length") if key in fields}
    if supply:
        fields["hose"] = (SaidHose(supply.get("supply_hose"), supply.get("supply_length")),)
    return msgspec.convert(msgspec.to_builtins({**fields, "type": command.__name__}), command, strict=False)


def _lays(lines: dict[str, dict[str, Any]], decided: dict[str, Any]) -> tuple[SaidLay, ...]:
    first = {**decided, **next(iter(lines.values()))}
    feed_hose, feed_length = first.pop("feed_hose", None), first.pop("feed_length", None)
    split = first.pop("split", None)
    said = [_line({**first} if n == 0 else {**parts}) for n, parts in enumerate(lines.values())]
    if feed_hose is not None or split is not None:
        return (SaidLay((SaidHose(feed_hose, feed_length),), split or "wye", tuple(said)),)
    return tuple(SaidLay(lines=(line,)) for line in said)


def _line(parts: dict[str, Any]) -> SaidLine:
    hose = (SaidHose(parts.get("hose"), parts.get("length")),) if "hose" in parts or "length" in parts else ()
    kind = parts.get("kind", "smooth_bore" if "tip" in parts else None)
    return SaidLine(
        name=parts.get("name"),
        count=parts.get("count", 1),
        hose=hose,
        nozzle=SaidNozzle(kind, parts.get("tip"), parts.get("flow"), nozzle_psi=parts.get("npsi")),
        device=parts.get("device"),
        floor=parts.get("floor"),
        rise_ft=parts.get("rise"),
        place=parts.get("place"),
        foam_percent=parts.get("percent"),
    )


def ways(held_out: bool) -> Iterator[Way]:
    """The ways that may be mended with, or the tenth that may not."""
    return (way for way in bank() if way.held_out == held_out)
