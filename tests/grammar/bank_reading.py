"""Reads sentences drawn from the wording bank: `python -m tests.grammar.bank_reading [--held-out] [--show wrong …]`."""

from __future__ import annotations

import argparse
import random
from collections import Counter, defaultdict

from grammar.bank import Said, draw, ways
from grammar.commands import Context, Reading
from grammar.judge import active
from grammar.reader import read, warm
from tests.grammar.corpus.loader import canonical, contexts

LOGS_NOTHING = frozenset(("PumpPressure", "Status", "Elapsed", "Help", "TankTime", "Repeat", "Par"))


def verdict(said: Said, reading: Reading, context: Context) -> str:
    """right, asked, declined or wrong, as the corpus has it; free words kept by a command aren't compared."""
    if said.commands is None:
        logged = [c for c in reading.commands if type(c).__name__ not in LOGS_NOTHING]
        return "wrong" if logged else "right"
    if not said.commands:
        return "right" if reading.question else "wrong" if reading.commands else "declined"
    if reading.commands:
        loose = ("text", "remark", "task", "nature", "address")
        return (
            "right"
            if canonical(reading.commands, context, loose) == canonical(said.commands, context, loose)
            else "wrong"
        )
    return "asked" if reading.question else "declined"


def main() -> None:
    parser = argparse.ArgumentParser(description="Read sentences drawn from the wording bank.")
    parser.add_argument("--draws", type=int, default=1, help="sentences a way")
    parser.add_argument("--held-out", action="store_true", help="only the tenth that is measured on")
    parser.add_argument("--show", nargs="*", default=[], help="verdicts whose sentences are shown")
    parser.add_argument("--file", default="", help="only ways of this file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--both", action="store_true", help="the learned reader judges too")
    options = parser.parse_args()
    warm()
    if options.both and not active.load():
        parser.error("the learned reader isn't there")
    rng = random.Random(options.seed)
    tally: dict[str, Counter[str]] = defaultdict(Counter)
    for way in ways(options.held_out):
        if not way.where.startswith(options.file):
            continue
        for _ in range(options.draws):
            said = draw(way, rng)
            context = contexts()[way.context]
            reading = read(said.words, context)
            judged = verdict(said, reading, context)
            group = (
                "+".join(c.__name__ for c, _ in way.means) if way.means else "nothing" if way.means is None else "ask"
            )
            tally[group][judged] += 1
            if judged in options.show:
                got = reading.commands or (reading.question and reading.question.text) or reading.declined
                print(f"{judged} {way.where} {said.words!r}\n    due {said.commands}\n    got {got}")
    total: Counter[str] = Counter()
    for group, counts in sorted(tally.items(), key=lambda entry: -entry[1].total()):
        total += counts
        print(f"{group:32} {dict(counts)}")
    every = max(total.total(), 1)
    print("all", every, {name: f"{n} ({100 * n / every:.1f} %)" for name, n in total.most_common()})


if __name__ == "__main__":
    main()
