"""`python -m tests.faults [--short] [part …]`: the program under faults, at full length; prints what was counted.

Every load goes to 127.0.0.1, is bounded, and ends by itself. tests/faults/test_short.py runs the short form.
"""

from __future__ import annotations

import asyncio
import importlib
import sys
import time
from collections.abc import AsyncIterator, Callable

from tests.faults.counts import Counts, unlogged

PARTS = ("kills", "migration", "clocks", "service", "store", "postgresql", "load", "fuzz")
"""Each a module here with `run(full)`, which gives its counts one after the other."""


def part(name: str) -> Callable[[bool], AsyncIterator[Counts]]:
    """A part's `run`."""
    run: Callable[[bool], AsyncIterator[Counts]] = importlib.import_module(f"tests.faults.{name}").run
    return run


async def _print(name: str, full: bool) -> int:
    """Runs a part; returns how many promises were broken."""
    broken, since = 0, time.monotonic()
    async for counts in part(name)(full):
        print(f"{counts}\n  ({time.monotonic() - since:.0f} s)\n", flush=True)
        broken, since = broken + len(counts.broken), time.monotonic()
    return broken


def main(arguments: list[str]) -> int:
    """Runs the named parts, or all."""
    full = "--short" not in arguments
    wanted = [argument for argument in arguments if argument != "--short"] or list(PARTS)
    for name in wanted:
        if name not in PARTS:
            print(f"There is no part {name}; the parts are {', '.join(PARTS)}.", file=sys.stderr)
            return 2
    with unlogged():
        broken = sum(asyncio.run(_print(name, full)) for name in wanted)
    print("Everything promised holds." if not broken else f"{broken} promise(s) BROKEN.")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
