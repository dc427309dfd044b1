"""`python -m tests.faults [--short] [part …]`: the program under faults, at full length; prints what was counted.

Every load goes to 127.0.0.1, is bounded, and ends by itself. Without names all parts run, those that only take time
or processor (BESIDE) beside those in which times are promised. tests/faults/test_short.py runs the short form.
"""

from __future__ import annotations

import asyncio
import importlib
import os
import sys
import time
from asyncio.subprocess import PIPE
from collections.abc import AsyncIterator, Callable, Sequence

from tests.faults.counts import Counts, unlogged

PARTS = (
    "kills", "load", "postgresql", "standstill", "service", "clocks", "migration", "store", "day", "fuzz"
)  # fmt: skip
"""Each a module here with `run(full)`, which gives its counts one after the other."""
BESIDE = ((0, ("standstill", "service", "clocks")), (10, ("migration", "store", "day", "fuzz")))
"""Parts that mostly wait, and parts that work without a time being promised and let the others go first (niceness)."""


def part(name: str) -> Callable[[bool], AsyncIterator[Counts]]:
    """A part's `run`."""
    run: Callable[[bool], AsyncIterator[Counts]] = importlib.import_module(f"tests.faults.{name}").run
    return run


async def _print(name: str, full: bool) -> int:
    """Runs a part; returns how many promises were broken."""
    broken, began = 0, time.monotonic()
    since = began
    async for counts in part(name)(full):
        print(f"{counts}\n  ({time.monotonic() - since:.0f} s)\n", flush=True)
        broken, since = broken + len(counts.broken), time.monotonic()
    print(f"part {name}: {time.monotonic() - began:.0f} s\n", flush=True)
    return broken


async def _beside(niceness: int, names: Sequence[str], full: bool) -> int:
    """Runs parts in a process of their own; prints what it printed when it ends."""
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.faults", *([] if full else ["--short"]), *names, stdout=PIPE,
        preexec_fn=lambda: os.nice(niceness),
    )  # fmt: skip
    out, _ = await process.communicate()
    *account, verdict = out.decode().rstrip().splitlines() or [""]
    print("\n".join(account), flush=True)
    if process.returncode and not verdict.partition(" ")[0].isdigit():
        print(f"{', '.join(names)}: ended by itself ({process.returncode}). {verdict}", flush=True)
        return 1
    return int(verdict.partition(" ")[0]) if process.returncode else 0


async def _all(full: bool) -> int:
    """Every part."""
    beside = [asyncio.create_task(_beside(niceness, names, full)) for niceness, names in BESIDE]
    apart = {name for _, names in BESIDE for name in names}
    broken = sum([await _print(name, full) for name in PARTS if name not in apart])
    return broken + sum(await asyncio.gather(*beside))


async def _some(names: Sequence[str], full: bool) -> int:
    return sum([await _print(name, full) for name in names])


def main(arguments: list[str]) -> int:
    """Runs the named parts, or all."""
    full = "--short" not in arguments
    wanted = [argument for argument in arguments if argument != "--short"]
    for name in wanted:
        if name not in PARTS:
            print(f"There is no part {name}; the parts are {', '.join(PARTS)}.", file=sys.stderr)
            return 2
    began = time.monotonic()
    with unlogged():
        broken = asyncio.run(_some(wanted, full) if wanted else _all(full))
    print(f"It took {(time.monotonic() - began) / 60:.1f} min.")
    print("Everything promised holds." if not broken else f"{broken} promise(s) BROKEN.")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
