"""Reads the corpus and says how it went: `python -m tests.grammar.corpus [FILES] [--show wrong asked declined …]`."""

from __future__ import annotations

import argparse
import time

import msgspec

from grammar.commands import Reading
from grammar.judge import active
from grammar.reader import read, warm
from tests.grammar.corpus.loader import Expectation
from tests.grammar.corpus.tally import Outcome, table, tally


def main() -> None:
    parser = argparse.ArgumentParser(description="Read the corpus and judge every reading.")
    parser.add_argument("files", nargs="?", default="*.jsonl", help="pattern of file names, e.g. 'water*'")
    parser.add_argument("--show", nargs="*", default=[], help="verdicts whose sentences are shown")
    parser.add_argument("--both", action="store_true", help="the learned reader judges too")
    options = parser.parse_args()
    warm()
    if options.both and not active.load():
        parser.error("the learned reader isn't there")
    start = time.perf_counter()
    outcomes = tally(read, options.files)
    took = time.perf_counter() - start
    for outcome in outcomes:
        if outcome.verdict in options.show:
            print(_story(outcome))
    print(table(outcomes))
    print(f"{1000 * took / max(len(outcomes), 1):.2f} ms a sentence")


def _story(outcome: Outcome) -> str:
    expected = outcome.case.expected
    lines = [f"{outcome.case.where} {outcome.verdict} [{expected.in_}] {expected.say!r}"]
    lines += [f"    due: {_due(expected)}", f"    got: {_got(outcome.reading)}"]
    return "\n".join(lines)


def _due(expected: Expectation) -> str:
    if expected.expect is not None:
        return _plain(expected.expect)
    return "declined" if expected.decline else "ignored" if expected.ignore else f"? {expected.ask}"


def _got(reading: Reading) -> str:
    if reading.question is not None:
        choices = " / ".join(choice.label for choice in reading.question.choices)
        return f"? {reading.intent}: {reading.question.text} [{choices}]"
    if reading.commands:
        return f"{reading.confidence:.2f} {_plain(reading.commands)}"
    return "ignored" if reading.ignored else f"declined ({reading.intent}): {reading.declined}"


def _plain(value: object) -> str:
    return msgspec.json.encode(value).decode()


if __name__ == "__main__":
    main()
