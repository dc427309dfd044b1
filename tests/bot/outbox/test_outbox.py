"""The outbox: in order in a room, one room's trouble is its own, nothing is lost, a repeat and a late one say so."""

from __future__ import annotations

import asyncio
from datetime import UTC, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from bot.clock import SimulatedClock
from bot.errors import RetryAfter, Undeliverable, Unsure
from bot.message import Outgoing
from bot.outbox import Outbox, reach
from bot.rooms.scripted import ScriptedRoom
from bot.store import log, outgoing, places
from bot.store.database import Store
from bot.store.outgoing import Unsent
from bot.store.places import Place
from bot.store.tables import outbox as rows
from tests.bot.conftest import NOON


@pytest.fixture
def room() -> ScriptedRoom:
    return ScriptedRoom("yard")


@pytest.fixture
def outbox(store: Store, clock: SimulatedClock, room: ScriptedRoom) -> Outbox:
    return Outbox(store, clock, UTC, [room])


async def put(store: Store, *texts: str, room: str = "yard:1", **fields: object) -> None:
    async with store.begin() as tx:
        drafts = [Unsent(room=room, kind="reply", text=text, created_at=NOON, **fields) for text in texts]
        await outgoing.put(tx, drafts)


async def states(store: Store) -> list[str]:
    async with store.begin() as tx:
        return [row.state for row in await tx.execute(select(rows.c.state).order_by(rows.c.id))]


def texts(room: ScriptedRoom) -> list[str]:
    return [out.text for out in room.told]


async def test_messages_leave_in_order_and_once(store: Store, outbox: Outbox, room: ScriptedRoom) -> None:
    await put(store, "one", "two", "three")
    await outbox.drain()
    await outbox.drain()
    assert texts(room) == ["one", "two", "three"]
    assert await states(store) == ["sent"] * 3


async def test_a_room_that_asks_to_wait_holds_up_only_itself(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    room.faults.append(RetryAfter(30))
    await put(store, "first", "second", room="yard:1")
    await put(store, "elsewhere", room="yard:2")
    await outbox.drain()
    assert texts(room) == ["elsewhere"]
    clock.advance(29)
    await outbox.drain()
    assert texts(room) == ["elsewhere"]
    clock.advance(1)
    await outbox.drain()
    assert texts(room) == ["elsewhere", "first", "second"]


async def test_an_unsure_one_is_sent_again_and_says_so(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    room.faults += [Unsure("connection reset"), RetryAfter(5), None]
    await put(store, "tank at half", "next")
    for _ in range(3):
        await outbox.drain()
        clock.advance(60)
    assert texts(room) == ["(sent again: it may be here already) tank at half", "next"]


async def test_a_refused_one_isnt_tried_again_and_lets_the_next_pass(
    store: Store, outbox: Outbox, room: ScriptedRoom
) -> None:
    room.faults += [Undeliverable("chat not found"), None]
    await put(store, "one", "two")
    await outbox.drain()
    assert texts(room) == ["two"]
    assert await states(store) == ["failed", "sent"]


async def test_what_fails_unexpectedly_is_tried_again_and_says_so(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    room.faults += [ValueError("bug"), ValueError("bug"), None]
    await put(store, "evacuate", "after it")
    for _ in range(4):
        await outbox.drain()
        clock.advance(60)
    assert texts(room) == ["(sent again: it may be here already) evacuate", "after it"]


async def test_after_three_times_it_is_set_aside_and_the_room_is_told(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    room.faults += [ValueError("bug")] * 3
    await put(store, "one", "two")
    for _ in range(4):
        await outbox.drain()
        clock.advance(60)
    assert texts(room) == ["two", "A message of 12:00:00 couldn't be shown here. Ask again."]
    assert await states(store) == ["failed", "sent", "sent"]


async def test_buttons_that_cant_be_read_take_no_message_with_them(
    store: Store, outbox: Outbox, room: ScriptedRoom
) -> None:
    await put(store, "evacuate", "after it")
    async with store.begin() as tx:
        await tx.execute(rows.update().where(rows.c.text == "evacuate").values(buttons="{"))
    await outbox.drain()
    assert texts(room) == [f"evacuate\n{outgoing.INCOMPLETE}", "after it"]


async def test_what_became_of_a_message_isnt_forgotten_while_the_disk_is_full(
    store: Store, outbox: Outbox, room: ScriptedRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = outgoing.sent
    left = 2

    async def full(*given: Any) -> None:
        nonlocal left
        left -= 1
        if left >= 0:
            raise OSError("disk full")
        await note(*given)

    monkeypatch.setattr(outgoing, "sent", full)
    await put(store, "one")
    for _ in range(2):
        with pytest.raises(OSError, match="disk full"):
            await outbox.drain()
    await outbox.drain()
    assert texts(room) == ["one"], "it isn't sent again"
    assert await states(store) == ["sent"]


async def test_a_room_that_refuses_is_told_to_the_officer_once_until_it_is_reached_again(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    async with store.begin() as tx:
        incident = await log.open_incident(tx, "engine 12", NOON, UTC)
        for name in ("officer", "crew"):
            await places.add_place(tx, Place(f"yard:{name}", "engine 12", role=name, incident=incident))
    for text in ("mayday", "evacuate"):
        room.faults.append(Undeliverable("Forbidden: bot was kicked"))
        async with store.begin() as tx:
            await outgoing.put(tx, [Unsent(room="yard:crew", kind="alert", text=text, created_at=NOON)])
        await outbox.drain()
    told = "The crew's room isn't reached: what is told there doesn't arrive. Tell them by radio."
    assert [(out.room, out.kind, out.text) for out in room.told] == [("yard:officer", "alert", told)]
    async with store.begin() as tx:
        here = await places.of_incident(tx, incident)
    assert reach.board_line(here) == "NOT REACHED: the crew's room"
    await put(store, "back again", room="yard:crew")
    await outbox.drain()
    async with store.begin() as tx:
        assert reach.board_line(await places.of_incident(tx, incident)) == ""


async def test_it_gives_up_after_a_day(store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock) -> None:
    room.faults += [Unsure("down"), Unsure("still down")]
    await put(store, "old")
    await outbox.drain()
    clock.advance(25 * 3600)
    await outbox.drain()
    assert await states(store) == ["failed"]


async def test_what_was_on_its_way_when_the_program_died_is_sent_again_marked(
    store: Store, clock: SimulatedClock, room: ScriptedRoom
) -> None:
    await put(store, "evacuate", "after it")
    async with store.begin() as tx:  # taken by a program that is killed before it notes what became of it
        letters, _ = await outgoing.start(tx, ["yard"], [], NOON)
        assert [letter.draft.text for letter in letters] == ["evacuate"]
    await Outbox(store, clock, UTC, [room]).drain()
    assert texts(room) == ["(sent again: it may be here already) evacuate", "after it"]


async def test_a_reminder_that_leaves_late_says_when_it_was_due(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    await put(store, "10 min on scene", due_at=NOON + timedelta(minutes=10))
    await put(store, "20 min on scene", due_at=NOON + timedelta(minutes=20))
    clock.advance(20 * 60 + 2)
    await outbox.drain()
    assert texts(room) == ["(late: due 12:10:00) 10 min on scene", "20 min on scene"]


async def test_a_late_reminder_says_so_aloud_too(
    store: Store, outbox: Outbox, room: ScriptedRoom, clock: SimulatedClock
) -> None:
    await put(store, "Tank: 1:00 left at 150 gpm.", spoken="Tank: 1 minute left.", due_at=NOON)
    clock.advance(40)
    await outbox.drain()
    assert [told.spoken for told in room.told] == ["(late: due 12:00:00) Tank: 1 minute left."]


async def test_rooms_of_other_kinds_are_left_to_the_program_that_serves_them(
    store: Store, outbox: Outbox, room: ScriptedRoom
) -> None:
    await put(store, "mine", room="yard")
    await put(store, "theirs", room="yardarm:1")
    await outbox.drain()
    assert texts(room) == ["mine"]
    assert await states(store) == ["sent", "waiting"]


class GatedRoom(ScriptedRoom):
    """Its second chat answers only when the gate is open."""

    def __init__(self) -> None:
        super().__init__("yard")
        self.gate, self.passed = asyncio.Event(), asyncio.Event()

    async def send(self, out: Outgoing) -> str:
        if out.room != "yard:2":
            return await super().send(out)
        await self.gate.wait()
        self.passed.set()
        return await super().send(out)


async def test_what_ends_while_another_is_noted_is_not_sent_again(
    store: Store, clock: SimulatedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = GatedRoom()
    outbox = Outbox(store, clock, UTC, [room])
    note_sent, both_noted = outgoing.sent, asyncio.Event()

    async def open_gate_and_note(*given: Any) -> None:
        room.gate.set()
        await room.passed.wait()
        await note_sent(*given)
        if texts(room)[1:]:
            both_noted.set()

    monkeypatch.setattr(outgoing, "sent", open_gate_and_note)
    await put(store, "first", room="yard:1")
    await put(store, "second", room="yard:2")
    running = asyncio.create_task(outbox.run())
    async with asyncio.timeout(20):
        await both_noted.wait()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    await outbox.drain()
    assert texts(room) == ["first", "second"]


async def test_it_ends_when_told_to_whatever_happens_in_that_moment(outbox: Outbox) -> None:
    for turns in range(12):
        running = asyncio.create_task(outbox.run())
        await outbox.drain()
        outbox.poke()
        for _ in range(turns):
            await asyncio.sleep(0)
        running.cancel()
        done, _ = await asyncio.wait({running}, timeout=10)
        assert done, f"it goes on after {turns} turns"
