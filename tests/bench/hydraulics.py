"""Speed of the solver on 10,000 random lays, of the whole answer to a pressure question, and of the pictures."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from statistics import median

from grammar.commands import PumpPressure, SaidNozzle
from handlers.outcome import Picture
from handlers.pumping.layout import Appliance, HoseSection, Outlet, Path, Rise, Split
from handlers.pumping.network import required, ungated
from tests.handlers.pumping.asking import ENGINE_12, ask, hose, line, pressure

LAYS = 10_000
PICTURES = 10
COEFFICIENTS = {1.75: 15.5, 2.5: 2.0, 3.0: 0.8}


def random_line(chance: random.Random) -> Path:
    """A line of one or two hoses on some floor."""
    sizes = chance.sample(sorted(COEFFICIENTS), chance.choice((1, 2)))
    sections = tuple(HoseSection(size, chance.randrange(50, 400, 50), COEFFICIENTS[size]) for size in sizes)
    return Path((*sections, Rise(5.0 * chance.randrange(-1, 8))), Outlet(chance.randrange(95, 300), 100))


def random_manifold(chance: random.Random) -> Path:
    """A feed to a manifold with three different legs."""
    feed = HoseSection(3.0, chance.randrange(100, 600, 50), 0.8)
    return Path((feed, Appliance("manifold", 10, 350)), Split(tuple(random_line(chance) for _ in range(3))))


def random_question(chance: random.Random) -> PumpPressure:
    """One or two equal hand lines, as people ask."""
    nozzle = SaidNozzle(flow_gpm=chance.choice((95, 125, 150)))
    one = line(hose(1.75, chance.randrange(50, 300, 50)), count=chance.choice((1, 2)), floor=chance.randrange(1, 6),
               nozzle=nozzle)  # fmt: skip
    return pressure(one)


def timed(work: Callable[[], object]) -> float:
    """Milliseconds of processor time, so that other programs on the machine don't count."""
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1000


def told(name: str, times_ms: list[float], aim: str) -> str:
    """Mean, median and the slowest hundredth of some runs."""
    slow = sorted(times_ms)[min(len(times_ms) - 1, int(len(times_ms) * 0.99))]
    mean = sum(times_ms) / len(times_ms)
    return f"{name}: mean {mean:.3f} ms, p50 {median(times_ms):.3f}, p99 {slow:.3f} ({len(times_ms):,} runs; {aim})"


def main() -> None:
    """Prints the figures."""
    from bot.drawing import draw

    chance = random.Random(12)
    lines = [random_line(chance) for _ in range(LAYS)]
    manifolds = [random_manifold(chance) for _ in range(LAYS)]
    pressures = [chance.uniform(100, 280) for _ in range(LAYS)]
    asked = [random_question(chance) for _ in range(LAYS)]
    ungated(manifolds[0], 150)  # scipy is loaded by the first
    print(told("hydraulics, closed-form lay", [timed(lambda lay=lay: required(lay)) for lay in lines], "aim ≤ 0.2 ms"))
    print(told(
        "hydraulics, ungated three-leg network",
        [timed(lambda lay=lay, psi=psi: ungated(lay, psi)) for lay, psi in zip(manifolds, pressures, strict=True)],
        "aim ≤ 3 ms",
    ))  # fmt: skip
    print(told("hydraulics, a pressure question with its reply", [timed(lambda c=c: ask(c).reply) for c in asked], "-"))
    for what in ("profile", "chart"):
        picture = Picture(what, command=asked[0])
        print(told(f"drawing, {what}", [timed(lambda p=picture: draw(p, ENGINE_12)) for _ in range(PICTURES)], "-"))


if __name__ == "__main__":
    main()
