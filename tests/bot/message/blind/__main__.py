"""Counts the sets: `python -m tests.bot.message.blind [-v] [SET …]`."""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict

from bot.api import Crosslay
from bot.message.as_json import as_object
from tests.bot.message.blind.rows import SETS, rows, verdict


def main() -> None:
    """Print the shares of each set and group; with -v every row that isn't right."""
    parser = argparse.ArgumentParser()
    parser.add_argument("sets", nargs="*", default=SETS)
    parser.add_argument("-v", action="store_true")
    given = parser.parse_args()
    crew = Crosslay()
    for name in given.sets:
        counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
        for row in rows(name):
            told = as_object(crew.answer(row["text"]))
            how = verdict(row, told)
            counts[row["group"]][how] += 1
            counts["all"][how] += 1
            if given.v and how != "right":
                print(f"{how:9}{row['text']}\n{'':9}{told['reply']}")
        for group, found in counts.items():
            shares = "  ".join(f"{how} {found[how]}" for how in ("right", "asked", "declined", "wrong"))
            print(f"{name:12}{group:12}{shares}  ({100 * found['right'] / found.total():.1f} %)")


if __name__ == "__main__":
    main()
