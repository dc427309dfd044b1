"""Counts the law of lays: `python -m tests.laws [how many] [seed] [--show wrong|asked]`."""

from __future__ import annotations

import sys
from collections import Counter

from tests.laws.lay_messages import Panel, messages


def main(arguments: list[str]) -> None:
    """Prints the counts, and with --show the messages of that verdict."""
    show = arguments[arguments.index("--show") + 1] if "--show" in arguments else ""
    numbers = [int(word) for word in arguments if word.isdigit()]
    number, seed = (*numbers, *(2000, 1)[len(numbers) :])
    panel, counts = Panel(), Counter[tuple[str, str]]()
    for said in messages(number, seed):
        verdict, why = panel.judge(said)
        counts[said.form, verdict] += 1
        if verdict == show:
            print(f"{said.form}: {said.text}\n    {why}")
    for form in sorted({form for form, _ in counts}):
        print(f"{form:16}", *(f"{verdict} {counts[form, verdict]:5}" for verdict in ("right", "asked", "wrong")))
    every = Counter[str]()
    for (_, verdict), count in counts.items():
        every[verdict] += count
    print(f"{'all':16}", *(f"{verdict} {every[verdict]:5}" for verdict in ("right", "asked", "wrong")))


if __name__ == "__main__":
    main(sys.argv[1:])
