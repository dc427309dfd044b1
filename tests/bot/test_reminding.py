"""Reminder rows: in line with the scene after every event, told once, planned alike whether the program ran or not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from bot import rigs
from bot.rehearsal import Rehearsal
from bot.store import reminders as rows
from tests.bot.conftest import NOON


def at(minutes: float) -> datetime:
    return NOON + timedelta(minutes=minutes)


async def play(rehearsal: Rehearsal, end: datetime) -> list[tuple[float, str, str, str]]:
    """(minute, who, name, first line) of what falls due up to `end`."""
    told = []
    while (due := await rehearsal.next_reminder()) is not None and due <= end:
        for out in await rehearsal.run_to(due):
            minute = round((rehearsal.clock.now() - NOON).total_seconds() / 60, 4)
            told.append((minute, out.room.partition(":")[2], out.name, out.text.splitlines()[0]))
    rehearsal.clock.move_to(end)
    return told


@pytest.fixture
async def rehearsal():  # type: ignore[no-untyped-def]
    opened = await Rehearsal.open(rigs.load(), UTC, NOON)
    yield opened
    await opened.close()


async def test_elapsed_is_told_every_ten_minutes_until_under_control(rehearsal: Rehearsal) -> None:
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


async def test_a_tie_is_settled_for_what_was_said(rehearsal: Rehearsal) -> None:
    """A reminder due in the same second as what stops it isn't told."""
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.clock.move_to(at(10))
    await rehearsal.say("officer", "under control")
    rehearsal.take()
    assert [name for _, _, name, _ in await play(rehearsal, at(15))] == []


async def test_what_has_nothing_to_do_with_it_in_the_same_second_stops_nothing(rehearsal: Rehearsal) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.clock.move_to(at(10))
    await rehearsal.say("officer", "water on the fire")
    rehearsal.take()
    assert "elapsed" in [name for _, _, name, _ in await play(rehearsal, at(10))]


async def test_tank_marks_follow_the_flow_and_stop_with_the_hydrant(rehearsal: Rehearsal) -> None:
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


async def test_telling_in_time_leaves_the_rest_as_it_was_planned(rehearsal: Rehearsal) -> None:
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


async def test_after_a_standstill_the_latest_of_each_kind_is_told_and_says_what_was_missed(
    rehearsal: Rehearsal,
) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    told = await rehearsal.run_to(at(33))  # nobody was there to tell the ones at 10, 20 and 30
    officers = [out.text for out in told if out.room == "drill:officer" and out.name == "elapsed"]
    assert len(officers) == 1
    assert officers[0].startswith("(late: due 12:30:00) Elapsed: 30 min on scene")
    assert officers[0].endswith("(Not told in time: the same at 12:10:00, 12:20:00.)")
    assert "elapsed" in [name for minute, _, name, _ in await play(rehearsal, at(40)) if minute == 40]


async def test_nothing_is_told_twice(rehearsal: Rehearsal) -> None:
    await rehearsal.say("officer", "engine 12 on scene")
    rehearsal.take()
    assert await rehearsal.run_to(at(10))
    assert await rehearsal.run_to(at(10)) == []
    await rehearsal.say("officer", "water on the fire")
    rehearsal.take()
    assert await rehearsal.run_to(at(10.5)) == []
