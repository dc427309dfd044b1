"""The local room: who says what is typed there."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Outgoing
from bot.program.station import Station
from bot.rooms.choices import slash_words
from bot.rooms.terminal import TerminalRoom
from bot.settings import Settings
from bot.store import log, places
from handlers.events import Event
from tests.bot.conftest import NOON


@asynccontextmanager
async def sat_in(url: str) -> AsyncIterator[tuple[Station, TerminalRoom]]:
    def show(_out: Outgoing) -> None:
        return None

    clock = SimulatedClock(NOON)
    room = TerminalRoom(show, clock)
    station = await Station.open(Settings(database=url, timezone="UTC"), rigs.load(), [room], clock=clock)
    station.pipeline.took.append(room.took)
    try:
        yield station, room
    finally:
        await station.pipeline.stop()
        await station.store.close()


async def said(station: Station, room: TerminalRoom, line: str) -> list[Event]:
    """What a typed line logs."""
    before = await logged(station, room)
    await station.pipeline.say(room.message(line))
    return (await logged(station, room))[len(before) :]


async def logged(station: Station, room: TerminalRoom) -> list[Event]:
    async with station.store.begin() as tx:
        place = await places.place(tx, room.kind)
        return await log.since(tx, place.incident) if place is not None and place.incident else []


TAKEN = (("I'm the officer", "officer"), ("I am the driver", "driver"), ("I'm crew", "crew"))


@pytest.mark.parametrize(("words", "role"), TAKEN)
async def test_a_role_holds_for_what_follows(url: str, words: str, role: str) -> None:
    async with sat_in(url) as (station, room):
        await said(station, room, "on scene")
        await said(station, room, words)
        for line in ("water on the fire", "crosslay one charged", "under control"):
            events = await said(station, room, line)
            assert {(event.who, event.role) for event in events} == {("driver", role)}, line
        assert room.prompt == role


async def test_others_in_the_room_keep_their_own_role(url: str) -> None:
    async with sat_in(url) as (station, room):
        await said(station, room, "officer: I'm the driver")
        assert room.prompt == "driver"
        await said(station, room, "I'm the officer")
        (*_, event) = await said(station, room, "crew: water on the fire")
        assert (event.who, event.role) == ("crew", "crew")
        (*_, event) = await said(station, room, "under control")
        assert (event.who, event.role) == ("driver", "officer")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("/again", "say again"),
        ("/tank", "tank time"),
        ("/pump two lines, 200 feet, 1.75", "two lines, 200 feet, 1.75"),
        ("/role officer", "I'm the officer"),
        ("/role crew", "I'm crew"),
        ("/link engine 9", "join code for engine 9"),
        ("/help pressure", "help pressure"),
    ],
)
def test_a_menu_command_is_words_here_too(line: str, words: str) -> None:
    assert slash_words(line) == words


async def test_a_number_presses_the_choice_that_was_shown_last(url: str) -> None:
    async with sat_in(url) as (station, room):
        await said(station, room, "on scene")
        await said(station, room, "all clear")
        await station.outbox.drain()
        (event,) = await said(station, room, "2")
        assert getattr(event.body, "benchmark", None) == "secondary_search_complete"


async def test_a_number_answers_a_question_without_choices_and_presses_nothing_older(url: str) -> None:
    async with sat_in(url) as (station, room):
        await said(station, room, "on scene")
        await said(station, room, "crosslay 1")
        await station.outbox.drain()  # [1] Charged
        await said(station, room, "D cylinder 2000 psi")  # at how many litres a minute?
        await station.outbox.drain()
        assert not room.message("1").button
