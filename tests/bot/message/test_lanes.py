"""Lanes: in order within one, side by side between them, no overtaking when a room changes its lane."""

from __future__ import annotations

import asyncio

from bot.message.lanes import Lanes


async def test_a_lane_keeps_its_order_and_lanes_run_side_by_side() -> None:
    done: list[str] = []
    gate = asyncio.Event()

    async def work(item: str) -> None:
        if item == "slow":
            await gate.wait()
        done.append(item)

    lanes = Lanes(work)
    for room, item in [("a", "slow"), ("a", "after slow"), ("b", "other"), ("b", "other still")]:
        lanes.put(room, room, item)
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    assert done == ["other", "other still"]
    gate.set()
    await lanes.settled()
    assert done == ["other", "other still", "slow", "after slow"]


async def test_a_room_that_enters_an_incident_doesnt_overtake_itself() -> None:
    done: list[int] = []
    gate = asyncio.Event()

    async def work(item: int) -> None:
        if item == 1:
            await gate.wait()
        done.append(item)

    lanes = Lanes(work)
    lanes.put("room", "room", 1)
    lanes.put("room", "room", 2)
    lanes.put("incident", "room", 3)
    for _ in range(3):
        await asyncio.sleep(0)
    gate.set()
    await lanes.settled()
    assert done == [1, 2, 3]


async def test_a_stopped_lane_leaves_the_rest() -> None:
    done: list[int] = []

    async def work(item: int) -> None:
        await asyncio.sleep(0)
        done.append(item)

    lanes = Lanes(work)
    lanes.put("a", "a", 1)
    await lanes.stop()
    assert done == []
