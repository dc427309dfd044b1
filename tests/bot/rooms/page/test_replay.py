"""A finished incident played again: the board of each moment is the one that stood there then."""

from __future__ import annotations

import itertools
from datetime import UTC, timedelta
from pathlib import Path

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message
from bot.program.station import Station
from bot.rooms.page import replay
from bot.rooms.scripted import ScriptedRoom
from bot.settings import Settings
from bot.store import log
from handlers.history import fold
from handlers.incident.glance import glance
from tests.bot.conftest import NOON

SAID = (
    (0, "on scene"),
    (30, "charge crosslay 1"),
    (90, "water on the fire"),
    (200, "on the hydrant"),
    (400, "undo water on the fire"),
    (900, "shut down crosslay 1"),
    (960, "command terminated"),
)
DRILL = Path(__file__).parents[3] / "readme" / "session.drill"


async def test_a_finished_incident_is_played_as_it_stood_and_nobody_elses_is(url: str) -> None:
    clock, room = SimulatedClock(NOON), ScriptedRoom("local")
    known = rigs.load()
    station = await Station.open(Settings(database=url, timezone="UTC"), known, [room], clock=clock)
    try:
        for after_s, words in SAID:
            at = NOON + timedelta(seconds=after_s)
            while (due := await station.pipeline.fire()) is not None and due <= at:
                clock.move_to(due)
            clock.move_to(at)
            await station.pipeline.say(Message("local", str(after_s), "officer", at, words, role="officer"))
        async with station.store.begin() as tx:
            found, drill = await replay.choices(tx, "engine 12", [DRILL])
            assert drill.id == "drill:0"
            assert (found.id, found.minutes) == ("2026-03-07-1", 16)
            played = await replay.of_incident(tx, found.id, "engine 12", known, UTC)
            assert await replay.of_incident(tx, found.id, "engine 9", known, UTC) is None
            assert await replay.of_incident(tx, "2026-03-07-2", "engine 12", known, UTC) is None
            events = await log.since(tx, found.id)
    finally:
        await station.pipeline.stop()
        await station.store.close()
    assert played is not None
    assert played.begin == NOON
    assert [words for words, _ in played.marks][:1] == ["On scene"]
    assert "Water on the fire" not in dict(played.marks)  # taken back
    texts = [entry.text for entry in played.entries]
    assert sum(text == "charge crosslay 1" for text in texts) == 1
    assert any(text.startswith("Tank at half") for text in texts)
    assert [entry.at for entry in played.entries] == sorted(entry.at for entry in played.entries)
    times = [frame.at for frame in played.frames]
    assert times == sorted(set(times))
    assert max(later - one for one, later in itertools.pairwise(times)) <= replay.EVERY
    retracted = {seq for event in events for seq in getattr(event.body, "events", ())}
    for frame in played.frames:
        so_far = [event for event in events if event.at <= frame.at and event.seq not in retracted]
        assert frame.board == glance(fold(so_far), known.own, "engine 12", frame.at, UTC), frame.at


async def test_what_was_said_apart_where_there_were_patients_is_not_played(url: str) -> None:
    clock, room = SimulatedClock(NOON), ScriptedRoom("chat")
    known = rigs.load()
    station = await Station.open(Settings(database=url, timezone="UTC"), known, [room], clock=clock)
    said = (
        ("all", "officer", "on scene"),
        ("own", "officer", "patient 1 is a 54 year old male, chest pain"),
        ("all", "officer", "command terminated"),
    )
    try:
        for number, (where, who, words) in enumerate(said):
            at = NOON + timedelta(seconds=30 * number)
            clock.move_to(at)
            grouped = where == "all"
            await station.pipeline.say(
                Message(f"chat:{where}", str(number), who, at, words, role="officer", group=grouped, addressed=True)
            )
        async with station.store.begin() as tx:
            played = await replay.of_incident(tx, "2026-03-07-1", "engine 12", known, UTC)
    finally:
        await station.pipeline.stop()
        await station.store.close()
    assert played is not None
    texts = [entry.text for entry in played.entries]
    assert any("on scene" in text for text in texts)
    assert not any("54" in text or "chest" in text for text in texts)
    assert any(frame.board.patients for frame in played.frames)
    assert not any("chest" in line for frame in played.frames for line in frame.board.patients)


async def test_a_drill_is_played_through_the_pipeline() -> None:
    played = await replay.of_drill(DRILL, rigs.load(), UTC)
    assert played is not None
    assert played.title == "session"
    assert any(entry.kind == "alert" for entry in played.entries)
    assert any(frame.board.pumps and frame.board.pumps[0].hold == "170" for frame in played.frames)
