"""Readings that are nearly right: one number, unit, count, name or stance changed, a part dropped, another command."""

from __future__ import annotations

import json
import random
from typing import Any

import msgspec

from grammar import commands as c
from grammar.commands import Command

VALUES: dict[str, tuple[Any, ...]] = {
    "hose_in": (1.0, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0),
    "length_ft": (50, 100, 150, 200, 250, 300, 350, 400, 500, 600, 800, 1000),
    "tip_in": (0.875, 0.9375, 1.0, 1.125, 1.25, 1.375, 1.5),
    "flow_gpm": (95, 100, 125, 150, 160, 175, 185, 200, 250, 300, 500, 750, 1000),
    "count": (1, 2, 3, 4),
    "floor": (-1, 1, 2, 3, 4, 5, 6),
    "gauge_psi": (1500, 1800, 2000, 2500, 3000, 3500, 4000, 4200, 4500),
    "nozzle_psi": (50, 75, 80, 100),
    "minutes": (2, 3, 4, 5, 6, 8, 10, 15, 20, 30),
    "staffing": (2, 3, 4, 5),
    "missing": (1, 2),
    "unit": (
        "engine 12",
        "engine 9",
        "truck 4",
        "ladder 2",
        "tender 3",
        "rescue 7",
        "battalion 1",
        "medic 5",
        "attack team",
        "search team",
    ),
    "place": (
        "second floor",
        "third floor",
        "basement",
        "attic",
        "side alpha",
        "side bravo",
        "side charlie",
        "side delta",
        "roof",
        "rear",
    ),
    "name": ("crosslay_1", "crosslay_2", "bumper_line", "rear_line", "deck_gun"),
    "benchmark": (
        "on_scene",
        "en_route",
        "command_established",
        "two_out_in_place",
        "rit_in_place",
        "water_supply",
        "water_on_fire",
        "primary_search_started",
        "primary_search_complete",
        "ventilation",
        "knocked_down",
        "under_control",
        "utilities_secured",
        "secondary_search_complete",
        "overhaul",
        "loss_stopped",
        "command_terminated",
        "available",
        "returning",
        "patient_contact",
    ),
    "source": ("tank", "hydrant", "draft", "relay", "nurse"),
    "split": ("wye", "manifold"),
}
_KIN: tuple[frozenset[str], ...] = tuple(
    frozenset(kin.split())
    for kin in (
        "Entry Exit ComingOut AirReading Par Rehab Assign",
        "PumpPressure LineOn FlowAtPressure TankTime LongestLay WhatIf",
        "LineOn LineOff LineChange",
        "SupplyPressure PumpPressure",
        "Hydrant Intake HydrantFlow SupplyPressure",
        "Benchmark Status Report",
        "TankTime WaterSource SupplyExpected",
        "Shuttle TankTime Draft",
        "Mayday Emergency Evacuate",
        "Timer ReminderChange Elapsed",
        "TipForFlow Nozzle",
    )
)


def wrongs(
    commands: tuple[Command, ...], rng: random.Random, others: list[tuple[Command, ...]], count: int
) -> list[tuple[Command, ...]]:
    """Up to `count` other readings of the same words; `others`: what other sentences mean."""
    out: list[tuple[Command, ...]] = []
    ways = [_changed, _changed, _changed, _dropped, _stance, _kin, _swapped, _fewer, _more, _other]
    for _ in range(4 * count):
        way = rng.choice(ways)
        made = way(commands, rng, others)
        if made is not None and made != commands and made not in out:
            out.append(made)
        if len(out) >= count:
            break
    return out


def _leaves(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[tuple[Any, ...], Any]]:
    if isinstance(value, dict):
        return [leaf for key, inner in value.items() if key != "type" for leaf in _leaves(inner, (*at, key))]
    if isinstance(value, list):
        return [leaf for k, inner in enumerate(value) for leaf in _leaves(inner, (*at, k))]
    return [(at, value)]


_NOT = ("text", "remark", "nature", "address", "task", "sure", "item", "message")


def _plain(commands: tuple[Command, ...]) -> Any:
    return json.loads(msgspec.json.encode(commands))


def _typed(plain: Any) -> tuple[Command, ...] | None:
    try:
        return msgspec.convert(plain, tuple[Command, ...], strict=False)
    except msgspec.ValidationError:
        return None


def _set(plain: Any, at: tuple[Any, ...], value: Any) -> None:
    for key in at[:-1]:
        plain = plain[key]
    plain[at[-1]] = value


def _changed(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    plain = _plain(commands)
    leaves = [leaf for leaf in _leaves(plain) if leaf[0][-1] not in _NOT]
    if rng.random() < 0.25:  # what was left to a default is said
        return _added(commands, rng)
    if not leaves:
        return None
    at, value = rng.choice(leaves)
    _set(plain, at, _another(at[-1], value, rng))
    return _typed(plain)


def _another(field: Any, value: Any, rng: random.Random) -> Any:
    if isinstance(value, bool):
        return not value
    listed = [one for one in VALUES.get(field, ()) if one != value]
    if isinstance(value, int | float):
        if listed and rng.random() < 0.6:
            return rng.choice(listed)
        factor = rng.choice((10, 0.1, 2, 0.5, 1.1, 1.5)) if value else 1
        near = round(value * factor) if value >= 5 else value + 1
        return type(value)(near) if near != value and near > 0 else value + 1
    return rng.choice(listed) if listed else value


def _added(commands: tuple[Command, ...], rng: random.Random) -> tuple[Command, ...] | None:
    plain = _plain(commands)
    one = rng.choice(plain)
    command = commands[plain.index(one)]
    empty = [f for f in command.__struct_fields__ if f not in one and f in VALUES]
    if not empty:
        return None
    field = rng.choice(empty)
    one[field] = rng.choice(VALUES[field])
    return _typed(plain)


def _dropped(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    plain = _plain(commands)
    leaves = [at for at, _ in _leaves(plain) if at[-1] not in _NOT and at[-1] != "kind" and not isinstance(at[-1], int)]
    if not leaves:
        return None
    at = rng.choice(leaves)
    if at[-1] == "place" and len(at) > 2:
        return None
    inner = plain
    for key in at[:-1]:
        inner = inner[key]
    del inner[at[-1]]
    return _typed(plain)


def _stance(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    """Reported for asked, and asked for reported."""
    out = []
    for command in commands:
        if isinstance(command, c.Benchmark):
            out.append(c.Status(about=command.benchmark))
        elif isinstance(command, c.Status) and command.about in VALUES["benchmark"]:
            out.append(c.Benchmark(command.about))  # type: ignore[arg-type]
        elif isinstance(command, c.PumpPressure) and len(command.lays) == 1:
            out.append(c.LineOn(lay=command.lays[0]))
        elif isinstance(command, c.LineOn) and command.lay is not None:
            out.append(c.PumpPressure((command.lay,)))
        elif isinstance(command, c.Par):
            out.append(msgspec.structs.replace(command, request=not command.request, count=None))
        else:
            return None
    return tuple(out)


def _kin(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    """Another command of the same words."""
    k = rng.randrange(len(commands))
    name = type(commands[k]).__name__
    near = sorted({other for kin in _KIN if name in kin for other in kin} - {name})
    if not near:
        return None
    kind = rng.choice(near)
    plain = _plain(commands)
    fields = set(getattr(c, kind).__struct_fields__)
    lays = plain[k].get("lays") or ([plain[k]["lay"]] if "lay" in plain[k] else [])
    moved = {key: value for key, value in plain[k].items() if key in fields}
    if "lays" in fields and lays:
        moved["lays"] = lays
    if "lay" in fields and lays:
        moved["lay"] = lays[0]
    plain[k] = {**moved, "type": kind}
    return _typed(plain)


def _swapped(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    """Two numbers in each other's place."""
    plain = _plain(commands)
    numbers = [leaf for leaf in _leaves(plain) if isinstance(leaf[1], int | float) and not isinstance(leaf[1], bool)]
    if len(numbers) < 2:
        return None
    (at, one), (other_at, other) = rng.sample(numbers, 2)
    if one == other:
        return None
    _set(plain, at, other)
    _set(plain, other_at, one)
    return _typed(plain)


def _fewer(commands: tuple[Command, ...], rng: random.Random, _: Any) -> tuple[Command, ...] | None:
    if len(commands) > 1:
        k = rng.randrange(len(commands))
        return commands[:k] + commands[k + 1 :]
    (command,) = commands
    if isinstance(command, c.PumpPressure) and len(command.lays) > 1:
        k = rng.randrange(len(command.lays))
        return (msgspec.structs.replace(command, lays=command.lays[:k] + command.lays[k + 1 :]),)
    return None


def _more(
    commands: tuple[Command, ...], rng: random.Random, others: list[tuple[Command, ...]]
) -> tuple[Command, ...] | None:
    extra = rng.choice(others)[:1]
    return (*commands, *extra) if rng.random() < 0.5 else (*extra, *commands)


def _other(
    commands: tuple[Command, ...], rng: random.Random, others: list[tuple[Command, ...]]
) -> tuple[Command, ...] | None:
    return rng.choice(others)
