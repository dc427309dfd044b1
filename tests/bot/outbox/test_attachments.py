"""What goes out with a message: pictures, the record, spoken words; what can't be made is said instead."""

from __future__ import annotations

from datetime import UTC
from zoneinfo import ZoneInfo

import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message, Outgoing
from bot.message.pipeline import Pipeline
from bot.message.situation import House
from bot.outbox import Outbox
from bot.outbox.attachments import Attachments
from bot.rooms.scripted import ScriptedRoom
from bot.store.database import Store
from bot.store.logbook import Logbook


@pytest.fixture
def room() -> ScriptedRoom:
    return ScriptedRoom("yard")


async def tell(store: Store, clock: SimulatedClock, room: ScriptedRoom, *lines: str) -> Outgoing:
    """What the last of these lines is answered."""
    known = rigs.load()
    pipeline = Pipeline(store, House(known, Logbook(), UTC), clock)
    outbox = Outbox(store, clock, UTC, [room], Attachments(store, known, clock, ZoneInfo("UTC")))
    for number, line in enumerate(lines):
        await pipeline.say(Message("yard:1", str(number), "kim", clock.now(), line, addressed=True))
        await outbox.drain()
    return room.told[-1]


async def test_show_me_brings_a_picture(store: Store, clock: SimulatedClock, room: ScriptedRoom) -> None:
    out = await tell(store, clock, room, "crosslay 1", "show me")
    (picture,) = out.attachments
    assert (picture.name, picture.kind) == ("profile.png", "image")
    assert picture.data.startswith(b"\x89PNG")


async def test_the_record_comes_as_a_file(store: Store, clock: SimulatedClock, room: ScriptedRoom) -> None:
    out = await tell(store, clock, room, "engine 12 on scene", "send the report")
    (paper,) = out.attachments
    assert (paper.name, paper.kind) == ("incident 2026-03-07-1.pdf", "file")
    assert paper.data.startswith(b"%PDF")


async def test_a_room_that_wants_it_hears_its_answers(store: Store, clock: SimulatedClock, room: ScriptedRoom) -> None:
    out = await tell(store, clock, room, "talk to me", "crosslay 1")
    (voice,) = out.attachments
    assert voice.kind == "voice"
    assert voice.data.startswith(b"OggS")


async def test_a_picture_that_cant_be_drawn_doesnt_hold_the_answer_up(
    store: Store, clock: SimulatedClock, room: ScriptedRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> bytes:
        raise ZeroDivisionError

    monkeypatch.setattr("bot.drawing.draw", broken)
    out = await tell(store, clock, room, "show me crosslay 1")
    assert out.text.startswith("170 psi")
    assert out.text.endswith("The picture couldn't be drawn.")
    assert out.attachments == ()
