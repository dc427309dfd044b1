"""Recognition leaves the lane: an alert waits for no recording, anything else three seconds; and a lane never dies."""

from __future__ import annotations

import asyncio
from datetime import UTC, timedelta
from functools import partial

import pytest
from sqlalchemy.exc import OperationalError

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message, clean, pipeline
from bot.message.alerts import is_alert
from bot.message.pipeline import FAULT, Pipeline, Ticket
from bot.message.read import read
from bot.message.recording import Listened
from bot.message.situation import House
from bot.message.transaction import Handling
from bot.outbox import Outbox
from bot.rooms.scripted import ScriptedRoom
from bot.store import inbox, log
from bot.store.database import Store
from bot.store.logbook import Logbook
from grammar.commands import Context
from handlers.rig import Rig
from tests.bot.conftest import NOON


class Ears:
    """Hears nothing until it is told the words."""

    def __init__(self) -> None:
        self.words: dict[str, asyncio.Future[str]] = {}
        self.listens = asyncio.Event()

    async def hear(self, message: Message, rig: Rig, context: Context) -> Listened:
        words = self.words.setdefault(message.id, asyncio.get_running_loop().create_future())
        self.listens.set()
        said = await words
        return Listened(read(said, context), said, "ear", message.voice, reread=partial(read, said))

    def says(self, message: str, words: str) -> None:
        self.words[message].set_result(words)


class Fireground:
    def __init__(self, store: Store, clock: SimulatedClock) -> None:
        self.store, self.clock = store, clock
        self.room, self.ears = ScriptedRoom("yard"), Ears()
        self.pipeline = Pipeline(store, House(rigs.load(), Logbook(), UTC), clock, self.ears)
        self.outbox = Outbox(store, clock, UTC, [self.room])
        self.said = 0

    async def says(self, words: str = "", room: str = "crew", *, voice: bytes = b"") -> Ticket:
        self.said += 1
        message = Message(
            f"yard:{room}", str(self.said), "kim", self.clock.now(), words, voice=voice, group=True, addressed=True
        )
        (ticket,) = await self.pipeline.receive([message])
        return ticket

    async def records(self, room: str = "crew") -> Ticket:
        self.ears.listens.clear()
        ticket = await self.says(room=room, voice=b"OggS")
        await self.ears.listens.wait()
        return ticket

    async def order(self) -> list[str]:
        async with self.store.begin() as tx:
            (incident,) = await log.latest_incidents(tx)
            events = sorted(await log.since(tx, incident.id), key=lambda event: (event.at, event.seq))
        return [event.message.partition("/")[2] for event in events]


@pytest.fixture
def ground(store: Store, clock: SimulatedClock) -> Fireground:
    return Fireground(store, clock)


@pytest.fixture
def no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "FIRST_PAUSE_S", 0)
    monkeypatch.setattr(pipeline, "LONGEST_PAUSE_S", 0)


@pytest.mark.parametrize(
    "words",
    [
        "mayday mayday mayday, second floor",
        "everybody out of the building now",
        "emergency traffic",
        "we lost water",
        "firefighter down",
    ],
)
async def test_an_alert_goes_on_while_a_recording_hangs(
    ground: Fireground, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "HELD_S", 3600)
    await (await ground.says("engine 12 on scene")).handled
    await (await ground.says("water on the fire", "driver's")).handled
    await ground.records()
    waits = await ground.says("command established")
    alert = await ground.says(words, "driver's")
    handled = await alert.handled
    assert handled.status == "answered"
    assert not waits.handled.done()
    ground.ears.says("3", "primary search complete")
    assert (await waits.handled).status == "answered"


async def test_anything_else_waits_for_a_recording_only_so_long_and_the_log_keeps_its_order(
    ground: Fireground, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "HELD_S", 0)
    await (await ground.says("engine 12 on scene")).handled
    ground.clock.advance(10)
    recording = await ground.records()
    ground.clock.advance(10)
    after = await ground.says("command established")
    assert (await after.handled).status == "answered"
    assert not recording.handled.done()
    ground.clock.advance(30)
    ground.ears.says("2", "water on the fire")
    assert (await recording.handled).intent == "benchmark"
    order = await ground.order()
    assert order.index("2") < order.index("3"), "it stands in the log when it was sent"


async def test_a_recording_heard_in_time_keeps_its_place(ground: Fireground) -> None:
    await (await ground.says("engine 12 on scene")).handled
    recording = await ground.records()
    after = await ground.says("undo")
    ground.ears.says("2", "water on the fire")
    await after.handled
    assert recording.handled.done()
    assert "Water on the fire" in after.handled.result().reply


async def test_a_recording_means_what_it_means_after_what_came_before_it(ground: Fireground) -> None:
    """Two recordings in a row: the second was listened to before the first was handled, and follows it all the same."""
    await (await ground.says("engine 12 on scene")).handled
    first, second = await ground.records(), await ground.records()
    ground.ears.says("3", "make it 300 feet")
    ground.ears.says("2", "one line, 200 feet, 1.75")
    await first.handled
    assert "Corrected: 205 psi" in (await second.handled).reply  # 100 + 15.5 × 1.5² × 3


async def test_a_mayday_in_a_recording_waits_for_no_other_recording(
    ground: Fireground, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pipeline, "HELD_S", 3600)
    await (await ground.says("engine 12 on scene")).handled
    await ground.records()
    second = await ground.records()
    ground.ears.says("3", "mayday mayday mayday")
    assert (await second.handled).intent == "mayday"


def test_only_alerts_go_ahead() -> None:
    for words in ("mayday cleared", "crosslay 1", "all clear", "emergency traffic is over", "coming off the hydrant"):
        assert not is_alert(words), words


async def test_a_start_serves_before_what_was_left_is_heard(store: Store, clock: SimulatedClock) -> None:
    first = Fireground(store, clock)
    await (await first.says("engine 12 on scene")).handled
    await first.records()
    await first.pipeline.stop()
    again = Fireground(store, clock)
    again.said = 10
    assert await again.pipeline.recover() == 1  # comes back at once, with the recording still unheard
    clock.advance(601)
    assert await again.pipeline.fire() is not None
    assert (await (await again.says("mayday", "hall")).handled).intent == "mayday"
    await again.ears.listens.wait()
    again.ears.says("2", "water on the fire")
    await again.pipeline.settled()
    async with store.begin() as tx:
        assert await inbox.waiting(tx, NOON) == []


async def test_a_recording_that_ended_the_program_again_and_again_is_left(store: Store, clock: SimulatedClock) -> None:
    for _ in range(pipeline.LIVES):
        life = Fireground(store, clock)
        if life.said == 0 and not await life.pipeline.recover():
            await life.says(voice=b"OggS")
        await life.ears.listens.wait()
        await life.pipeline.stop()
    last = Fireground(store, clock)
    await last.pipeline.recover()
    await last.pipeline.settled()
    await last.outbox.drain()
    assert last.room.told[-1].text == pipeline.ENDED_IT


# --- a lane never dies


async def test_a_row_that_fails_three_times_is_set_aside_with_its_error_and_told(
    ground: Fireground, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    def broken(text: str, context: Context) -> None:
        tries.append(text)
        raise ZeroDivisionError("of a tank")

    with monkeypatch.context() as patch:
        patch.setattr("bot.message.transaction.read", broken)
        bad = await ground.says("crosslay 1")
        assert (await bad.handled).refused == FAULT
    assert len(tries) == pipeline.TRIES
    assert (await (await ground.says("crosslay 1")).handled).status == "answered"
    await ground.outbox.drain()
    assert [out.text == FAULT for out in ground.room.told] == [True, False]
    async with ground.store.begin() as tx:
        count, ((_, message, _, error),) = await inbox.set_aside(tx)
    assert (count, message) == (1, "1")
    assert "of a tank" in error


@pytest.mark.usefixtures("no_pause")
async def test_while_the_disk_is_full_a_message_stays_and_its_lane_goes_on_after(
    ground: Fireground, monkeypatch: pytest.MonkeyPatch
) -> None:
    run, left = Handling.run, 5

    async def full(handling: Handling, listened: Listened | None = None) -> object:
        nonlocal left
        left -= 1
        if left >= 0:
            raise OperationalError("INSERT", {}, Exception("database or disk is full"))
        return await run(handling, listened)

    monkeypatch.setattr(Handling, "run", full)
    first, second = await ground.says("engine 12 on scene"), await ground.says("water on the fire")
    assert [(await ticket.handled).status for ticket in (first, second)] == ["answered", "answered"]
    assert await ground.order() == sorted(await ground.order())


@pytest.mark.usefixtures("no_pause")
async def test_a_fault_that_cant_even_be_noted_leaves_the_row(
    ground: Fireground, monkeypatch: pytest.MonkeyPatch
) -> None:
    run, failures = Handling.run, 0
    done = inbox.done

    async def fail(handling: Handling, listened: Listened | None = None) -> object:
        nonlocal failures
        failures += 1
        if failures <= 6:
            raise RuntimeError("inside")
        return await run(handling, listened)

    async def full(*args: object, fault: str | None = None, **fields: object) -> None:
        if fault is not None:
            raise OperationalError("UPDATE", {}, Exception("database or disk is full"))
        await done(*args, **fields)  # type: ignore[arg-type]

    monkeypatch.setattr(Handling, "run", fail)
    monkeypatch.setattr(inbox, "done", full)
    assert (await (await ground.says("crosslay 1")).handled).status == "answered"


async def test_half_a_surrogate_pair_stops_nobody(ground: Fireground) -> None:
    messages = [
        Message(f"yard:{place}", "1", "kim", NOON, words, name="\ud83d", addressed=True)
        for place, words in enumerate(["crosslay 1", "crosslay \ud800 1", "cross\0lay"])
    ]
    tickets = await ground.pipeline.receive(messages)
    assert len(tickets) == 3
    await ground.pipeline.settled()
    assert tickets[0].handled.result().status == "answered"
    assert clean(messages[1]).text == "crosslay \ufffd 1"
    assert clean(messages[0]).name == "\ufffd"


async def test_a_message_that_cant_be_written_down_takes_no_other_with_it(ground: Fireground) -> None:
    bad = Message("yard:1", "1", None, NOON, "crosslay 1")  # type: ignore[arg-type]
    good = Message("yard:2", "1", "kim", NOON + timedelta(seconds=1), "crosslay 1", addressed=True)
    (ticket,) = await ground.pipeline.receive([bad, good])
    assert (await ticket.handled).status == "answered"


async def test_alerts_that_come_together_keep_their_order(ground: Fireground) -> None:
    """What the second adds to the first isn't overwritten by it."""
    said = [
        Message("yard:crew", str(number), "kim", ground.clock.now(), words, group=True, addressed=True)
        for number, words in enumerate(
            ("mayday", "mayday, second floor", "mayday, engine 9, third floor", "mayday now")
        )
    ]
    for ticket in await ground.pipeline.receive(said):
        await ticket.handled
    await ground.outbox.drain()
    assert [out.reply_to for out in ground.room.told if out.reply_to] == ["0", "1", "2", "3"]
