"""300 real incidents through the whole pipeline on the simulated clock, and the board of a busy one."""

from __future__ import annotations

import asyncio
import time
from datetime import UTC, datetime, timedelta

from bot import rigs
from bot.incident import Incident
from grammar.commands import Entry, Par
from handlers.events import BenchmarkReported, IncidentOpened, LineOpened, PumpReady, UnitJoined, WorkingLine
from handlers.incident.board import board
from tests.handlers.fireground import Fireground, clock_time
from tests.published.toronto import TORONTO, RealIncident, incidents

BOARDS = 500


def main() -> None:
    asyncio.run(_replay())
    _board()


async def _replay() -> None:
    in_order = sorted(incidents(), key=lambda real: real.alarm)
    known = rigs.load("")
    records: list[Incident] = []
    said = told = events = 0
    begun, processor = time.perf_counter(), time.process_time()
    for real in in_order:
        record = next((one for one in records if one.clock.now() < real.alarm), None)
        if record is None:  # some last while the next begins: as many records as there are at once
            record = await Incident.open(known, TORONTO, real.alarm)
            records.append(record)
        notices, logged = await _play(real, record)
        if notices != _expected(real):
            raise AssertionError(f"incident {real.id}: {len(notices)} notices, {len(_expected(real))} expected")
        said += 5
        told += len(notices)
        events += logged
    for record in records:
        await record.close()
    took, used = time.perf_counter() - begun, time.process_time() - processor
    print(f"300 incidents, {said} messages, {events} events, {told} ten-minute notices, every one at its second")
    print(f"events through the whole pipeline in memory: {events / used:.0f} a second of processor time, ", end="")
    print(f"{events / took:.0f} by the clock; aim ≥ 300 a second")


async def _play(real: RealIncident, rehearsal: Incident) -> tuple[list[datetime], int]:
    """The times of the `elapsed` notices to the officer, and how many events were logged."""
    notices: list[datetime] = []
    for at, words in (
        (real.alarm, "dispatch: structure fire"),
        (real.arrival, "engine 12 on scene"),
        (real.agent, "water on the fire"),
        (real.control, "under control"),
        (real.clear, "command terminated"),
    ):
        while (due := await rehearsal.next_reminder()) is not None and due < at:
            sent = await rehearsal.jump_to(due)
            notices += [due for out in sent if out.name == "elapsed" and out.room.endswith(":officer")]
        rehearsal.clock.move_to(at)
        await rehearsal.say("officer", words)
    logged = len((await rehearsal.history()).events)
    return notices, logged


def _expected(real: RealIncident) -> list[datetime]:
    ten = timedelta(minutes=10)
    count = int((real.control - real.arrival - timedelta(seconds=1)) / ten)
    return [real.arrival + ten * n for n in range(1, count + 1)]


def _board() -> None:
    ground = Fireground()
    ground.happens("14:00", IncidentOpened(nature="house fire", address="14 Harbor Street"))
    ground.happens("14:00", PumpReady(unit="engine 12", tank_gal=500, usable_gal=500))
    for number in range(1, 5):
        line = WorkingLine(number, f"line {number}", flow_gpm=150, pressure_psi=170, fill_gal=25)
        ground.happens("14:05", LineOpened(line=line))
    for name in ("dispatched", "on_scene", "size_up", "command_established", "water_on_fire", "water_supply"):
        ground.happens("14:06", BenchmarkReported(benchmark=name))  # type: ignore[arg-type]
    for unit in ("engine 9", "truck 2", "engine 4"):
        ground.happens("14:07", UnitJoined(unit=unit, staffing=4), unit=unit)
        ground.at("14:08", Entry(unit=unit, count=2, gauge_psi=4400))
    ground.at("14:09", Par(request=True))
    now: datetime = clock_time("14:12")
    begun = time.process_time()
    for _ in range(BOARDS):
        text = board(ground.scene, ground.rig, now, UTC).text
    each = (time.process_time() - begun) / BOARDS
    print(f"the board of a busy incident ({len(text)} characters): {each * 1000:.2f} ms; aim ≤ 2 ms")
