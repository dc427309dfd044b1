"""Speed of the fold: events a second, 10,000 line events into a tank's state, and planning an incident's reminders."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from statistics import median

from grammar.commands import Benchmark, Entry, Mayday
from handlers.events import (
    AirRead,
    BenchmarkReported,
    CrewEntered,
    CrewLeft,
    Event,
    EventBody,
    IncidentOpened,
    LineOpened,
    LineShut,
    ParAnswered,
    ParRequested,
    PumpReady,
    SourceChanged,
    WorkingLine,
)
from handlers.history import History, fold
from handlers.quiet import quiet
from handlers.reminders import due
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge

EVENTS = 10_000
RUNS = 5
PLANS = 500


def line_events() -> list[Event]:
    """An incident of which 10,000 events put lines on and off again."""
    bodies: list[EventBody] = [IncidentOpened(), PumpReady("engine 12", 500, 500)]
    for number in range(1, EVENTS // 2 + 1):
        bodies += [LineOpened(WorkingLine(number, "Line", 150.0, 170.0, 25.0)), LineShut(number)]
    return logged(bodies)


def mixed_events() -> list[Event]:
    """Every kind of thing that happens on a fireground, over and over; stamps as many as a long incident has."""
    bodies: list[EventBody] = [IncidentOpened(), PumpReady("engine 12", 500, 500)]
    for number in range(1, EVENTS // 10 + 1):
        bodies += [
            LineOpened(WorkingLine(number, "Line", 150.0, 170.0, 25.0)),
            SourceChanged("hydrant"),
            CrewEntered("engine 9", 4, 4300, 4500, 45),
            AirRead("engine 9", 3600),
            ParRequested({"engine 12": 3, "engine 9": 4}),
            ParAnswered("engine 9", 4),
            CrewLeft("engine 9"),
            LineShut(number),
            SourceChanged("tank"),
            BenchmarkReported("overhaul", place=f"room {number % 20}") if number <= 50 else SourceChanged("tank"),
        ]
    return logged(bodies)


def logged(bodies: list[EventBody]) -> list[Event]:
    moments = (DAY + timedelta(seconds=number) for number in range(len(bodies)))
    return [
        Event("bench", number, at, at, "driver", "engine 12", "yard", f"m{number}", 0, body, "driver")
        for number, (at, body) in enumerate(zip(moments, bodies, strict=True), 1)
    ]


def busy_incident() -> Incident:
    """A fire with everything running: two units, a crew inside, lines from the tank."""
    fire = Incident()
    for when, command in (
        ("14:00", Benchmark("dispatched")),
        ("14:04", Benchmark("on_scene")),
        ("14:05", charge("crosslay_1")),
        ("14:05:30", Benchmark("water_on_fire")),
        ("14:06", Benchmark("on_scene", unit="engine 9", staffing=4)),
        ("14:07", Entry(unit="engine 9", gauge_psi=4300)),
    ):
        fire.at(when, command)
    return fire


def seconds(work: Callable[[], object]) -> float:
    """Median seconds of processor time, so that other programs on the machine don't count."""
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return median(times)


def again(work: Callable[[], object]) -> None:
    for _ in range(PLANS):
        work()


def one_by_one(events: list[Event]) -> None:
    log = History()
    for event in events:
        log.add(event)


def main() -> None:
    """Prints the figures."""
    lines, mixed = line_events(), mixed_events()
    took = seconds(lambda: fold(lines))
    print(f"fold, {EVENTS:,} line events into a tank's state: {took:.3f} s (aim ≤ 0.5 s), {len(lines) / took:,.0f}/s")
    took = seconds(lambda: fold(mixed))
    print(f"fold, mixed events: {len(mixed) / took:,.0f}/s (aim ≥ 50,000/s)")
    took = seconds(lambda: one_by_one(mixed))
    print(f"fold, mixed events logged one by one: {len(mixed) / took:,.0f}/s")
    fire = busy_incident()
    for name in ("a busy incident", "the same with a Mayday"):
        now = fire.now
        planned = due(fire.scene, fire.rig, now)
        took = seconds(partial(again, partial(due, fire.scene, fire.rig, now))) / PLANS
        calm = seconds(partial(again, partial(quiet, planned))) / PLANS
        print(f"reminders of {name}: {len(planned)} planned in {took * 1000:.2f} ms, quieted in {calm * 1000:.2f} ms")
        fire.at("14:09", Mayday(text="mayday, engine 9, second floor"))


if __name__ == "__main__":
    main()
