"""The page's room: what no screen takes is kept, others are told in its place, and a screen that comes is shown it."""

from __future__ import annotations

import asyncio
import json
from datetime import timedelta

import msgspec
import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.errors import RetryAfter, Undeliverable
from bot.message import Message, Outgoing
from bot.program.station import Station
from bot.rooms.page import room as page_room
from bot.rooms.page import talk
from bot.rooms.page.boards import Boards
from bot.rooms.page.door import Door, message_of, room_of
from bot.rooms.page.hub import MOST_OF_ONE, MOST_WAITING, Hub, Screen
from bot.rooms.page.passes import Pass
from bot.rooms.page.protocol import Beat, read
from bot.rooms.page.room import PageRoom
from bot.rooms.scripted import ScriptedRoom
from bot.settings import Settings
from bot.store import places
from tests.bot.conftest import NOON

KIM = Pass("page/person/ab", room_of("engine 12"), "Kim", "engine 12", NOON)


class Sink:
    """What a screen was sent."""

    def __init__(self) -> None:
        self.told: list[str] = []

    async def __call__(self, text: str) -> None:
        self.told.append(text)


async def test_a_screen_gets_everything_in_order_and_one_that_is_far_behind_is_let_go() -> None:
    sink = Sink()
    screen = Screen(KIM, sink)
    for number in range(5):
        screen.show(str(number))
    running = asyncio.create_task(screen.run())
    while len(sink.told) < 5:  # noqa: ASYNC110 - nothing tells
        await asyncio.sleep(0)
    assert sink.told == ["0", "1", "2", "3", "4"]
    for number in range(MOST_WAITING + 1):
        screen.show(str(number))
    await running


async def test_screens_of_one_person_are_bounded_and_a_room_is_written_once_for_all() -> None:
    hub, sinks = Hub(), [Sink() for _ in range(MOST_OF_ONE + 1)]
    screens = [Screen(KIM, sink) for sink in sinks]
    assert [hub.add(screen) for screen in screens] == [True] * MOST_OF_ONE + [False]
    assert hub.show(KIM.room, Beat(NOON)) == MOST_OF_ONE
    assert hub.people == {KIM.person}
    hub.remove(screens[0])
    assert hub.show(KIM.room, Beat(NOON)) == MOST_OF_ONE - 1
    assert hub.show("page:engine 9", Beat(NOON)) == 0


async def test_without_a_screen_it_waits_a_little_then_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    room = PageRoom(Hub(), SimulatedClock(NOON))
    out = Outgoing(1, KIM.room, "alert", "MAYDAY")
    with pytest.raises(RetryAfter):
        await room.send(out)
    monkeypatch.setattr(page_room, "GRACE_S", 0.0)
    with pytest.raises(Undeliverable):
        await room.send(out)


async def test_while_nobody_looks_others_are_told_and_a_screen_that_comes_is_planned_for(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, hub, local = SimulatedClock(NOON), Hub(), ScriptedRoom("local")
    room = PageRoom(hub, clock)
    station = await Station.open(Settings(database=url, timezone="UTC"), rigs.load(), [local, room], clock=clock)
    boards, door = Boards(station, hub, room), Door(station)
    monkeypatch.setattr(page_room, "GRACE_S", 1e9)
    try:
        await door.furnish(KIM)
        await station.pipeline.say(Message("local", "1", "officer", NOON, "on scene", role="officer"))
        assert await _waiting(station) == {"local"}
        screen = Screen(KIM, Sink())
        hub.add(screen)
        await boards.present(KIM.room)
        assert await _waiting(station) == {"local", KIM.room}
        hub.remove(screen)
        monkeypatch.setattr("bot.rooms.page.boards.GRACE_S", 0.0)
        await boards._note_lost()
        assert await _waiting(station) == {"local"}
        await station.outbox.drain()
        assert "isn't reached" in local.take()[-1].text
    finally:
        await station.pipeline.stop()
        await station.store.close()


async def _waiting(station: Station) -> set[str]:
    from sqlalchemy import select

    from bot.store.tables import reminders

    async with station.store.begin() as tx:
        return set((await tx.execute(select(reminders.c.room).where(reminders.c.sent_at.is_(None)))).scalars())


async def test_the_conversation_is_the_records_with_what_no_screen_took(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, hub = SimulatedClock(NOON), Hub()
    room = PageRoom(hub, clock)
    station = await Station.open(Settings(database=url, timezone="UTC"), rigs.load(), [room], clock=clock)
    monkeypatch.setattr(page_room, "GRACE_S", 0.0)
    try:
        await Door(station).furnish(KIM)
        message = msgspec.structs.replace(message_of(KIM, "1", NOON), text="on scene")
        await station.pipeline.say(message)
        assert await station.pipeline.say(message) is None  # the same id again
        await station.outbox.drain()
        due = await station.pipeline.fire()
        assert due is not None
        clock.move_to(due + timedelta(minutes=3))
        await station.pipeline.fire()
        await station.outbox.drain()
        async with station.store.begin() as tx:
            place = await places.place(tx, KIM.room)
            entries = await talk.latest(tx, KIM.room)
        assert place is not None
        assert [(entry.kind, entry.text.split(",")[0]) for entry in entries] == [
            ("said", "on scene"),
            ("reply", "On scene"),
            ("reminder", "Elapsed: 10 min on scene"),
        ]
        assert entries[-1].due_at == due
    finally:
        await station.pipeline.stop()
        await station.store.close()


GOOD = {"type": "say", "id": "a-1", "at": "2026-03-07T12:00:00Z", "text": "on scene"}


@pytest.mark.parametrize(
    "wrong",
    [
        {"text": ""},
        {"text": "x" * 2_001},
        {"id": ""},
        {"id": "a/../b"},
        {"id": "x" * 65},
        {"at": "yesterday"},
        {"type": "shell"},
        {"role": "officer"},
        {"type": "voice"},
        {"type": "touch", "line": -1},
    ],
)
def test_what_is_out_of_order_is_not_read(wrong: dict[str, object]) -> None:
    assert read(json.dumps(GOOD))
    with pytest.raises(msgspec.DecodeError):
        read(json.dumps({**GOOD, **wrong}))
