"""Another company's room comes into the incident by a one-time code, gets the brief and its task."""

from __future__ import annotations

import re

import pytest

from bot.clock import SimulatedClock
from bot.message import join_codes
from bot.store.database import Store
from bot.store.tries import MOST
from tests.bot.message.test_pipeline import Yard


@pytest.fixture
def yard(store: Store, clock: SimulatedClock) -> Yard:
    return Yard(store, clock)


async def code_for(yard: Yard, unit: str = "engine 9") -> str:
    handled = await yard.say(f"join code for {unit}")
    found = re.match(r"Join code for Engine 9: ((?:\d ?){8})\. For one room, until 12:3\d\.", handled.reply)
    assert found is not None
    return found[1]


async def test_a_company_joins_by_its_code_and_gets_the_brief_and_its_task(yard: Yard) -> None:
    await yard.say("dispatch: structure fire, 214 Harbor Street, engine 12")
    await yard.say("charge crosslay 1")
    await yard.say("engine 9, lay in from the hydrant, 600 feet, supply engine 12")
    code = await code_for(yard)
    yard.told()
    handled = await yard.say(f"join {code}", "nine", who="ana")
    lead, brief, task, *_ = handled.reply.splitlines()
    assert lead == "Engine 9 joined, 12:00."
    assert "214 Harbor Street" in brief
    # 600 ft of 5 in at 150 gpm: 0.08 × 1.5² × 6 = 1.08 psi, and 20 psi residual at the far end
    assert task == "Your task: lay in from the hydrant, 600 ft, supply Engine 12, pump 21 psi, 150 gpm."
    assert ("crew", "notice", "Engine 9 joined, 12:00.") in yard.told()
    await yard.say("engine 9 division 2 search")
    assert ("nine", "notice", "Engine 9: division 2, search, 12:00. Logged.") in yard.told()


async def test_who_joined_speaks_for_their_own_company(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say(f"join {await code_for(yard)}", "nine", who="ana")
    handled = await yard.say("on scene", "nine", who="ana")
    assert handled.reply.startswith("Engine 9 on scene, 12:00.")


async def test_a_mayday_reaches_the_room_that_joined(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say(f"join {await code_for(yard)}", "nine", who="ana")
    yard.told()
    await yard.say("mayday mayday, second floor")
    assert any(room == "nine" and kind == "alert" for room, kind, _ in yard.told())


async def test_a_code_for_the_wrong_company_isnt_said_to_be_anothers(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    first = await code_for(yard)
    corrected = await yard.say("correction engine 8")
    assert corrected.reply.startswith("Join code for Engine 8: ")
    second = re.sub(r"\D", "", corrected.reply.partition(": ")[2].partition(".")[0])
    assert second != first
    assert (await yard.say(f"join {second}", "eight", who="ana")).reply.startswith("Engine 8 joined")
    assert (await yard.say(f"join {first}", "nine", who="bo")).reply.startswith("Engine 9 joined")


async def test_a_code_is_for_one_room_and_half_an_hour(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("crosslay 1", "ten", who="bo", group=False)
    code = await code_for(yard)
    await yard.say(f"join {code}", "nine", who="ana")
    assert (await yard.say(f"join {code}", "eleven", who="cy")).refused is not None
    late = await code_for(yard)
    yard.clock.advance(31 * 60)
    assert (await yard.say(f"join {late}", "twelve", who="di")).refused is not None


async def test_undo_after_a_code_takes_the_code_back_and_no_report(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("water on the fire")
    code = await code_for(yard)
    assert (await yard.say("undo that")).reply.startswith("Taken back: the join code. It lets nobody in.\n")
    assert (await yard.say(f"join {code}", "nine", who="ana")).refused == join_codes.BAD_CODE
    assert (await yard.say("undo that")).refused == join_codes.OVER_ALREADY
    assert "reported 12:00" in (await yard.say("is there water on the fire?")).reply


async def test_a_code_that_was_used_isnt_taken_back(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say(f"join {await code_for(yard)}", "nine", who="ana")
    assert (await yard.say("undo that")).refused == join_codes.OVER_ALREADY


@pytest.mark.parametrize("tried_by", ["one person in many rooms", "many people of one company"])
async def test_codes_cant_be_tried_through(yard: Yard, tried_by: str) -> None:
    await yard.say("engine 12 on scene")
    code = await code_for(yard)
    for wrong in range(MOST):
        room, who = (f"room {wrong}", "ana") if tried_by.startswith("one") else ("nine", f"person {wrong}")
        assert (await yard.say(f"join 0000000{wrong}", room, who=who)).refused == join_codes.BAD_CODE
    assert (await yard.say(f"join {code}", "nine", who="ana")).refused == join_codes.TOO_MANY
    yard.clock.advance(15 * 60)
    assert (await yard.say(f"join {code}", "nine", who="ana")).refused is None


async def test_tries_outlast_a_restart(yard: Yard, store: Store, clock: SimulatedClock) -> None:
    await yard.say("engine 12 on scene")
    for wrong in range(MOST):
        await yard.say(f"join 0000000{wrong}", "nine", who="ana")
    again = Yard(store, clock)
    again.said = yard.said
    assert (await again.say("join 11111111", "nine", who="ana")).refused == join_codes.TOO_MANY


async def test_no_code_without_an_incident(yard: Yard) -> None:
    refused = (await yard.say("join code for engine 9")).refused
    assert refused == "No incident is open to join: it opens with the dispatch or “on scene”."


async def test_a_code_without_a_company_asks_which(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    await yard.say("engine 7 on scene")
    for answer, unit in (("engine 7", "Engine 7"), ("engine 9", "Engine 9")):
        asked = await yard.say("join code")
        assert asked.question is not None
        assert (asked.question.text, [choice.label for choice in asked.question.choices]) == (
            "A join code for which company?",
            ["Engine 7"],
        )
        assert (await yard.say(answer)).reply.startswith(f"Join code for {unit}: ")


async def test_codes_are_long_of_an_alphabet_without_look_alikes_and_differ(yard: Yard) -> None:
    await yard.say("engine 12 on scene")
    codes = {(await code_for(yard)).replace(" ", "") for _ in range(20)}
    assert len(codes) == 20
    assert all(len(code) >= 8 and set(code) <= set(join_codes.ALPHABET) for code in codes)
    assert not (set(join_codes.ALPHABET) & set("OIlSZB"))


async def test_a_guest_is_in_that_incident_alone(yard: Yard) -> None:
    """The company's next one is none of theirs: not its alerts, not its clocks, not what is said of it."""
    await yard.say("engine 12 on scene")
    await yard.say("crosslay 1", "pump", who="lee", group=False)
    await yard.say(f"join {await code_for(yard)}", "nine", who="ana")
    yard.told()
    await yard.say("mayday mayday, second floor")
    assert "nine" in {room for room, _, _ in yard.told()}
    await yard.say("mayday cleared")
    await yard.say("command terminated")
    assert yard.last().text.startswith("Command terminated")
    yard.told()
    yard.clock.advance(3600)
    await yard.say("engine 12 on scene")
    await yard.say("mayday mayday, second floor")
    await yard.say("remind me in one minute to check the roof")
    yard.clock.advance(1200)
    await yard.pipeline.fire()
    await yard.outbox.drain()
    rooms = {room for room, _, _ in yard.told()}
    assert "nine" not in rooms
    assert "pump" in rooms, "the company's own are"
