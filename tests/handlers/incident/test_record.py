"""The record: flows and pressures by their true history, local times in every text, lines by name."""

from __future__ import annotations

import os
import random
import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.report.data import csv_bytes
from bot.report.paper import pdf
from bot.report.timeline import png
from grammar.commands import (
    Benchmark,
    LineChange,
    LineOff,
    LineOn,
    LineRef,
    ReminderChange,
    SupplyExpected,
    Timer,
    WaterSource,
)
from handlers.incident.record import Record, flow_steps, neris_fields, record
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
NAMES = ("crosslay_1", "crosslay_2", "bumper_line", "rear_line")


def played(rng: random.Random) -> tuple[Incident, float]:
    """A random course on the hydrant, and the gallons that flowed by this test's own sum."""
    fire, now, flowed = Incident(), DAY, 0.0
    fire.at(now, Benchmark("on_scene"))
    fire.at(now, WaterSource(source="hydrant"), "driver")
    flows: dict[str, float] = {}
    full = dict.fromkeys(NAMES, 150.0) | {"rear_line": 29.7 * 1.125**2 * 50**0.5}
    held: dict[str, float] = {}
    for _ in range(rng.randint(3, 15)):
        wait = rng.choice([0, 5, 30, 90])
        flowed += sum(flows.values()) * wait / 60
        now += timedelta(seconds=wait)
        name = rng.choice(NAMES)
        ref = LineRef(name=name)
        if name not in flows and name not in held:
            fire.at(now, LineOn(ref=ref), "driver")
            flows[name] = full[name]
        elif name in held:
            fire.at(now, LineChange(ref, flowing=True), "driver")
            flows[name] = held.pop(name)
        else:
            said = rng.choice(["hold", "gate", "shut"])
            if said == "hold":
                fire.at(now, LineChange(ref, flowing=False), "driver")
                held[name] = flows.pop(name)
            elif said == "gate":
                flows[name] = 0.6 * full[name]
                fire.at(now, LineChange(ref, gate=True, gate_to_gpm=flows[name]), "driver")
            else:
                fire.at(now, LineOff(ref), "driver")
                del flows[name]
    flowed += sum(flows.values()) * 2
    fire.now = now + timedelta(minutes=2)
    return fire, flowed


def gallons(made: Record) -> float:
    """What flowed by the record's lines, each from change to change."""
    return sum(
        line.flow_gpm * ((line.until or made.until) - line.since).total_seconds() / 60
        for use in made.water
        for line in use.lines
    )


def test_the_lines_of_a_record_are_what_truly_flowed() -> None:
    rng = random.Random(3)
    for _ in range(500 if FULL else 25):
        fire, flowed = played(rng)
        made = record(fire.log.events, fire.rig, fire.now)
        assert gallons(made) == pytest.approx(flowed)
        times, steps = flow_steps(made)
        drawn = sum(
            gpm * (after - at).total_seconds() / 60 for at, after, gpm in zip(times, times[1:], steps, strict=False)
        )
        assert drawn == pytest.approx(flowed)
        assert times == sorted(times)


def test_a_gated_line_is_recorded_with_each_of_its_flows() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:07", LineChange(LineRef(), gate=True, gate_to_gpm=100), "driver")
    fire.at("14:10", LineChange(LineRef(), flowing=False), "driver")
    fire.at("14:12", LineOff(LineRef(name="crosslay_1")), "driver")
    lines = record(fire.log.events, fire.rig, fire.now).water[0].lines
    assert [(round(x.flow_gpm), round(x.pressure_psi), f"{x.since:%H:%M}", f"{x.until:%H:%M}") for x in lines] == [
        (150, 170, "14:05", "14:07"),
        (100, 75, "14:07", "14:10"),
        (0, 75, "14:10", "14:12"),
    ]
    assert [line.change for line in lines] == ["gated", "nozzle shut, still charged", ""]


def test_lines_are_called_by_their_names() -> None:
    fire = Incident()
    fire.at("14:05", charge("crosslay_1"), "driver")
    fire.at("14:06", charge("rear_line"), "driver")
    fire.at("14:07", LineOff(LineRef(name="crosslay_1")), "driver")
    texts = [row.text for row in record(fire.log.events, fire.rig, fire.now).rows]
    assert "Crosslay 1 shut" in texts
    assert not [text for text in texts if re.search(r"\bLine \d", text)]


def test_every_time_in_every_text_is_local() -> None:
    """09:xx in Denver is 16:xx UTC: no text of the record, in any form, shows the other."""
    fire = Incident()
    fire.at("16:00", Benchmark("on_scene"))
    fire.at("16:01", SupplyExpected("engine 9", 4), "driver")
    fire.at("16:02", Timer(5, "check the roof"), "officer")
    fire.at("16:03", ReminderChange("snooze", "par_due", 10), "officer")
    fire.at("16:04", charge("crosslay_1"), "driver")
    denver = ZoneInfo("America/Denver")
    made = record(fire.log.events, fire.rig, fire.now, denver)
    shown = [row.text for row in made.rows]
    assert any("09:05" in text for text in shown)
    assert any("09:07" in text for text in shown)
    assert not [text for text in shown if re.search(r"\b16:\d\d", text)]
    assert not [text for text in neris_fields(made)["dispatch_comment"] if re.search(r"\b16:\d\d", text)]
    for line in csv_bytes(made, denver).decode("utf-8-sig").splitlines()[1:]:
        local, _utc, *rest = line.split(",")
        assert local.startswith("09:")
        assert not re.search(r"\b16:\d\d", " ".join(rest))


def test_the_forms_can_be_made_of_it() -> None:
    fire, _ = played(random.Random(1))
    made = record(fire.log.events, fire.rig, fire.now)
    assert png(made, fire.rig, None).startswith(b"\x89PNG")
    assert pdf(made, fire.rig, None).startswith(b"%PDF")
