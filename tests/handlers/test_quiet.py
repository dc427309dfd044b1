"""Quiet in a room: one routine notice a minute, `elapsed` never moved, alerts and clocks at once, nothing lost."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from handlers.outcome import Reminder
from handlers.quiet import quiet
from handlers.reminders import is_routine
from tests.handlers.fireground import clock_time


def reminder(name: str, when: str | datetime, kind: str = "reminder", key: str = "") -> Reminder:
    at = clock_time(when) if isinstance(when, str) else when
    return Reminder(key=key or f"{name}/{at:%H%M%S}", name=name, at=at, to=("officer",), text=f"{name}.", kind=kind)  # type: ignore[arg-type]


def told(*reminders: Reminder, last: str | None = None) -> list[tuple[str, str]]:
    planned = quiet(reminders, clock_time(last) if last else None)
    return [(f"{r.at:%H:%M:%S}", r.name) for r in planned]


def test_due_within_the_minute_before_elapsed_it_goes_out_with_it() -> None:
    merged = quiet([reminder("supply_missing", "14:15:40"), reminder("elapsed", "14:16:30")])
    assert len(merged) == 1
    assert (f"{merged[0].at:%H:%M:%S}", merged[0].name) == ("14:16:30", "elapsed")
    assert merged[0].text == "elapsed.\nsupply_missing. (0:50 ago)"
    assert merged[0].merged == ("supply_missing/141540",)


def test_par_merges_with_elapsed_when_both_fall_together() -> None:
    merged = quiet([reminder("par_due", "14:26:30"), reminder("elapsed", "14:26:30")])
    assert [(r.name, r.text) for r in merged] == [("elapsed", "elapsed.\npar_due.")]


def test_a_full_minute_before_elapsed_it_goes_by_itself() -> None:
    assert told(reminder("par_due", "14:15:30"), reminder("elapsed", "14:16:30")) == [
        ("14:15:30", "par_due"),
        ("14:16:30", "elapsed"),
    ]


def test_after_elapsed_it_waits_for_its_minute() -> None:
    assert told(reminder("elapsed", "14:16:30"), reminder("rit_missing", "14:16:50")) == [
        ("14:16:30", "elapsed"),
        ("14:17:30", "rit_missing"),
    ]


def test_several_together_go_a_minute_apart() -> None:
    together = [reminder(name, "14:15:00") for name in ("rehab_due", "supply_missing", "turnaround")]
    assert told(*together) == [
        ("14:15:00", "turnaround"),
        ("14:16:00", "supply_missing"),
        ("14:17:00", "rehab_due"),
    ]


def test_the_last_one_told_counts() -> None:
    assert told(reminder("rit_missing", "14:15:10"), last="14:15:00") == [("14:16:00", "rit_missing")]


def test_alerts_and_exact_clocks_at_once() -> None:
    assert told(
        reminder("elapsed", "14:16:30"),
        reminder("tank_minute", "14:16:10", "alert"),
        reminder("mayday_clock", "14:16:20", "alert"),
        reminder("rhythm_check", "14:16:00"),
        reminder("timer", "14:16:40"),
    ) == [
        ("14:16:00", "rhythm_check"),
        ("14:16:10", "tank_minute"),
        ("14:16:20", "mayday_clock"),
        ("14:16:30", "elapsed"),
        ("14:16:40", "timer"),
    ]


def test_a_tank_mark_that_had_to_wait_is_not_told_after_the_last_minute() -> None:
    def planned(of: str) -> list[tuple[str, str]]:
        minute = reminder("tank_minute", "14:15:50", "alert", key=f"tank_minute/{of}/0")
        return told(reminder("tank_quarter", "14:15:10", key="tank_quarter/engine 12/0"), minute, last="14:15:00")

    assert planned("engine 12") == [("14:15:50", "tank_minute")]
    assert planned("engine 9") == [("14:15:50", "tank_minute"), ("14:16:00", "tank_quarter")]


names = st.sampled_from(["elapsed", "par_due", "supply_missing", "rit_missing", "turnaround", "tank_half", "timer"])
START = clock_time("14:00")


@st.composite
def rooms(draw: st.DrawFn) -> list[Reminder]:
    """What one room is to be told; `elapsed` ten minutes apart as it is."""
    found = [reminder("elapsed", START + timedelta(minutes=10 * n)) for n in range(1, 4)]
    for number, (name, second) in enumerate(draw(st.lists(st.tuples(names, st.integers(0, 1800)), max_size=12))):
        if name != "elapsed":
            found.append(reminder(name, START + timedelta(seconds=second), key=f"{name}/{number}"))
    return found


@given(rooms(), st.one_of(st.none(), st.integers(-120, 0)))
def test_the_laws_of_quiet(room: list[Reminder], last_s: int | None) -> None:
    last = START + timedelta(seconds=last_s) if last_s is not None else None
    planned = quiet(room, last)
    routine = [r.at for r in planned if is_routine(r)]
    assert all(b - a >= timedelta(minutes=1) for a, b in pairwise(routine))
    assert {r.at for r in planned if r.name == "elapsed"} == {r.at for r in room if r.name == "elapsed"}
    assert {key for r in planned for key in (r.key, *r.merged)} == {r.key for r in room}, "nothing lost, nothing twice"
    before = {r.key: r.at for r in room}
    assert all(r.at >= before[r.key] for r in planned), "nothing early"
    assert all(r.at == before[r.key] for r in planned if not is_routine(r))


@given(rooms(), st.integers(0, 1800))
def test_planning_again_after_a_telling_changes_no_time(room: list[Reminder], now_s: int) -> None:
    """What was told is left out and the last routine time handed on: the rest stays where it was."""
    planned = quiet(room)
    now = START + timedelta(seconds=now_s)
    gone = {key for r in planned if r.at <= now for key in (r.key, *r.merged)}
    last = max((r.at for r in planned if r.at <= now and is_routine(r)), default=None)
    again = quiet([r for r in room if r.key not in gone], last)
    assert again == tuple(r for r in planned if r.at > now)
