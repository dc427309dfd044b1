"""Messages of one to six different lines as crews say them, made by chance, and what the pump must give for each.

The solver is the test's own: FL = C·(gpm/100)²·(ft/100), smooth bore 29.7·d²·√50, 5 psi a floor (IFSTA Pumping
Apparatus Driver/Operator Handbook); coefficients and nozzles are the demonstration rig's, written down again here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import permutations
from random import Random
from typing import Literal, NamedTuple, TypeAlias

from bot.api import Crosslay
from bot.settings import Settings

C = {1.5: 24.0, 1.75: 15.5, 2.0: 8.0, 2.5: 2.0, 3.0: 0.8}
CARRIED = {"crosslay 1": (1.75, 200), "crosslay 2": (1.75, 200), "bumper line": (1.75, 100), "rear line": (2.5, 250)}
SIZES = {
    1.5: ("1.5", "1 1/2", "1½", "inch and a half", "1.5 inch", "inch and a half", "1.5"),
    1.75: ("1.75", "1 3/4", "1¾", "inch and three quarter", "inch and three quarters", "1.75 inch", "1-3/4",
           "one and three quarter", "one and three quarter inch", "one point seven five"),
    2.0: ("2 inch", "two inch", '2"', "2 in"),
    2.5: ("2.5", "2 1/2", "2½", "two and a half", "deuce and a half", "two and a half inch", "2.5 inch", "2-1/2"),
    3.0: ("3 inch", "three inch", '3"', "3 in"),
}  # fmt: skip
TIPS = {
    0.875: ("7/8", "seven eighths", "⅞"),
    0.9375: ("15/16", "fifteen sixteenths"),
    1.0: ("1 inch", "one inch", "inch"),
    1.125: ("1 1/8", "inch and an eighth", "inch and eighth", "1⅛", "one and an eighth inch"),
    1.25: ("1 1/4", "inch and a quarter", "1¼"),
}
USUAL_TIPS = {1.5: (), 1.75: (0.875, 0.9375), 2.0: (0.9375, 1.0, 1.125), 2.5: (1.0, 1.125, 1.25), 3.0: (1.125, 1.25)}
FLOWS = {1.5: (95, 100, 125), 1.75: (95, 125, 150, 160, 175, 185, 200), 2.0: (150, 175, 200, 225, 250),
         2.5: (200, 225, 250, 265, 300, 325), 3.0: (250, 300, 350, 400, 500)}  # fmt: skip
ONES = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
]  # fmt: skip
TENS = ["_", "_", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
NTH = [
    "_", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth",
]  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One different line, and what was said of it."""

    size: float
    feet: int
    tip: float | None = None
    flow: int | None = None
    floor: int | None = None
    count: int = 1
    name: str | None = None


class Solved(NamedTuple):
    """What one line needs: hose, length, each line's flow, nozzle pressure, pump pressure, how many."""

    hose_in: float
    length_ft: float
    flow_gpm: float
    nozzle_psi: float
    pressure_psi: float
    count: int


def solved(line: Line) -> Solved:
    """The line worked out by hand."""
    flow, nozzle = (float(line.flow), 100.0) if line.flow else (150.0, 100.0)
    tip = line.tip or (1.125 if line.size == 2.5 and line.flow is None else None)
    if tip is not None:
        flow, nozzle = 29.7 * tip**2 * math.sqrt(50), 50.0
    friction = C[line.size] * (flow / 100) ** 2 * line.feet / 100
    level = 0.0 if line.floor is None else -5.0 if line.floor < 0 else 5.0 * (line.floor - 1)
    return Solved(line.size, line.feet, flow, nozzle, nozzle + friction + level, line.count)


# ------------------------------------------------------------------------------------------------------------- in words


def in_words(n: int, chance: Random) -> str:
    """A number as people say it: "two hundred fifty", "two fifty", "a hundred and twenty five"."""
    hundreds, rest = divmod(n, 100)
    small = _small(rest)
    if not hundreds:
        return small
    if not rest:
        return chance.choice([f"{ONES[hundreds]} hundred", *(["a hundred"] if hundreds == 1 else [])])
    ways = [f"{ONES[hundreds]} hundred {small}", f"{ONES[hundreds]} hundred and {small}"]
    return chance.choice([*ways, *([f"{ONES[hundreds]} {small}"] * 2 if rest >= 10 else [])])


def _small(n: int) -> str:
    if n < 20:
        return ONES[n]
    tens, ones = divmod(n, 10)
    return TENS[tens] + (f" {ONES[ones]}" if ones else "")


class Wording:
    """How one message is said: numbers in words or in figures, and by chance the rest."""

    def __init__(self, chance: Random) -> None:
        self.chance = chance
        self.words = chance.random() < 0.4

    def number(self, n: int) -> str:
        words = self.words if self.chance.random() < 0.85 else not self.words
        return in_words(n, self.chance) if words else str(n)

    def size(self, line: Line) -> str:
        said = self.chance.choice(SIZES[line.size])
        return said + self.chance.choice(["", "", "", " line", " hose"])

    def length(self, line: Line) -> str:
        n = self.number(line.feet)
        if n.isdigit():
            return n + self.chance.choice([" feet", " ft", "ft", " foot", "'"])
        return n + self.chance.choice([" feet", " foot"])

    def run(self, line: Line) -> str:
        """Length and size together."""
        length, size = self.length(line), self.size(line)
        if self.chance.random() < 0.25:
            return f"{self.chance.choice(SIZES[line.size])} {length}"
        of = self.chance.choice([" of ", " of ", " "])
        return f"{length}{of}{size}"

    def nozzle(self, line: Line, *, leads: bool) -> str:
        """The tip or the flow; `leads`: it stands before the hose."""
        if line.tip is not None:
            size = self.chance.choice(TIPS[line.tip])
            if leads or line.tip == 1.0 or self.chance.random() < 0.7:
                size += self.chance.choice([" tip", " tip", " smooth bore"])
            if leads:
                return size + self.chance.choice(["", " on"])
            return self.chance.choice([f"with {'an' if size.startswith('inch') else 'a'} ", "", "with "]) + size
        n = self.number(line.flow or 0)
        if leads:
            return f"{n} gpm" + self.chance.choice(["", " through"])
        return self.chance.choice([
            f"flowing {n}", f"flowing {n}", f"flowing {n} gpm", f"{n} gpm", f"at {n} gpm", f"@ {n} gpm", f"flow {n}",
            f"{n} gallons a minute", f"at {n} gallons per minute", f"with a {n} gpm fog", f"fog nozzle at {n} gpm",
        ])  # fmt: skip

    def floor(self, line: Line) -> str:
        n = line.floor or 1
        if n < 0:
            return self.chance.choice(["basement", "in the basement", "to the basement"])
        nth = {2: "2nd", 3: "3rd"}.get(n, f"{n}th")
        return self.chance.choice([
            f"{NTH[n]} floor", f"{NTH[n]} floor", f"{nth} floor", f"on the {NTH[n]} floor", f"to the {NTH[n]} floor",
            f"floor {n}", f"on floor {ONES[n]}",
        ])  # fmt: skip


# ----------------------------------------------------------------------------------------------------------- a message


def some_line(chance: Random, counted: bool) -> Line:
    """A line that a crew could lay: nothing near a hose's test pressure."""
    while True:
        if chance.random() < 0.08:
            name = chance.choice(list(CARRIED))
            line = Line(*CARRIED[name], name=name)
        else:
            size = chance.choice([1.5, 1.75, 1.75, 1.75, 2.0, 2.5, 2.5, 3.0])
            line = Line(size, 50 * chance.randint(1, 8))
        nozzle = chance.choice(["tip", "flow", "flow", "usual"])
        tip, flow = None, None
        if nozzle == "tip" and USUAL_TIPS[line.size] and not line.name:
            tip = chance.choice(USUAL_TIPS[line.size])
        elif nozzle != "usual" or (line.size not in (1.75, 2.5)):
            flow = chance.choice(FLOWS[line.size])
        floor = chance.choice([None, None, None, -1, 2, 2, 3, 3, 4, 5, 6, 8, 9, 12])
        count = chance.choice([2, 2, 3]) if counted and not line.name and chance.random() < 0.3 else 1
        line = Line(line.size, line.feet, tip, flow, floor, count, line.name)
        if solved(line).pressure_psi <= 250:
            return line


class Message(NamedTuple):
    """What is said, and the lines that it says."""

    text: str
    lines: tuple[Line, ...]
    form: str
    """Which way of joining made it, for the tally."""


STRONG = (" and ", " plus ", ", and ", ", plus ", "; ", ". ", ", also ", " and ")
"""What parts two lines whatever stands inside them."""
WHOLE = (("run", "nozzle", "floor"), ("run", "floor", "nozzle"), ("floor", "run", "nozzle"), ("nozzle", "run", "floor"))
APART = tuple(permutations(("size", "length", "nozzle", "floor")))
"""Orders of a line's parts: the hose said as one, and every part by itself."""


OPENINGS = (
    "", "", "", "", "what's my pressure for ", "what do I pump for ", "pump pressure for ", "I've got ", "we have ",
    "pressures for ", "pulling ",
)  # fmt: skip


def message(chance: Random) -> Message:
    """One message.

    What parts its lines is stronger than what stands inside them, or all of them begin with the same part.
    """
    how_many = chance.randint(1, 6)
    counted = chance.random() < 0.2
    lines: list[Line] = []
    while len(lines) < how_many:
        line = some_line(chance, counted)
        if all(solved(line)[:5] != solved(other)[:5] and (not line.name or line.name != other.name) for other in lines):
            lines.append(line)
    build = chance.choice([_strong, _strong, _comma, _same_order, _nothing, _shared])
    for _ in range(50):
        made = build(chance, lines, Wording(chance))
        opening = chance.choice(OPENINGS)
        made = made._replace(text=opening + made.text)
        if not _numbers_meet(made.text) and len({solved(line)[:5] for line in made.lines}) == how_many:
            return made
    return message(chance)


def _numbers_meet(text: str) -> bool:
    """Two numbers in words side by side, which nobody could part by ear."""
    return _MEET.search(text) is not None


_SPOKEN = "|".join([*ONES[1:], *TENS[2:], "hundred"])
_AFTER = "feet|foot|inch|and a half|and three|and an|and a quarter|point|lines|1|eighths|sixteenths"
_MEET = re.compile(
    rf"(?:floor|flowing|flow|at|@) (?:(?:{_SPOKEN}|and|a)\b ?)+?(?:{_SPOKEN}) (?:an? )?(?:{_SPOKEN})"
    rf"(?: (?:{_SPOKEN}|and))* (?:{_AFTER})"
    rf"|(?:half|quarter|eighth|eighths|sixteenths|quarters|five) (?:an? )?(?:{_SPOKEN})\b"
    rf"|hundred and (?:{'|'.join(ONES[1:10])})\b"
    r"|\d (?:1 1/|1 3/|2 1/)|/\d \d|floor (?:\d+|\w+) (?:\d|one|two|three|inch)"
)


def _parts(line: Line, say: Wording, order: tuple[str, ...], chance: Random) -> list[str]:
    """The line's parts in an order; a count stands with its hose."""
    said: dict[str, str] = {}
    if line.name:
        said["run"] = line.name
    elif line.count > 1:
        number = ONES[line.count] if chance.random() < 0.6 else str(line.count)
        size, feet = chance.choice(SIZES[line.size]), say.length(line)
        size = size if not size.startswith("inch") else f"{line.size:g}"  # "two inch and a half lines" is another hose
        ways = [f"{number} {feet} {size} lines", f"{number} {size} lines {feet}", f"{number} lines {feet} of {size}"]
        said["run"] = chance.choice(ways)
    else:
        said |= {"run": say.run(line), "size": say.size(line), "length": say.length(line)}
    if line.tip is not None or line.flow is not None:
        each = line.count > 1 and line.flow is not None and chance.random() < 0.5
        said["nozzle"] = say.nozzle(line, leads=order[0] == "nozzle") + (" each" if each else "")
    if line.floor is not None:
        said["floor"] = say.floor(line)
    if "size" in order and "size" not in said:  # a line with a name or a count isn't taken apart
        order = tuple("run" if part == "size" else part for part in order if part != "length")
    return [said[part] for part in order if part in said]


def _strong(chance: Random, lines: list[Line], say: Wording) -> Message:
    """Any order in each line, with spaces or commas inside, and an "and" or a stop between the lines."""
    inner, outer = chance.choice([" ", " ", ", "]), chance.choice(STRONG)
    lines = _own_floors(lines, paused=inner == ", ")
    said = []
    for line in lines:
        orders = [*WHOLE, *APART] if inner == ", " else WHOLE
        order = chance.choice([o for o in orders if _leads_well(o, line, lines)])
        said.append(inner.join(_parts(line, say, order, chance)))
    return Message(outer.join(said), tuple(lines), "strong" + (", apart" if inner == ", " else ""))


def _leads_well(order: tuple[str, ...], line: Line, lines: list[Line]) -> bool:
    """A floor before all is everybody's, unless every line has its own."""
    unsaid = {"nozzle"} if line.tip is None and line.flow is None else set()
    if line.name or line.count > 1:  # not taken apart: its length goes with its size
        unsaid.add("length")
    first = next(part for part in order if part not in unsaid)
    return first != "floor" or line is not lines[0] or all(other.floor is not None for other in lines)


def _comma(chance: Random, lines: list[Line], say: Wording) -> Message:
    """Any order in each line with nothing inside it, and commas between the lines."""
    lines = _own_floors(lines, paused=False)
    said = []
    for line in lines:
        order = chance.choice([o for o in WHOLE if _leads_well(o, line, lines)])
        said.append(" ".join(_parts(line, say, order, chance)))
    return Message(", ".join(said), tuple(lines), "comma")


def _same_order(chance: Random, lines: list[Line], say: Wording) -> Message:
    """Commas inside and between: every line begins with the same part of its hose."""
    lines = _own_floors(lines, paused=True)
    plain = all(line.count == 1 and not line.name for line in lines)
    orders = [o for o in APART if o[0] in ("size", "length")] if plain else []
    order = chance.choice([*WHOLE[:2] * 6, *orders])
    said = [", ".join(_parts(line, say, order, chance)) for line in lines]
    return Message(chance.choice([", ", ", ", ", and "]).join(said), tuple(lines), "same order")


def _nothing(chance: Random, lines: list[Line], say: Wording) -> Message:
    """Nothing between: every line begins with its hose."""
    lines = _own_floors(lines, paused=False)
    order = chance.choice(WHOLE[:2])
    said = [" ".join(_parts(line, say, order, chance)) for line in lines]
    return Message(" ".join(said), tuple(lines), "nothing")


def _shared(chance: Random, lines: list[Line], say: Wording) -> Message:
    """One floor for all: before them, after a pause at the end, or with "all"."""
    floor = chance.choice([2, 3, 4, -1])
    lines = [replace(line, floor=None) for line in lines]
    if len(lines) < 2 or len({solved(line) for line in lines}) < len(lines):
        return _comma(chance, lines, say)
    outer = chance.choice([" and ", " plus ", ", "])
    said = outer.join(" ".join(_parts(line, say, WHOLE[0], chance)) for line in lines)
    lines = [replace(line, floor=floor) for line in lines]
    where = say.floor(lines[0])
    every = "both" if len(lines) == 2 else "all"
    text = chance.choice(
        [f"{where}, {said}", f"{said}, {where}", f"{said}, {every} {where}", f"{said} {every} {where}"]
    )
    return Message(text, tuple(lines), "shared")


def _own_floors(lines: list[Line], *, paused: bool) -> list[Line]:
    """Without a floor that only the last line has after a pause, or of two lines: that may be everybody's."""
    have = [line.floor is not None for line in lines]
    if sum(have) == 1 and have[-1] and len(lines) > 1 and (paused or len(lines) == 2):
        return [replace(line, floor=None) for line in lines]
    return lines


# ---------------------------------------------------------------------------------------------------------- the tally

Verdict: TypeAlias = Literal["right", "asked", "wrong"]


class Panel:
    """Reads and answers messages as `crosslay ask` does, on the demonstration rig."""

    def __init__(self) -> None:
        self._asker = Crosslay.of(Settings())

    def judge(self, said: Message) -> tuple[Verdict, str]:
        """Right: every line as it was said. Wrong: another answer. Asked: a question, a refusal, silence."""
        handled = self._asker.answer(said.text)
        if handled.status != "answered":
            question = handled.question
            return "asked", question.text if question is not None else handled.reply
        answer = handled.answer
        if [outcome.intent for outcome in handled.outcomes] != ["pump_pressure"]:
            return "wrong", str([outcome.intent for outcome in handled.outcomes])
        given = sorted(
            Solved(x["hose_in"], x["length_ft"], x["flow_gpm"], x["nozzle_psi"], x["pressure_psi"], x["count"])
            for x in answer["lines"]
        )
        wanted = sorted(solved(line) for line in said.lines)
        alike = len(given) == len(wanted) and all(
            math.isclose(a, b, rel_tol=1e-6, abs_tol=0.02) for one, two in zip(given, wanted, strict=True)
            for a, b in zip(one, two, strict=True)
        )  # fmt: skip
        leads = max(solved(line).pressure_psi for line in said.lines)
        total = sum(line.count * solved(line).flow_gpm for line in said.lines)
        if alike and abs(answer["pump_pressure_psi"] - leads) < 0.02 and abs(answer["flow_gpm"] - total) < 0.02:
            return "right", ""
        return "wrong", f"{given}"


def messages(number: int, seed: int) -> Iterator[Message]:
    """That many messages, the same for the same seed."""
    chance = Random(seed)
    for _ in range(number):
        yield message(chance)
