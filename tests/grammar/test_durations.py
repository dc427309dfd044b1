"""A duration of two parts is one: "an hour and ten minutes" are seventy minutes, never ten."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from grammar.commands import Benchmark, Timer
from grammar.reader import read
from grammar.spoken import below_hundred
from tests.grammar.corpus.loader import contexts

OFFICER = contexts()["officer"]


def said() -> Iterator[tuple[str, float]]:
    """(words, minutes)."""
    for hours, minutes in product((1, 2, 3), (1, 5, 10, 12, 15, 20, 30, 45)):
        hour = ["an hour", "one hour", "1 hour"] if hours == 1 else [f"{below_hundred(hours)} hours", f"{hours} hours"]
        for h, m in product(hour, (below_hundred(minutes), str(minutes))):
            whole = f"{m} minute" if minutes == 1 else f"{m} minutes"
            yield from ((f"{h}{joined}{whole}", hours * 60.0 + minutes) for joined in (" and ", " "))
        yield f"{hour[0]} and {below_hundred(minutes)}", hours * 60.0 + minutes
    yield from (("an hour and a half", 90), ("an hour and a quarter", 75), ("two hours and a half", 150))
    yield from (("a minute and a half", 1.5), ("two minutes and thirty seconds", 2.5), ("2 minutes 30 seconds", 2.5))
    yield from (("half an hour", 30), ("an hour", 60), ("ninety minutes", 90), ("two and a half hours", 150))


def test_a_timer_runs_for_all_that_was_said() -> None:
    for words, minutes in said():
        for wording in ("remind me in {}", "remind me in {} to check the roof", "timer for {}"):
            (timer,) = read(wording.format(words), OFFICER).commands
            assert isinstance(timer, Timer), words
            assert timer.minutes == minutes, words


def test_a_report_of_so_long_ago_is_of_then() -> None:
    for words, minutes in said():
        (stamp,) = read(f"knocked down {words} ago", OFFICER).commands
        assert isinstance(stamp, Benchmark), words
        assert stamp.time is not None, words
        assert stamp.time.ago_s == minutes * 60, words
