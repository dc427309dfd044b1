"""Every spoken number from 20 to 4,500 in the places where crews say one, in all the usual ways of saying it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import msgspec

from grammar.commands import Command
from tests.laws.lay_messages import ONES, TENS


class Said(NamedTuple):
    """A sentence with one number in it, and the commands' plain data that it must give."""

    text: str
    number: int
    frame: str


def below_hundred(n: int) -> str:
    """ "Seventeen", "twenty five"."""
    if n < 20:
        return ONES[n]
    tens, ones = divmod(n, 10)
    return TENS[tens] + (f" {ONES[ones]}" if ones else "")


def ways(n: int) -> Iterator[str]:
    """The usual ways to say a whole number: in full, with "and", short ("two fifty"), in hundreds."""
    if n < 100:
        yield below_hundred(n)
        return
    hundreds, rest = divmod(n, 100)
    if n < 1000 or (hundreds % 10 and n < 2000):
        head = below_hundred(hundreds)
        if not rest:
            yield f"{head} hundred"
            if hundreds == 1:
                yield "a hundred"
        else:
            yield f"{head} hundred {below_hundred(rest)}"
            yield f"{head} hundred and {below_hundred(rest)}"
            yield f"{head} {below_hundred(rest)}" if rest >= 10 else f"{head} oh {ONES[rest]}"
        if n < 1000:
            return
    thousands, below = divmod(n, 1000)
    head = f"{ONES[thousands]} thousand"
    if not below:
        yield head
    elif below % 100 == 0:
        yield f"{head} {ONES[below // 100]} hundred"
        if n > 2000:
            yield f"{below_hundred(hundreds)} hundred"
    else:
        yield (
            f"{head} {ONES[below // 100]} hundred {below_hundred(below % 100)}"
            if below >= 100
            else (f"{head} {below_hundred(below)}")
        )


FRAMES: dict[str, tuple[str, range, str, str]] = {
    "length": ("{} feet of inch and three quarter flowing 150", range(25, 1001, 5), "PumpPressure", "length_ft"),
    "lines": ("{} foot lines of inch and three quarter", range(100, 601, 100), "PumpPressure", "length_ft"),
    "foot": ("{} foot of deuce and a half", range(50, 1001, 5), "PumpPressure", "length_ft"),
    "flow": ("200 feet of two and a half flowing {}", range(50, 400, 5), "PumpPressure", "flow_gpm"),
    "gpm": ("200 feet of three inch at {} gpm", range(100, 700, 5), "PumpPressure", "flow_gpm"),
    "supply": ("600 feet of five inch at {} gpm", range(250, 1501, 25), "SupplyPressure", "flow_gpm"),
    "added": ("add {} feet to crosslay one", range(20, 501, 5), "LineChange", "add_ft"),
    "size first": ("inch and three quarter {} feet flowing 150", range(50, 1001, 25), "PumpPressure", "length_ft"),
    "a half before": ("two and a half {} feet second floor", range(50, 1001, 25), "PumpPressure", "length_ft"),
    "hyphen": ("a {}-foot inch and three quarter", range(50, 601, 25), "PumpPressure", "length_ft"),
    "asked": ("what do I pump for {} feet of 1.75 on the third floor", range(50, 601, 25), "PumpPressure", "length_ft"),
    "in a row": ("inch and three quarter, {} feet, third floor", range(50, 601, 25), "PumpPressure", "length_ft"),
    "charged": ("charge {} feet of inch and three quarter", range(50, 601, 25), "LineOn", "length_ft"),
    "another": ("add another {} feet to crosslay one", range(20, 301, 5), "LineChange", "add_ft"),
    "it": ("add {} feet to it", range(20, 301, 5), "LineChange", "add_ft"),
    "gated": ("gate crosslay one to {} gpm", range(60, 200, 5), "LineChange", "gate_to_gpm"),
    "tank": ("tank is at {} gallons", range(50, 500, 5), "WaterSource", "tank_gal"),
    "relay": ("supplying engine 9, {} feet of 5 inch, 1000 gpm", range(100, 1501, 50), "SupplyPressure", "length_ft"),
    "gauge": ("engine 9 lowest {}", range(1000, 4501, 50), "AirReading", "gauge_psi"),
}
"""Where a number is said: the sentence, the numbers, the command and the field that it must fill."""


def sentences() -> Iterator[Said]:
    """Every number in every place in every way."""
    for frame, (words, numbers, _, _) in FRAMES.items():
        for n in numbers:
            for said in ways(n):
                yield Said(words.format(said), n, frame)


def _fields(value: Any, name: str) -> Iterator[float]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == name and isinstance(inner, int | float):
                yield inner
            yield from _fields(inner, name)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _fields(inner, name)


def as_said(said: Said, commands: tuple[Command, ...]) -> bool:
    """One command of the right kind, with that one number in its field, and nothing counted twice or more."""
    _, _, kind, field = FRAMES[said.frame]
    plain = [msgspec.to_builtins(command) for command in commands]
    return (
        [one["type"] for one in plain] == [kind]
        and list(_fields(plain[0], field)) == [said.number]
        and not [count for name in ("count", "parallel") for count in _fields(plain[0], name) if count != 1]
    )
