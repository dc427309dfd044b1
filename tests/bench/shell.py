"""The shell: reading and handling, the whole way with its commits, 10,000 reminders waiting, memory, a cold start."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psutil
from sqlalchemy import text

from bot import rigs
from bot.api import Crosslay
from bot.clock import RealClock
from bot.incident import Incident
from bot.message import Message, Outgoing
from bot.program.station import Station
from bot.settings import Settings
from bot.store import places
from bot.store.places import Place

TYPED = (
    "two lines, 200 feet, 1.75, second floor",
    "250 feet of 2.5 with an inch and an eighth tip",
    "crosslay 1",
    "charge crosslay 1",
    "tank time at 300 gpm",
    "water on the fire",
    "primary search complete",
    "hydrant static 70 residual 63 flowing 500",
    "engine 9 par of 4",
    "purple monkey dishwasher",
)
SMALL_FIRE = (
    "engine 12 on scene",
    "water on the fire",
    "primary search complete",
    "under control",
    "loss stopped",
    "command terminated",
)
READ = 2_000
SAID = 600
INCIDENTS = 560
SPREAD_S = 10.0
"""The first reminders of the incidents fall due within this time."""
REPLAYED = 300
COLD = 7
ASKED = "two lines, 200 feet, 1.75, second floor"


def spread(times_ms: Sequence[float]) -> str:
    """The median and the slowest hundredth."""
    ordered = sorted(times_ms)
    p99 = ordered[min(len(ordered) - 1, int(len(ordered) * 0.99))]
    return f"p50 {ordered[len(ordered) // 2]:.2f} ms, p99 {p99:.2f} ms ({len(ordered):,} runs)"


def reading() -> None:
    """Read and handle, out of any incident."""
    asker = Crosslay.of(Settings(timezone="UTC"))
    times = []
    for number in range(-len(TYPED), READ):
        start = time.perf_counter()
        asker.answer(TYPED[number % len(TYPED)])
        if number >= 0:  # the first ones load things
            times.append((time.perf_counter() - start) * 1000)
    print(f"read and handle a typed message: {spread(times)}; aim p99 ≤ 5 ms")


class Stopwatch:
    """A room that notes when what was told came, against when it was due."""

    kind = "yard"

    def __init__(self) -> None:
        self.late_ms: list[float] = []

    async def send(self, out: Outgoing) -> str:
        if out.due_at is not None:
            self.late_ms.append((datetime.now(UTC) - out.due_at).total_seconds() * 1000)
        return ""

    async def fetch(self, voice_ref: str) -> bytes:
        raise NotImplementedError


async def _station(folder: str, room: Stopwatch) -> Station:
    settings = Settings(database=f"{folder}/record.sqlite", timezone="UTC")
    return await Station.open(settings, rigs.load(), [room], clock=RealClock())


def said(number: int, text: str, room: str = "yard:1", at: datetime | None = None) -> Message:
    return Message(room, str(number), "kim", at or datetime.now(UTC), text, role="officer", addressed=True)


async def _whole_way(folder: str) -> None:
    station = await _station(folder, Stopwatch())
    await station.start()
    times = []
    for number in range(-len(TYPED), SAID):
        start = time.perf_counter()
        await station.pipeline.say(said(number, TYPED[number % len(TYPED)]))
        if number >= 0:
            times.append((time.perf_counter() - start) * 1000)
    print(f"whole pipeline, both commits on the disk: {spread(times)}; aim p99 ≤ 20 ms")
    start = time.perf_counter()
    tickets = await station.pipeline.receive([said(10**6 + n, TYPED[n % 4], f"yard:{n % 20}") for n in range(SAID)])
    for ticket in tickets:
        await ticket.handled
    print(f"a burst of {SAID} messages from 20 rooms: {SAID / (time.perf_counter() - start):.0f} a second")
    await station.stop()


async def _lateness(folder: str) -> None:
    room = Stopwatch()
    station = await _station(folder, room)
    interval = timedelta(minutes=rigs.load().own.intervals.elapsed_min)
    begin = datetime.now(UTC) + timedelta(seconds=INCIDENTS * 0.02 + 2)
    async with station.store.begin() as tx:
        for number in range(INCIDENTS):
            await places.add_place(tx, Place(room=f"yard:{number}", company=f"engine {100 + number}"))
    arrived = [begin - interval + timedelta(seconds=SPREAD_S * number / INCIDENTS) for number in range(INCIDENTS)]
    await station.pipeline.receive([said(n, "on scene", f"yard:{n}", at) for n, at in enumerate(arrived)])
    await station.pipeline.settled()
    async with station.store.begin() as tx:
        waiting = (await tx.execute(text("SELECT count(*) FROM reminders WHERE sent_at IS NULL"))).scalar_one()
    spare_s = (begin - datetime.now(UTC)).total_seconds()
    await station.start()
    await asyncio.sleep(max(0.0, spare_s) + SPREAD_S + 0.5)
    await station.stop()
    first = room.late_ms[:INCIDENTS]
    print(f"reminders, {waiting:,} waiting, {len(first)} due in {SPREAD_S:g} s: late {spread(first)}; aim p99 ≤ 100 ms")
    if spare_s < 0:
        print(f"  (setting up took {-spare_s:.1f} s too long: the first were due before the clock ran)")


async def _events() -> None:
    """Incidents through the whole pipeline in memory, on the simulated clock, with what is told of them."""
    rehearsal = await Incident.open(rigs.load(), UTC, datetime(2026, 3, 7, 12, tzinfo=UTC))
    start, logged = time.process_time(), 0
    for number in range(REPLAYED):
        await rehearsal.say("officer", SMALL_FIRE[number % len(SMALL_FIRE)])
        rehearsal.clock.advance(60)
        if number % len(SMALL_FIRE) == len(SMALL_FIRE) - 1:
            logged += len((await rehearsal.history()).events)
    took = time.process_time() - start
    await rehearsal.close()
    speed = f"{logged / took:.0f} a second of processor time ({REPLAYED / took:.0f} messages)"
    print(f"events through the whole pipeline in memory: {speed}; aim ≥ 300")


def cold() -> None:
    """`crosslay ask` as a new process."""
    times = []
    for _ in range(COLD):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", "bot", "ask", ASKED], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    print(f"crosslay ask, cold: median {sorted(times)[COLD // 2]:.2f} s, slowest {max(times):.2f} s; aim ≤ 1 s")


def memory() -> None:
    """The local room after a small fire, as a process of its own."""
    lines = "\n".join(["officer: engine 12 on scene", *TYPED * 5]) + "\n"
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "bot"]
        environment = {**psutil.Process().environ(), "CROSSLAY_DATABASE": f"{folder}/record.sqlite"}
        pipe = subprocess.PIPE
        with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, env=environment) as program:
            assert program.stdin is not None
            assert program.stdout is not None
            program.stdin.write(lines)
            program.stdin.flush()
            while "Not understood" not in program.stdout.readline():
                pass
            time.sleep(2.0)
            used = psutil.Process(program.pid).memory_info().rss
            program.stdin.close()
            program.stdout.read()
    print(f"memory of the local room with a fire on: {used / 2**20:.0f} MiB; aim ≤ 120 MB")


def main() -> None:
    """Prints the figures."""
    reading()
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "a").mkdir()
        Path(folder, "b").mkdir()
        asyncio.run(_whole_way(f"{folder}/a"))
        asyncio.run(_events())
        asyncio.run(_lateness(f"{folder}/b"))
    memory()
    cold()


if __name__ == "__main__":
    main()
