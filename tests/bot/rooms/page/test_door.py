"""Who is let in to the page: one phone a code, guests by their own, nobody by guessing, nobody who was put out."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from datetime import timedelta

import msgspec
import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Outgoing
from bot.message import join_codes as joining
from bot.program.station import Station
from bot.rooms.page.door import NO_NAME, NOT_OURS, Door, message_of
from bot.rooms.page.passes import Pass, Passes
from bot.rooms.scripted import ScriptedRoom
from bot.settings import Settings
from bot.store import places
from tests.bot.conftest import NOON

HERE = "192.168.4.20"


class House:
    """A station with a page's door."""

    def __init__(self, station: Station, room: ScriptedRoom, clock: SimulatedClock) -> None:
        self.station, self.room, self.clock = station, room, clock
        self.door = Door(station)
        self._said = 0

    async def join(self, name: str = "Kim", code: str = "", unit: str = "") -> Pass:
        one = await self.door.enter(code or (await self.door.house_code("test")).code, name, unit, HERE)
        assert isinstance(one, Pass), one
        await self.door.furnish(one)
        return one

    async def say(self, one: Pass, text: str) -> list[Outgoing]:
        self._said += 1
        message = msgspec.structs.replace(message_of(one, str(self._said), self.clock.now()), text=text)
        await self.station.pipeline.say(message)
        await self.station.outbox.drain()
        return self.room.take()


@pytest.fixture
async def house(url: str) -> AsyncIterator[House]:
    clock, room = SimulatedClock(NOON), ScriptedRoom("page")
    station = await Station.open(Settings(database=url, timezone="UTC"), rigs.load(), [room], clock=clock)
    yield House(station, room, clock)
    await station.pipeline.stop()
    await station.store.close()


async def test_a_code_lets_one_phone_in(house: House) -> None:
    code = await house.door.house_code("test")
    one = await house.join(code=code.code)
    assert (one.room, one.unit, one.guest_of) == ("page:engine 12", "engine 12", None)
    assert await house.door.admits(one)
    assert await house.door.enter(code.code, "Lee", "", HERE) == joining.BAD_CODE
    assert await house.door.used(code.code)


async def test_a_code_is_over_after_half_an_hour(house: House) -> None:
    code = await house.door.house_code("test")
    house.clock.advance(30 * 60 + 1)
    assert await house.door.enter(code.code, "Kim", "", HERE) == joining.BAD_CODE


async def test_after_ten_wrong_codes_the_right_one_is_not_taken_either(house: House) -> None:
    code = await house.door.house_code("test")
    for number in range(10):
        assert await house.door.looked_at(f"{number:08}", HERE) == joining.BAD_CODE
    assert await house.door.enter(code.code, "Kim", "", HERE) == joining.TOO_MANY
    house.clock.advance(15 * 60 + 1)
    await house.join(code=code.code)


async def test_a_name_is_needed_and_a_company_of_the_house(house: House) -> None:
    code = await house.door.house_code("test")
    assert await house.door.enter(code.code, "  ", "", HERE) == NO_NAME
    assert await house.door.enter(code.code, "Kim", "engine 9", HERE) == NOT_OURS
    await house.join(code=code.code, unit="Engine 12")  # neither has used the code up


async def test_roles_are_taken_and_confirmed_as_in_any_room(house: House) -> None:
    kim, lee = await house.join("Kim"), await house.join("Lee")
    await house.say(kim, "I'm the officer")
    assert await house.door.who(kim) == ("officer", True)
    told = await house.say(lee, "I'm the driver")
    assert "The officer (Kim) is asked" in told[0].text
    assert (await house.door.who(lee))[1] is False
    assert [(one.name, one.role) for one in await house.door.members()] == [("Kim", "officer"), ("Lee", "")]


async def test_who_is_put_out_is_let_in_no_more_and_leads_no_more(house: House) -> None:
    kim, lee = await house.join("Kim"), await house.join("Lee")
    await house.say(kim, "I'm the officer")
    assert await house.door.put_out(lee.person)
    assert not await house.door.admits(lee)
    assert not await house.door.put_out(lee.person)
    assert not await house.door.put_out("telegram:5")
    assert [one.name for one in await house.door.members()] == ["Kim"]
    assert await house.door.put_out(kim.person)
    assert not await house.door.admits(kim)


async def test_another_company_comes_in_by_the_incidents_code_with_a_guests_rights(house: House) -> None:
    kim = await house.join("Kim")
    await house.say(kim, "I'm the officer")
    await house.say(kim, "on scene")
    told = await house.say(kim, "join code for engine 9")
    code = "".join(re.findall(r"(?<=: )\d(?: \d){7}", told[0].text)[0].split())
    ann = await house.join("Ann", code)
    assert (ann.room, ann.unit) == ("page:guest/engine 9", "engine 9")
    assert await house.door.who(ann) == ("", False)
    told = await house.say(ann, "under control")
    assert "reported by" in told[0].text
    told = await house.say(ann, "engine 9 has par, 3")
    assert "Engine 9, PAR of 3" in told[0].text
    assert await house.door.enter(code, "Bob", "", HERE) == joining.BAD_CODE
    await house.say(kim, "command terminated")
    house.clock.advance(5 * 3600)
    assert not await house.door.admits(ann)
    assert await house.door.admits(kim)


async def test_what_any_role_is_told_is_told_on_the_page_unless_nobody_looks(house: House) -> None:
    kim = await house.join("Kim")
    async with house.station.store.begin() as tx:
        await places.change_place(tx, kim.room, unreached_since=None)
    await house.say(kim, "on scene")
    await house.say(kim, "charge crosslay 1")
    due = await house.station.pipeline.fire()
    assert due is not None
    house.clock.move_to(due + timedelta(seconds=1))
    await house.station.pipeline.fire()
    await house.station.outbox.drain()
    assert [out.room for out in house.room.take()] == ["page:engine 12"]


def test_a_pass_that_was_changed_or_signed_elsewhere_is_none() -> None:
    one = Pass("page/person/ab", "page:engine 12", "Kim", "engine 12", NOON)
    ours, theirs = Passes(b"a" * 32), Passes(b"b" * 32)
    value = ours.write(one)
    assert ours.read(value) == one
    body, _, signed = value.partition(".")
    for forged in ("", ".", value[:-1], f"{body}.", f"{body}A.{signed}", theirs.write(one), "é.é", value + "x" * 2000):
        assert ours.read(forged) is None, forged
