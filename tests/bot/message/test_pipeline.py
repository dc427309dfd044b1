"""The one way through: what one message changes, who is told, what a button, a correction and a fault come to."""

from __future__ import annotations

from datetime import UTC, timedelta

import pytest

from bot import rigs
from bot.clock import SimulatedClock
from bot.message import Message, Outgoing
from bot.message.pipeline import FAULT, Pipeline
from bot.message.reply import Handled
from bot.message.situation import House
from bot.outbox import Outbox
from bot.rooms.scripted import ScriptedRoom
from bot.store import inbox, log, places
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.places import Place
from handlers.events import BenchmarkReported, IncidentOpened, LineOpened
from handlers.history import History
from tests.bot.conftest import NOON


class Yard:
    """A station with its rooms, to say things in."""

    def __init__(self, store: Store, clock: SimulatedClock) -> None:
        self.store, self.clock = store, clock
        self.room = ScriptedRoom("yard")
        self.house = House(rigs.load(), Logbook(), UTC)
        self.pipeline = Pipeline(store, self.house, clock)
        self.outbox = Outbox(store, clock, UTC, [self.room])
        self.said = 0

    async def say(
        self, words: str = "", room: str = "crew", *, who: str = "kim", group: bool = True, **fields: object
    ) -> Handled:
        self.said += 1
        message = Message(
            f"yard:{room}", str(self.said), who, self.clock.now(), words, group=group, addressed=True, **fields
        )
        handled = await self.pipeline.say(message)
        assert handled is not None
        await self.outbox.drain()
        return handled

    def told(self) -> list[tuple[str, str, str]]:
        """(room, kind, first line) of what was told since the last time."""
        return [(out.room[5:], out.kind, out.text.splitlines()[0]) for out in self.room.take()]

    def last(self) -> Outgoing:
        return self.room.told[-1]

    async def bodies(self, incident: str) -> list[type]:
        async with self.store.begin() as tx:
            return [type(event.body) for event in await log.since(tx, incident)]


@pytest.fixture
def yard(store: Store, clock: SimulatedClock) -> Yard:
    return Yard(store, clock)


async def test_a_question_starts_nothing(yard: Yard) -> None:
    await yard.say("two lines, 200 feet, 1.75, second floor")
    assert yard.told() == [("crew", "reply", "175 psi, 300 gpm, 1:40 of tank")]
    async with yard.store.begin() as tx:
        assert await log.latest_incidents(tx) == []


async def test_the_first_report_opens_an_incident_for_every_room_of_the_company(yard: Yard) -> None:
    await yard.say("crosslay 1", "driver's", group=False)
    await yard.say("crosslay 1")
    yard.told()
    await yard.say("engine 12 on scene", "officer's", who="lee", group=False)
    assert ("crew", "notice", "Engine 12 on scene, 12:00. Logged.") in yard.told()
    async with yard.store.begin() as tx:
        entered = {place.room for place in await places.of_incident(tx, "2026-03-07-1")}
    assert entered == {"yard:crew", "yard:driver's", "yard:officer's"}
    assert (await yard.bodies("2026-03-07-1"))[0] is IncidentOpened


async def test_a_room_that_comes_later_is_in_the_incident_and_hears_its_clocks(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    yard.clock.advance(60)
    await yard.say("how long", "hall", who="lee")
    yard.clock.advance(540)
    await yard.pipeline.fire()
    await yard.outbox.drain()
    reminded = [room for room, kind, _ in yard.told() if kind == "reminder"]
    assert sorted(reminded) == ["crew", "hall"]


async def test_a_benchmark_is_echoed_to_the_crew_but_not_where_it_was_reported(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("crosslay 1", "officer's", who="lee", group=False)
    yard.told()
    await yard.say("water on the fire", "officer's", who="lee", group=False)
    await yard.say("primary search complete")
    assert yard.told() == [
        ("officer's", "reply", "Water on the fire, 12:00. Logged."),
        ("crew", "notice", "Water on the fire, 12:00. Logged."),
        ("crew", "reply", "Primary search complete, 12:00. Logged."),
    ]


async def test_the_same_message_twice_is_handled_once(yard: Yard) -> None:
    message = Message("yard:crew", "7", "kim", yard.clock.now(), "engine 12 on scene", addressed=True)
    assert await yard.pipeline.say(message) is not None
    assert await yard.pipeline.say(message) is None
    assert (await yard.bodies("2026-03-07-1")).count(BenchmarkReported) == 1


async def test_a_button_means_its_choice_once(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("all clear")
    primary = next(button for button in yard.last().buttons if "rimary" in button.label)
    assert len(primary.id) <= 20
    await yard.say(button=primary.id)
    assert yard.last().text.startswith("Primary search complete")
    await yard.say(button=primary.id)
    assert yard.last().text.startswith("That question was answered already")
    await yard.say(button="q999:0")
    assert yard.last().text.startswith("That button doesn't belong to an open question")


async def test_a_question_is_answered_by_words_of_the_one_who_was_asked(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("all clear")
    assert (await yard.say("primary", who="lee")).status != "answered"
    await yard.say("primary")
    assert yard.last().text.startswith("Primary search complete")


async def test_a_question_that_is_old_isnt_answered_by_words_any_more(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("all clear")
    yard.clock.advance(3600)
    assert (await yard.say("primary")).status != "answered"


async def test_a_correction_takes_effect_in_the_log(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("charge crosslay 1")
    yard.clock.advance(30)
    await yard.say("undo")
    history = await _history(yard)
    assert [type(event.body) for event in history.events].count(LineOpened) == 1
    assert history.scene.pump("engine 12").lines == ()


async def test_a_fault_inside_is_told_and_kept_and_the_next_message_goes_through(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr("bot.message.transaction.read", broken)
        await yard.say("crosslay 1")
    assert yard.last().text == FAULT
    await yard.say("crosslay 1")
    assert yard.last().text.startswith("170 psi")
    async with yard.store.begin() as tx:
        assert await inbox.waiting(tx, NOON) == []


async def test_after_the_end_a_report_still_belongs_to_the_incident_and_the_next_fire_is_a_new_one(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("command terminated")
    await yard.say("engine 12 available")
    assert (await yard.bodies("2026-03-07-1")).count(BenchmarkReported) == 3
    yard.clock.advance(600)
    await yard.say("engine 12 on scene")
    assert (await yard.bodies("2026-03-07-2")).count(BenchmarkReported) == 1
    async with yard.store.begin() as tx:
        assert [one.closed_at is None for one in await log.latest_incidents(tx)] == [True, False]


async def test_companies_of_one_program_have_incidents_of_their_own(yard: Yard) -> None:
    async with yard.store.begin() as tx:
        await places.add_place(tx, Place("yard:nine", company="engine 9", grouped=True))
    await yard.say("engine 12 on scene")
    await yard.say("on scene", "nine", who="lee")
    async with yard.store.begin() as tx:
        assert {one.company for one in await log.latest_incidents(tx)} == {"engine 12", "engine 9"}


async def test_another_programs_events_are_seen_before_the_next_number_is_given(yard: Yard, url: str) -> None:
    await yard.say("engine 12 on scene")
    other_store = await Store.open(url)
    other = Yard(other_store, yard.clock)
    other.said = 100
    await other.say("water on the fire")
    await yard.say("primary search complete")
    await other.say("under control")
    await other_store.close()
    history = await _history(yard)
    assert [event.seq for event in history.events] == list(range(1, len(history.events) + 1))
    assert history.scene.stamp("under_control") is not None


async def test_who_said_it_and_when_stand_in_the_log(yard: Yard) -> None:
    sent = yard.clock.now()
    yard.clock.advance(42)
    message = Message("yard:crew", "1", "kim", sent, "engine 12 on scene", role="officer", addressed=True)
    await yard.pipeline.say(message)
    event = (await _history(yard)).events[-1]
    assert (event.who, event.role, event.room, event.message) == ("kim", "officer", "yard:crew", "yard:crew/1")
    assert event.logged_at - event.at == timedelta(seconds=42)
    assert event.at == NOON


async def _history(yard: Yard, incident: str = "2026-03-07-1") -> History:
    async with yard.store.begin() as tx:
        return await yard.house.logbook.history(tx, incident)


async def test_another_company_speaks_of_itself(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("on scene with four", "nine", who="lee", unit="engine 9")
    assert ("crew", "notice", "Engine 9 on scene with 4, 12:00. Logged.") in yard.told()
    assert (await _history(yard)).scene.companies["engine 9"].staffing == 4


async def test_a_mayday_is_caught_even_when_the_reader_faults(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    await yard.say("engine 12 on scene", "crew")
    await yard.say("how long", "driver's", group=False)
    yard.told()

    def faulty(words: str, context: object) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr("grammar.reader.read", faulty)
    handled = await yard.say("MAYDAY may-day we're lost on two", "crew")
    assert handled.intent == "mayday"
    assert handled.outcomes[0].events[-1].body.text == "MAYDAY may-day we're lost on two"
    told = yard.told()
    assert any(room == "driver's" and kind == "alert" and "MAYDAY" in first for room, kind, first in told)
    assert "The reader failed" in caplog.text
    assert (await yard.say("water on the fire")).refused == FAULT


async def test_a_look_at_the_state_of_things_does_not_push_out_how_a_line_was_asked_for(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("crosslay 2, third floor")
    await yard.say("what am I pumping")
    await yard.say("status")
    await yard.say("charge crosslay 2")
    assert yard.last().text.startswith("180 psi, 150 gpm: Crosslay 2 on.")
