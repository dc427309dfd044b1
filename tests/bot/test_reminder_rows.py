"""Reminder rows: in line with the scene after every event, told once, planned alike whether the program ran or not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from bot import rigs
from bot.incident import Incident
from bot.reminders import late_list
from bot.store import reminders as rows
from bot.store.reminders import ReminderRow
from handlers.reminders import REPEATED
from tests.bot.conftest import NOON


def at(minutes: float) -> datetime:
    return NOON + timedelta(minutes=minutes)


async def play(rehearsal: Incident, end: datetime) -> list[tuple[float, str, str, str]]:
    """(minute, who, name, first line) of what falls due up to `end`."""
    told = []
    while (due := await rehearsal.next_reminder()) is not None and due <= end:
        for out in await rehearsal.jump_to(due):
            minute = round((rehearsal.clock.now() - NOON).total_seconds() / 60, 4)
            told.append((minute, out.room.partition(":")[2], out.name, out.text.splitlines()[0]))
    rehearsal.clock.move_to(end)
    return told


@pytest.fixture
async def rehearsal():  # type: ignore[no-untyped-def]
    opened = await Incident.open(rigs.load(), UTC, NOON)
    yield opened
    await opened.close()


async def test_elapsed_is_told_every_ten_minutes_until_under_control(rehearsal: Incident) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    told = await play(rehearsal, at(35))
    assert [(minute, who) for minute, who, name, _ in told if name == "elapsed"] == [
        (10, "crew"), (10, "officer"), (20, "crew"), (20, "officer"), (30, "crew"), (30, "officer"),
    ]  # fmt: skip
    await rehearsal.say("officer", "under control")
    rehearsal.take()
    assert [(minute, name) for minute, who, name, _ in await play(rehearsal, at(120)) if who == "officer"] == [
        (45, "control_check")
    ]


async def test_a_tie_is_settled_for_what_was_said(rehearsal: Incident) -> None:
    """A reminder due in the same second as what stops it isn't told."""
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.clock.move_to(at(10))
    await rehearsal.say("officer", "under control")
    rehearsal.take()
    assert [name for _, _, name, _ in await play(rehearsal, at(15))] == []


async def test_what_has_nothing_to_do_with_it_in_the_same_second_stops_nothing(rehearsal: Incident) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.clock.move_to(at(10))
    await rehearsal.say("officer", "water on the fire")
    rehearsal.take()
    assert "elapsed" in [name for _, _, name, _ in await play(rehearsal, at(10))]


async def test_tank_marks_follow_the_flow_and_stop_with_the_hydrant(rehearsal: Incident) -> None:
    await rehearsal.say("driver", "charge crosslay 1")  # 475 gal left of 500 at 150 gpm: empty in 3:10
    rehearsal.take()
    told = await play(rehearsal, at(2.5))
    assert [(round(minute * 60), who, name) for minute, who, name, _ in told if who == "driver"] == [
        (90, "driver", "tank_half"),
        (130, "driver", "tank_minute"),
    ]
    await rehearsal.say("driver", "on the hydrant")
    rehearsal.take()
    assert [name for _, _, name, _ in await play(rehearsal, at(6)) if name.startswith("tank")] == []


async def test_telling_in_time_leaves_the_rest_as_it_was_planned(rehearsal: Incident) -> None:
    """Why rows needn't be planned anew after each telling."""
    for minute, who, words in [(0, "officer", "engine 12 on scene"), (1, "driver", "charge crosslay 1")]:
        rehearsal.clock.move_to(at(minute))
        await rehearsal.say(who, words)
    incident = (await rehearsal.history()).scene.incident
    async with rehearsal.store.begin() as tx:
        before = await rows.of_incident(tx, incident)
    await play(rehearsal, at(31))
    await rehearsal.say("crew", "engine 12 par of 3")  # an event: everything is planned anew
    await rehearsal.say("crew", "undo")
    async with rehearsal.store.begin() as tx:
        after = await rows.of_incident(tx, incident)
    planned = {(row.room, row.key): row.due_at for row in before if at(31) < row.due_at < at(100)}
    still = {(row.room, row.key): row.due_at for row in after if at(31) < row.due_at < at(100)}
    assert planned
    assert planned == still


async def test_after_a_standstill_one_message_lists_what_was_missed(rehearsal: Incident) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    told = await rehearsal.jump_to(at(33))  # nobody was there to tell the ones at 10, 20 and 30
    (late,) = [out.text for out in told if out.room == "drill:officer"]
    assert late.startswith("(late: due 12:30:00) 3 reminders weren't told in time:\n12:30:00 Elapsed: 30 min on scene")
    assert late.endswith("(Not told in time: the same at 12:10:00, 12:20:00.)")
    assert "elapsed" in [name for minute, _, name, _ in await play(rehearsal, at(40)) if minute == 40]


async def test_after_a_standstill_each_crew_is_told_its_own(rehearsal: Incident) -> None:
    """Two crews' turnarounds and low-air alarms, and everybody's own timers: none stands for another."""
    await rehearsal.say("officer", "engine 12 on scene")
    for unit in ("engine 9", "engine 7"):
        await rehearsal.say("officer", f"{unit} entering with two, 4500")
        rehearsal.clock.advance(15)
    for label in ("vent the roof", "call dispatch", "check the rear"):
        await rehearsal.say("officer", f"remind me in 12 minutes to {label}")
    rehearsal.take()
    async with rehearsal.store.begin() as tx:
        owed = [row for row in await rows.of_incident(tx, "2026-03-07-1") if row.room == "drill:officer"]
    told = "\n".join(out.text for out in await rehearsal.jump_to(at(55)) if out.room == "drill:officer")
    assert {row.name for row in owed} >= {"turnaround", "alarm_expected", "timer"}
    for row in owed:
        if row.due_at <= at(55) and row.name not in REPEATED:
            assert row.text.splitlines()[0] in told, row.key


def late_row(name: str, key: str, minute: float, text: str = "", **fields: str) -> ReminderRow:
    return ReminderRow("i", "r", key, name, "reminder", at(minute), at(minute), text or f"{key}.", **fields)  # type: ignore[arg-type]


def test_what_is_still_true_comes_first_and_the_oldest_of_that() -> None:
    """Engine 12's half tank has passed; engine 9's hasn't, and neither swallows the other."""
    first, text, _ = late_list(
        [
            late_row("tank_half", "tank_half/engine 12/0", 1),
            late_row("tank_half", "tank_half/engine 9/0", 2),
            late_row("timer", "timer/7", 3),
            late_row("tank_empty", "tank_empty/engine 12/0", 4),
        ],
        UTC,
    )
    assert first.key == "tank_half/engine 9/0"
    assert text.splitlines() == [
        "4 reminders weren't told in time:",
        "12:02:00 tank_half/engine 9/0.",
        "12:03:00 timer/7.",
        "12:04:00 tank_empty/engine 12/0.",
        "12:01:00 tank_half/engine 12/0.",
    ]


def test_a_clock_that_carried_another_notice_is_told_whole() -> None:
    carrying = late_row("elapsed", "elapsed/1/10", 10, "Elapsed: 10 min.\nNo supply.", merged="supply_missing/3")
    _, text, _ = late_list(
        [carrying, late_row("elapsed", "elapsed/1/20", 20), late_row("elapsed", "elapsed/1/30", 30)], UTC
    )
    assert "No supply." in text
    assert "the same at 12:20:00" in text
    assert "12:10:00 Elapsed: 10 min." in text


async def test_nothing_is_told_twice(rehearsal: Incident) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    assert await rehearsal.jump_to(at(10))
    assert await rehearsal.jump_to(at(10)) == []
    await rehearsal.say("officer", "water on the fire")
    rehearsal.take()
    assert await rehearsal.jump_to(at(10.5)) == []


async def test_an_incident_that_cant_be_planned_holds_up_no_reminder(
    rehearsal: Incident, monkeypatch: pytest.MonkeyPatch
) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    tries = 0

    def broken(*_: object) -> None:
        nonlocal tries
        tries += 1
        raise ZeroDivisionError

    monkeypatch.setattr("bot.reminders.due", broken)
    for minute in (11, 12, 13, 14, 15):
        told = await rehearsal.jump_to(at(minute))
        assert bool(told) == (minute == 11)
    assert tries == 3
    monkeypatch.undo()
    assert "elapsed" in [name for _, _, name, _ in await play(rehearsal, at(20))]
