"""Time at fault: the machine's clock an hour off or jumping, and daylight saving."""

from __future__ import annotations

import contextlib
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from bot import rigs
from bot.clock import ServiceClock
from bot.incident import Incident
from tests.bot.rooms.at_work import at_work
from tests.faults.counts import Counts
from tests.faults.fire import BOARD
from tests.faults.service import account, answered
from tests.telegram.server import BotApiServer

HOUR = timedelta(hours=1)
WHOLE_S = 1.1
"""The service tells its time in whole seconds: closer than that no clock can be put right by it."""
_SEE_THE_CLOCK = ("bot.clock", "bot.rooms.telegram.incoming")


class _Like(type(datetime)):  # type: ignore[misc]
    def __instancecheck__(cls, value: object) -> bool:
        return isinstance(value, datetime)


class MachineClock:
    """The wall clock as the program sees it, off by `off`; the steady clock goes on as it does when one is set."""

    def __init__(self) -> None:
        self.off = timedelta(0)

    @contextlib.contextmanager
    def seen(self) -> Iterator[None]:
        """Everything that asks the wall clock in the program is given this one."""
        machine = self

        class Shifted(datetime, metaclass=_Like):
            @classmethod
            def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
                return datetime.now(tz) + machine.off

        modules = [sys.modules[name] for name in _SEE_THE_CLOCK if name in sys.modules]
        for module in modules:
            vars(module)["datetime"] = Shifted
        try:
            yield
        finally:
            for module in modules:
                vars(module)["datetime"] = datetime


async def off_by(before: timedelta, after: timedelta, *, webhook: bool = False) -> Counts:
    """The machine's clock is off by `before`, and jumps to be off by `after` while timers run."""
    counts = Counts(f"the machine's clock {_said(before)}" + (f", then {_said(after)}" if after != before else ""))
    counts.title += ", by webhook" if webhook else ""
    machine = MachineClock()
    machine.off = before
    with tempfile.TemporaryDirectory() as folder, machine.seen():
        async with BotApiServer() as telegram:
            dana = telegram.person("Dana")
            record = f"{folder}/record.sqlite"
            async with at_work(telegram, dana.private, database=record, clock=ServiceClock(), webhook=webhook):
                asked = [dana.says("I'm the officer"), dana.says("engine 12 on scene")]
                await answered(telegram, asked, 30)
                due: dict[str, float] = {}
                for number in range(6):
                    asked.append(dana.says(f"remind me in {3 + number} seconds to check hose {number}"))
                    due[f"check hose {number}."] = asked[-1].date + 3 + number
                await answered(telegram, asked, 30)
                machine.off = after
                with contextlib.suppress(AssertionError):
                    await telegram.until(lambda: len(_told(telegram, due)) == len(due), timeout_s=25)
                asked.append(dana.says("crosslay 1"))
                await answered(telegram, asked, 30)
                with contextlib.suppress(AssertionError):
                    await telegram.until(lambda: _warned(telegram) > 0, timeout_s=2)
    told = _told(telegram, due)
    account(counts, "answers", asked)
    counts.none("timers not told within 25 s", [label for label in due if label not in told])
    counts.none("timers told more than once", [label for label, times in told.items() if len(times) > 1])
    early = [label for label, times in told.items() if times[0] < due[label] - WHOLE_S]
    counts.none(f"timers told more than {WHOLE_S:g} s early", list(early))
    counts.at_most("latest, s", max((t[0] - due[label] for label, t in told.items()), default=0), 2, timed=True)
    if before or after:
        counts.at_least("warnings of the clock in the officer's room", _warned(telegram), 1)
    return counts


def _said(off: timedelta) -> str:
    if not off:
        return "right"
    return f"{abs(off).total_seconds() / 60:g} min {'fast' if off > timedelta(0) else 'slow'}"


def _told(telegram: BotApiServer, due: dict[str, float]) -> dict[str, list[float]]:
    """When each timer was told, by true time."""
    ahead = time.time() - time.monotonic()
    told: dict[str, list[float]] = {}
    for call in telegram.called("sendMessage"):
        text = str(call.given.get("text", ""))
        if call.status == 200 and "reply_parameters" not in call.given and "Timer:" in text:
            for label in due:
                if label in text:
                    told.setdefault(label, []).append(call.at + ahead)
    return told


def _warned(telegram: BotApiServer) -> int:
    texts = [str(call.given.get("text", "")) for call in telegram.called("sendMessage")]
    return sum("clock" in text.casefold() and not BOARD.match(text) for text in texts)


# --- daylight saving

CHANGES = {
    "America/New_York, clocks forward": (ZoneInfo("America/New_York"), datetime(2026, 3, 8, 6, 40, tzinfo=UTC)),
    "America/New_York, clocks back": (ZoneInfo("America/New_York"), datetime(2026, 11, 1, 5, 40, tzinfo=UTC)),
    "Europe/Dublin, clocks back": (ZoneInfo("Europe/Dublin"), datetime(2026, 10, 25, 0, 40, tzinfo=UTC)),
    "Australia/Lord_Howe, by half an hour": (ZoneInfo("Australia/Lord_Howe"), datetime(2026, 4, 4, 14, 40, tzinfo=UTC)),
}
"""Twenty minutes before each change."""
_NIGHT = (
    (0, "officer", "engine 12 on scene"),
    (10, "driver", "charge crosslay 1"),
    (30, "officer", "water on the fire"),
    (60, "crew", "engine 12 in with two at 4500"),
    *((70 + number, "driver", f"remind me in {number * 7 + 1} minutes to check hose {number}") for number in range(14)),
    (100, "driver", "on the hydrant"),
    (3000, "crew", "engine 12 out at 2000"),
)


async def night(tz: tzinfo, start: datetime) -> list[tuple[float, str, str]]:
    """(second, room, name and timer's label) of everything told in two hours from `start`."""
    rehearsal = await Incident.open(rigs.load(), tz, start)
    told: list[tuple[float, str, str]] = []

    def note() -> None:
        second = (rehearsal.clock.now() - start).total_seconds()
        told.extend((second, out.room, _name(out)) for out in rehearsal.take() if out.kind != "reply")

    async def to(end: datetime) -> None:
        while (due := await rehearsal.next_reminder()) is not None and due < end:
            rehearsal.clock.move_to(due)
            await rehearsal._pipeline.fire()
            await rehearsal._outbox.drain()
            note()
        rehearsal.clock.move_to(end)

    try:
        for second, who, words in _NIGHT:
            await to(start + timedelta(seconds=second))
            await rehearsal.say(who, words)
            note()
        await to(start + 2 * HOUR)
    finally:
        await rehearsal.close()
    return told


def _name(out: Any) -> str:
    return out.text.splitlines()[0] if out.name == "timer" else out.name


async def daylight_saving() -> Counts:
    """A night with the change in it tells what any other night tells, at the same seconds."""
    counts = Counts("daylight saving: two hours across the change beside the same two hours in UTC")
    plain = await night(UTC, datetime(2026, 6, 3, 6, 40, tzinfo=UTC))
    counts.tried("things told in two hours, timers among them", len(plain))
    counts.exactly("  timers", sum(name.startswith("Timer: check hose") for _, _, name in plain), 14)
    for name, (tz, start) in CHANGES.items():
        changed = await night(tz, start)
        counts.none(f"{name}: told otherwise", list(set(changed) ^ set(plain)))
    return counts


async def run(full: bool) -> AsyncIterator[Counts]:
    """The clock off and jumping by an hour either way (short: two of four), four changes of the clocks."""
    nothing = timedelta(0)
    shifts = [(HOUR, HOUR), (-HOUR, -HOUR), (nothing, HOUR), (nothing, -HOUR)]
    for before, after in shifts if full else shifts[:2]:
        yield await off_by(before, after)
    yield await off_by(HOUR, HOUR, webhook=True)
    yield await daylight_saving()
