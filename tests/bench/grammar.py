"""The reader: time a sentence, start, memory, and how much it reads right with typos, beside a template matcher."""

from __future__ import annotations

import random
import re
import subprocess
import sys
import time
import tomllib
from collections import Counter
from itertools import product
from pathlib import Path
from statistics import median
from typing import TypeAlias

from hassil import Intents, recognize_best

from grammar.commands import (
    Benchmark,
    Command,
    Hydrant,
    LineOff,
    LineOn,
    Par,
    PumpPressure,
    Reading,
    SaidLine,
    TankTime,
)
from grammar.reader import read, warm
from tests.grammar.corpus.loader import cases, contexts
from tests.grammar.corpus.noise import typo

TEMPLATES = tomllib.loads(Path(__file__).with_name("grammar_templates.toml").read_text(encoding="utf-8"))
SENTENCES = 400
LONG = 12
Meaning: TypeAlias = tuple[str, frozenset[tuple[str, object]]]
"""An intent and its slots."""


def times() -> None:
    """Every sentence of the corpus three times, the quickest counts; and sentences run together, as nobody speaks."""
    warm()
    taken = sorted(min(_ms(case.expected.say, case) for _ in range(3)) for case in cases())
    said = [case.expected.say for case in cases()]
    chance = random.Random(12)
    worst = max(_ms(" ".join(chance.sample(said, LONG)), case) for case in list(cases())[:200])
    p99 = taken[len(taken) * 99 // 100]
    print(
        f"a sentence: p50 {median(taken):.2f} ms, p99 {p99:.2f}, slowest {taken[-1]:.2f} ({len(taken):,}; aim p99 ≤ 3)"
    )
    print(f"{LONG} sentences in one without a pause: slowest {worst:.1f} ms (200; aim ≤ 50)")


def _ms(said: str, case: object) -> float:
    context = getattr(case, "context")  # noqa: B009
    start = time.process_time()
    read(said, context)
    return (time.process_time() - start) * 1000


_START = """
import time
kib = lambda: int(next(l for l in open("/proc/self/status") if l.startswith("VmRSS")).split()[1])
before, start = kib(), time.perf_counter()
import grammar.reader as reader
imported = time.perf_counter() - start
from grammar.commands import Context
reader.read("two lines 200 feet 1.75 second floor", Context(addressed=True))
print(imported * 1000, (time.perf_counter() - start) * 1000, (kib() - before) / 1024)
"""


def start() -> None:
    """In a process of its own: the import, the first answer, the memory they take (where /proc tells)."""
    if not Path("/proc/self/status").exists():
        print("start: not measured, this system has no /proc")
        return
    ran = [subprocess.run([sys.executable, "-c", _START], capture_output=True, text=True, check=True) for _ in range(3)]
    imported, first, memory = min(tuple(float(x) for x in run.stdout.split()) for run in ran)
    print(f"start: imported in {imported:.0f} ms, first answer after {first:.0f} ms, {memory:.0f} MiB more (aim ≤ 60)")


def comparison() -> None:
    """Sentences of the templates, read by this reader and by the template matcher they were written for."""
    matcher = Intents.from_dict(
        {
            "language": "en",
            "intents": {intent: {"data": [{"sentences": said}]} for intent, said in TEMPLATES["templates"].items()},
            "lists": {
                slot: {"values": [{"in": said, "out": value} for said, value in ways.items()]}
                for slot, ways in TEMPLATES["slots"].items()
            },
        }
    )
    print(f"{SENTENCES} sentences of templates, right / nothing or asked / wrong:")
    for typos in (0, 1, 2):
        chance = random.Random(12)
        ours, theirs = Counter[str](), Counter[str]()
        for _ in range(SENTENCES):
            said, meaning = made(chance)
            for _ in range(typos):
                said = typo(chance, said)
            ours[verdict(ours_read(said), meaning)] += 1
            theirs[verdict(matched(said, matcher), meaning)] += 1
        print(f"  {typos} typos: this reader {told(ours)}; hassil {told(theirs)}")


def told(counts: Counter[str]) -> str:
    return " / ".join(f"{100 * counts[kind] / counts.total():.1f} %" for kind in ("right", "none", "wrong"))


def verdict(got: Meaning | None, meant: Meaning) -> str:
    return "none" if got is None else "right" if got == meant else "wrong"


def made(chance: random.Random) -> tuple[str, Meaning]:
    """A sentence of a template, and what it means."""
    intent = chance.choice(list(TEMPLATES["templates"]))
    said = chance.choice(_plain(chance.choice(TEMPLATES["templates"][intent])))
    slots = {}
    for slot in re.findall(r"{(\w+)}", said):
        way, slots[slot] = chance.choice(list(TEMPLATES["slots"][slot].items()))
        said = said.replace("{" + slot + "}", way)
    return said, (intent, frozenset(slots.items()))


def _plain(template: str) -> list[str]:
    """A template's sentences: each [word] with and without, each (one|other) both ways."""
    parts = re.split(r"(\[[^]]*\]|\([^)]*\))", template)
    ways = [[p[1:-1], ""] if p[:1] == "[" else p[1:-1].split("|") if p[:1] == "(" else [p] for p in parts]
    return [" ".join("".join(chosen).split()) for chosen in product(*ways)]


def matched(said: str, matcher: Intents) -> Meaning | None:
    result = recognize_best(said, matcher)
    if result is None:
        return None
    return result.intent.name, frozenset((name, entity.value) for name, entity in result.entities.items())


def ours_read(said: str) -> Meaning | None:
    context = contexts()["officer"]
    reading: Reading = read(said, context)
    return _meaning(reading.commands[0]) if len(reading.commands) == 1 else None


def _meaning(command: Command) -> Meaning:
    """A command in the templates' slots."""
    slots: dict[str, object] = {}
    match command:
        case PumpPressure(lays=(lay,)):
            slots = _line(lay.lines[0])
        case LineOn(ref=ref) | LineOff(ref=ref):
            slots = {"line": ref.name if ref else None}
        case Benchmark(benchmark=benchmark, place=place):
            slots = {"benchmark": benchmark, "floor": _FLOORS.get(place or "")}
        case Hydrant(static_psi=static, residual_psi=residual):
            slots = {"static": static, "residual": residual}
        case TankTime(flow_gpm=flow):
            slots = {"gpm": flow}
        case Par(unit=unit, count=count):
            slots = {"unit": unit, "people": count}
    return command.intent, frozenset((k, v) for k, v in slots.items() if v is not None)


_FLOORS = {f"{said} floor": value for said, value in TEMPLATES["slots"]["floor"].items()}


def _line(line: SaidLine) -> dict[str, object]:
    hose = line.hose[0] if line.hose else None
    return {
        "count": line.count if line.count > 1 else None,
        "line": line.name,
        "feet": hose.length_ft if hose else None,
        "size": hose.hose_in if hose else None,
        "floor": line.floor,
    }


def main() -> None:
    """Prints the figures."""
    times()
    start()
    comparison()
