"""What a part of the trial counted, and whether it is what is promised."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator
from dataclasses import dataclass, field

PATIENCE = 5
"""So many times longer than promised may a time be on a machine that has other work."""


@dataclass(frozen=True)
class Count:
    """One line of the table."""

    what: str
    value: float
    promise: str
    """What it must be, in words; "" where it only says how much was tried."""
    holds: bool
    excused: bool = False
    """A time over its bound, by less than a busy machine explains."""

    def __str__(self) -> str:
        shown = f"{self.value:,.2f}".rstrip("0").rstrip(".")
        verdict = "" if not self.promise else "  holds" if self.holds else "  BROKEN"
        return f"  {self.what:<66} {shown:>9}  {self.promise:<12}{verdict}".rstrip()


@dataclass
class Counts:
    """The lines of one part, in the order in which they were counted."""

    title: str
    lines: list[Count] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)
    """Examples of what broke, for whoever mends it."""

    def tried(self, what: str, value: float) -> None:
        """How much was tried."""
        self.lines.append(Count(what, value, "", holds=True))

    def none(self, what: str, found: list[object] | int) -> None:
        """Something that must not happen; of a list its first few are kept as examples."""
        number = found if isinstance(found, int) else len(found)
        if not isinstance(found, int):
            self.seen += [f"{what}: {example}" for example in found[:3]]
        self.lines.append(Count(what, number, "0", holds=number == 0))

    def exactly(self, what: str, value: float, wanted: float) -> None:
        self.lines.append(Count(what, value, f"= {wanted:g}", holds=value == wanted))

    def at_least(self, what: str, value: float, least: float) -> None:
        self.lines.append(Count(what, value, f"≥ {least:g}", holds=value >= least))

    def at_most(self, what: str, value: float, most: float, *, timed: bool = False) -> None:
        """`timed`: a time, which a busy machine makes longer."""
        self.lines.append(Count(what, value, f"≤ {most:g}", value <= most, timed and value <= PATIENCE * most))

    @property
    def broken_on_a_busy_machine(self) -> list[Count]:
        """The same, with times taken patiently: what the suite asserts, as no test of it measures time."""
        return [line for line in self.lines if not line.holds and not line.excused]

    @property
    def broken(self) -> list[Count]:
        """The lines where a promise isn't kept."""
        return [line for line in self.lines if not line.holds]

    def __str__(self) -> str:
        return "\n".join([self.title, *map(str, self.lines), *(f"    e.g. {example}" for example in self.seen)])


@contextlib.contextmanager
def unlogged() -> Iterator[None]:
    """What the program logs of each fault is no part of the account."""
    loggers = [logging.getLogger(name) for name in ("bot", "grammar", "telegram", "apscheduler", "aiohttp", "libav")]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)
