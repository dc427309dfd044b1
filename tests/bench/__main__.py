"""`python -m tests.bench [part …]` prints speed and memory with the machine's name; each module here is a part."""

from __future__ import annotations

import importlib
import os
import platform
import sys
from pathlib import Path

HELPERS = {"__main__", "telegram_echo"}


def machine() -> str:
    """What the figures were measured on."""
    model = platform.processor() or platform.machine()
    try:
        lines = Path("/proc/cpuinfo").read_text("utf-8").splitlines()
        model = next(line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        pass
    busy = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return f"{platform.node()}: {model}, {os.cpu_count()} cores, Python {platform.python_version()}{busy}"


def parts() -> dict[str, str]:
    """The parts by name, and their modules."""
    found = sorted(Path(__file__).parent.iterdir())
    names = (path.stem for path in found if path.suffix == ".py" or (path / "__init__.py").exists())
    return {name: f"tests.bench.{name}" for name in names if name not in HELPERS}


def main() -> int:
    """Run the named parts, or all."""
    known = parts()
    wanted = sys.argv[1:] or list(known)
    for name in wanted:
        if name not in known:
            print(f"There is no part {name}; the parts are {', '.join(known)}.", file=sys.stderr)
            return 2
    print(machine())
    for name in wanted:
        print(f"\n{name}", flush=True)
        importlib.import_module(known[name]).main()
    return 0


if __name__ == "__main__":
    sys.exit(main())
