"""The incident's clocks and the order of its benchmarks against published facts; each row names its source.

Rows of `source_kind` "memory" are arithmetic on the published ones or a choice of ours, as the row says.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from grammar.commands import Benchmark, BenchmarkName, SaidTime
from handlers.events import BenchmarkReported
from handlers.incident.clocks import duration_clock, on_scene_clock
from tests.handlers.fireground import DAY, clock_time, demo_rig
from tests.handlers.playing import Incident

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row for row in json.loads((Path(__file__).parent / "incident_clocks.json").read_text(encoding="utf-8"))
}
NAMES: dict[str, BenchmarkName] = {
    "alarm": "dispatched",
    "arrival": "on_scene",
    "controlled": "under_control",
    "cleared": "command_terminated",
}
"""The four times of NFIRS 5.0 as ours. Alarm is when units were alerted, not the call (NF-01)."""


def moment(text: str) -> datetime:
    """ "14:13:20", "00:02:10 (+1 day)" or a whole date and time, all taken as UTC."""
    if "T" in text:
        return datetime.fromisoformat(text).replace(tzinfo=DAY.tzinfo)
    return clock_time(text.split()[0]) + (timedelta(days=1) if "+1 day" in text else timedelta(0))


def notices(start: datetime, stop: datetime | None, count: int = 20) -> list[datetime]:
    """When `elapsed` is told from an arrival, with under control reported at `stop`."""
    fire = Incident()
    fire.happens(start, BenchmarkReported("on_scene", unit="engine 12"))
    if stop is not None:
        fire.happens(stop, BenchmarkReported("under_control"))
    return [reminder.at for reminder in fire.due(start, "elapsed")][:count]


def test_every_ten_minutes_until_under_control() -> None:
    given = ROWS["ET-08"]["inputs"]
    assert demo_rig().intervals.elapsed_min == given["interval_min"]
    assert notices(moment(given["clock_start"]), moment(given["stop"])) == [
        moment(t) for t in ROWS["ET-08"]["expected"]
    ]


def test_across_midnight() -> None:
    given, expected = ROWS["ET-09"]["inputs"], ROWS["ET-09"]["expected"]
    assert notices(moment(given["clock_start"]), None, given["count"]) == [moment(text) for text in expected]


def test_a_notice_in_the_second_of_the_stop_is_suppressed() -> None:
    given, expected = ROWS["ET-11"]["inputs"], ROWS["ET-11"]["expected"]
    told = notices(moment(given["first_unit_on_scene"]), moment(given["fire_under_control"]))
    assert told == [moment(text) for text in expected]


@pytest.mark.parametrize("key", ["TO-08", "TO-09"])
def test_two_real_incidents(key: str) -> None:
    given, expected = ROWS[key]["inputs"], ROWS[key]["expected"]
    start, stop = moment(given["arrival"]), moment(given["under_control"])
    midnight = start.replace(hour=0, minute=0, second=0)
    offsets = [moment(text) - DAY.replace(hour=0) for text in expected]
    assert notices(start, stop) == [midnight + offset for offset in offsets]


def test_which_event_starts_which_clock() -> None:
    assert ROWS["ET-03"]["expected"] == "the initial 911 call", "ours begins at the dispatch, and says so"
    assert ROWS["ET-05"]["expected"].startswith("first arriving unit on scene")
    assert ROWS["ET-06"]["expected"] == "when incident stabilization is achieved"
    fire = Incident()
    fire.at("14:00", Benchmark("dispatched"))
    fire.at("14:06", Benchmark("on_scene"))
    fire.at("14:09", Benchmark("on_scene", unit="engine 9"))
    duration, on_scene = duration_clock(fire.scene), on_scene_clock(fire.scene)
    assert duration is not None
    assert on_scene is not None
    assert (duration.since, on_scene.since) == (clock_time("14:00"), clock_time("14:06"))


def test_one_check_after_under_control() -> None:
    """A roof came down minutes after "under control" was reported: the clock is kept alive for one more check."""
    assert 'after "under control" was reported' in ROWS["WW-02"]["expected"]
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    fire.at("14:10", Benchmark("under_control"))
    assert len(fire.due("14:10", "control_check")) == 1


EDITS = [tuple(NAMES[name.strip()] for name in edit.split("<=")) for edit in ROWS["NF-05"]["expected"]]


def said_at(times: list[tuple[BenchmarkName, int]]) -> bool:
    """Whether the second of two reports (name, minute past two o'clock) is asked back."""
    fire = Incident()
    fire.at("14:20", Benchmark("size_up"))
    first, second = (fire.at("14:20", Benchmark(name, time=SaidTime(hour=14, minute=minute))) for name, minute in times)
    assert first.question is None
    assert (first.refused, second.refused) == (None, None)
    return second.question is not None


@pytest.mark.parametrize(("earlier", "later"), EDITS, ids=ROWS["NF-05"]["expected"])
def test_what_the_order_edits_forbid_is_asked_back(earlier: BenchmarkName, later: BenchmarkName) -> None:
    assert said_at([(earlier, 10), (later, 5)])
    assert not said_at([(earlier, 5), (later, 10)])
    assert not said_at([(earlier, 5), (later, 5)])


@pytest.mark.parametrize(("earlier", "later"), [edit for edit in EDITS if "command_terminated" not in edit])
def test_it_is_asked_back_whichever_was_told_first(earlier: BenchmarkName, later: BenchmarkName) -> None:
    assert said_at([(later, 5), (earlier, 10)])
    assert not said_at([(later, 10), (earlier, 5)])


def test_a_real_record_passes_all_edits() -> None:
    assert ROWS["NF-06"]["expected"] == "passes all six edits"
    fire = Incident()
    for key, text in ROWS["NF-06"]["inputs"].items():
        assert fire.at(moment(text), Benchmark(NAMES[key])).question is None
    assert [stamp.benchmark for stamp in fire.scene.stamps] == list(NAMES.values())


def test_the_classic_completion_benchmarks_in_any_order() -> None:
    assert ROWS["BM-01"]["expected"] == ["all clear", "under control", "loss stopped"]
    assert ROWS["BM-02"]["expected"].startswith("no: log it")
    fire = Incident()
    for minute, name in enumerate(("loss_stopped", "under_control", "primary_search_complete")):
        told = fire.at(DAY + timedelta(minutes=minute), Benchmark(name))  # type: ignore[arg-type]
        assert told.lead.endswith("Logged.")


def test_the_objective_of_turnout_and_travel() -> None:
    intervals = demo_rig().intervals
    assert intervals.turnout_s == ROWS["RT-01"]["expected"][0]
    assert intervals.travel_s == ROWS["RT-02"]["expected"][0]
    assert intervals.turnout_s + intervals.travel_s == ROWS["RT-07"]["expected"]["seconds"]
