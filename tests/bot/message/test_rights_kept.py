"""Rights in the rooms: who sets up, who is confirmed, what the settings give, what a guest may; on a real record."""

from __future__ import annotations

import pytest

from bot.clock import SimulatedClock
from bot.message import Button, Outgoing
from bot.store import places
from bot.store.database import Store
from tests.bot.message.test_pipeline import Yard


@pytest.fixture
def yard(store: Store, clock: SimulatedClock) -> Yard:
    return Yard(store, clock)


async def role_of(yard: Yard, who: str) -> tuple[str | None, str]:
    async with yard.store.begin() as tx:
        person = await places.person(tx, who)
        assert person is not None
        return person.role, person.unit


def asked(told: list[Outgoing], words: str) -> tuple[Button, ...]:
    return next(out.buttons for out in told if words in out.text)


async def a_crew(yard: Yard) -> None:
    """Dana is the officer and Lee the driver, each in a room of their own; Kim and Sam are in the crew's.

    Robin has the officer's role by the settings, and has said nothing yet.
    """
    object.__setattr__(yard.house, "given_roles", {"robin": "officer"})
    await yard.say("I'm the driver", "lee", who="lee", group=False, name="Lee")
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await yard.say("how long", who="kim", name="Kim")
    await yard.say("engine 12 on scene", "dana", who="dana", group=False)
    yard.room.take()


async def a_guest(yard: Yard) -> None:
    """Ana of Engine 9 comes in by a code."""
    made = await yard.say("join code for engine 9", "dana", who="dana", group=False)
    code = made.reply.partition(": ")[2].partition(".")[0]
    await yard.say(f"join {code}", "nine", who="ana", name="Ana")
    await yard.say("I'm the officer", "nine", who="ana")
    yard.room.take()


PEOPLE = {
    "the officer": ("dana", "dana"),
    "the driver": ("lee", "lee"),
    "an officer by the settings": ("crew", "robin"),
    "the crew": ("crew", "kim"),
    "somebody without a role": ("crew", "sam"),
    "a guest's officer": ("nine", "ana"),
}
LEADING = ("the officer", "the driver", "an officer by the settings")
COMPANY = (*LEADING, "the crew", "somebody without a role")
ACTIONS = {
    # words: who may say them
    "command terminated": LEADING,
    "mayday cleared": LEADING,
    "join code for engine 7": LEADING,
    "elapsed every 15 minutes": COMPANY,
    "send the report": COMPANY,
    "200 feet of 1.75 flowing 150": tuple(PEOPLE),
    "how long": tuple(PEOPLE),
    "primary search complete": tuple(PEOPLE),
    "mayday mayday mayday, lost on floor two": tuple(PEOPLE),
}


@pytest.mark.parametrize("person", PEOPLE)
@pytest.mark.parametrize("words", ACTIONS)
async def test_who_may_say_what(yard: Yard, words: str, person: str) -> None:
    await a_crew(yard)
    await a_guest(yard)
    if words == "mayday cleared":
        await yard.say("mayday mayday, floor two", "crew", who="kim")
    room, who = PEOPLE[person]
    handled = await yard.say(words, room, who=who, group=room in ("crew", "nine"))
    if person in ACTIONS[words]:
        assert (handled.refused, handled.status) == (None, "answered"), handled.reply
    else:
        assert handled.refused is not None, handled.reply
        assert "the officer or the driver of Engine 12, or who has command." in handled.refused


async def test_the_first_in_a_room_sets_up(yard: Yard) -> None:
    await yard.say("engine 12 on scene", who="kim")
    await yard.say("how long", who="sam")
    refused = (await yard.say("command terminated", who="sam")).refused
    assert refused is not None
    assert refused.endswith("If that is you, say “I'm the officer” or “I'm the driver”.")
    assert (await yard.say("command terminated", who="kim")).status == "answered"


async def test_once_somebody_leads_who_set_up_doesnt(yard: Yard) -> None:
    await yard.say("engine 12 on scene", who="kim")
    await yard.say("I'm the officer", who="sam")
    assert (await yard.say("command terminated", who="kim")).refused is not None
    assert (await yard.say("command terminated", who="sam")).status == "answered"


@pytest.mark.parametrize("role", ["officer", "driver"])
async def test_a_role_is_confirmed_by_the_officer_who_is_there(yard: Yard, role: str) -> None:
    await a_crew(yard)
    claimed = await yard.say(f"I'm the {role}", who="sam", name="Sam")
    assert claimed.reply.startswith(f"The officer (Dana) is asked whether you are the {role} of Engine 12.")
    assert (await role_of(yard, "sam"))[0] is None
    told = yard.room.take()
    buttons = asked(told, f"Sam says they are the {role} of Engine 12.")
    assert [button.label for button in buttons] == [f"Sam is the {role}", "No"]
    assert {out.room for out in told if out.buttons} == {"yard:dana"}
    await yard.say("", "dana", who="dana", group=False, button=buttons[0].id)
    assert await role_of(yard, "sam") == (role, "engine 12")
    before = {"officer": "dana", "driver": "lee"}[role]
    assert (await role_of(yard, before))[0] == "crew", "there is one of them"
    assert any(
        out.room == "yard:crew" and f"Sam is the {role} of Engine 12 now." in out.text for out in yard.room.take()
    )


async def test_who_isnt_the_officer_confirms_nothing(yard: Yard) -> None:
    await yard.say("I'm the officer", who="dana", name="Dana")
    await yard.say("I'm the officer", who="sam", name="Sam")
    buttons = asked(yard.room.take(), "Sam says")
    handled = await yard.say("", who="sam", button=buttons[0].id)
    assert handled.refused is not None
    assert await role_of(yard, "sam") == (None, "engine 12")
    assert (await yard.say("", who="bo", button=buttons[1].id)).refused is not None, "nor is it theirs to say no"
    assert (await yard.say("no", who="bo")).refused is not None
    await yard.say("", who="dana", button=buttons[0].id)
    assert await role_of(yard, "sam") == ("officer", "engine 12"), "the question stayed open to the officer"


async def test_what_else_is_said_doesnt_take_the_question_away(yard: Yard) -> None:
    await a_crew(yard)
    await yard.say("I'm the officer", who="sam", name="Sam")
    buttons = asked(yard.room.take(), "Sam says")
    await yard.say("how long", "dana", who="dana", group=False)
    await yard.say("water on the fire", "dana", who="dana", group=False)
    await yard.say("", "dana", who="dana", group=False, button=buttons[0].id)
    assert (await role_of(yard, "sam"))[0] == "officer"
    again = await yard.say("", "dana", who="dana", group=False, button=buttons[1].id)
    assert again.refused is not None
    assert again.refused.startswith("That question was answered already")


async def test_no_means_nothing_changes(yard: Yard) -> None:
    await a_crew(yard)
    await yard.say("I'm the officer", who="sam", name="Sam")
    buttons = asked(yard.room.take(), "Sam says")
    await yard.say("", "dana", who="dana", group=False, button=buttons[1].id)
    assert (await role_of(yard, "sam"))[0] is None
    assert (await role_of(yard, "dana"))[0] == "officer"


async def test_the_driver_may_take_the_officers_role(yard: Yard) -> None:
    await a_crew(yard)
    assert (await yard.say("I'm the officer", "lee", who="lee", group=False)).reply.startswith("You are officer")
    assert (await role_of(yard, "dana"))[0] == "crew"


async def test_an_officer_of_the_last_shift_holds_nobody_up(yard: Yard) -> None:
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    yard.clock.advance(13 * 3600)
    assert (await yard.say("I'm the officer", who="sam")).reply.startswith("You are officer of Engine 12.")


async def test_the_settings_give_roles(store: Store, clock: SimulatedClock) -> None:
    yard = Yard(store, clock)
    object.__setattr__(yard.house, "given_roles", {"41": "officer", "yard:42": "driver"})
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await yard.say("engine 12 on scene", who="yard:42")
    assert (await yard.say("join code for engine 9", who="yard:42")).refused is None
    assert (await yard.say("join code for engine 9", who="yard:43")).refused is not None
    taken = await yard.say("I'm the officer", who="yard:41", name="Robin")
    assert taken.reply.startswith("You are officer of Engine 12.")
    assert (await role_of(yard, "dana"))[0] == "crew"


async def test_a_guest_takes_no_role_of_the_company(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    handled = await yard.say("I'm the officer of engine 12", "nine", who="ana")
    assert handled.refused == "You are here with Engine 9: roles of Engine 12 are for its own people."
    assert await role_of(yard, "ana") == ("officer", "engine 9")


async def test_a_guest_reports_for_its_own_unit(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    assert (await yard.say("on scene", "nine", who="ana")).reply.startswith("Engine 9 on scene")
    other = await yard.say("engine 12 is available", "nine", who="ana")
    assert other.refused == "You report for Engine 9 here: Engine 12 reports for itself, or who has command does."


async def test_who_has_command_may_do_what_the_officer_may(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    claimed = await yard.say("engine 9 has command", "nine", who="ana")
    assert claimed.reply.startswith("Engine 12's officer is asked whether Engine 9 has command.")
    assert (await yard.say("command terminated", "nine", who="ana")).refused is not None
    buttons = asked(yard.room.take(), "Engine 9 says it has command.")
    await yard.say("", "dana", who="dana", group=False, button=buttons[0].id)
    assert (await yard.say("command terminated", "nine", who="ana")).status == "answered"


async def test_a_guests_roles_are_confirmed_by_its_own_officer(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    claimed = await yard.say("I'm the officer", "nine", who="bo", name="Bo")
    assert claimed.reply.startswith("The officer (Ana) is asked whether you are the officer of Engine 9.")
    assert await role_of(yard, "bo") == (None, "engine 9")
    (put,) = [out for out in yard.room.take() if "Bo says they are the officer" in out.text]
    assert put.room == "yard:nine"
    assert (await yard.say("", "nine", who="cy", button=put.buttons[0].id)).refused is not None
    await yard.say("", "nine", who="ana", button=put.buttons[0].id)
    assert await role_of(yard, "bo") == ("officer", "engine 9")
    assert (await role_of(yard, "ana"))[0] == "crew"


async def test_a_guests_word_of_the_whole_fire_is_asked_of_who_leads(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    said = await yard.say("fire's knocked down", "nine", who="ana")
    assert said.reply.startswith("Kept as Engine 9's word. Engine 12's officer is asked whether it is so.")
    assert "not reported" in (await yard.say("is it knocked down?", "dana", who="dana", group=False)).reply
    buttons = asked(yard.room.take(), "Engine 9 says: fire knocked down, 12:00. Is that so for the whole fire?")
    await yard.say("", "dana", who="dana", group=False, button=buttons[0].id)
    assert "reported 12:00" in (await yard.say("is it knocked down?", "dana", who="dana", group=False)).reply
    part = await yard.say("fire's knocked down on the second floor", "nine", who="ana")
    assert "Logged" in part.reply


async def test_a_guest_is_offered_nothing_that_would_be_refused(yard: Yard) -> None:
    """An emergency proposes a PAR to who may ask for one; the companies that a PAR found short may answer, not ask."""
    await a_crew(yard)
    await a_guest(yard)
    ours = await yard.say("evacuate the building", "dana", who="dana", group=False)
    assert ours.to_ask is not None
    theirs = await yard.say("evacuate the building", "nine", who="ana")
    assert theirs.to_ask is None
    assert "Request" not in theirs.reply
    await yard.say("engine 9 in with two at 4500", "nine", who="ana")
    await yard.say("request a PAR", "dana", who="dana", group=False)
    yard.room.take()
    yard.clock.advance(180)
    await yard.pipeline.fire()
    await yard.outbox.drain()
    told = {out.room: bool(out.buttons) for out in yard.room.take() if "PAR asked" in out.text}
    assert told["yard:dana"]
    assert not told["yard:nine"]


async def test_undo_after_a_report_that_was_refused_or_asked_back_takes_no_other_back(yard: Yard) -> None:
    await a_crew(yard)
    await yard.say("water on the fire", "crew", who="kim")
    assert (await yard.say("command terminated", "crew", who="kim")).refused is not None
    undone = await yard.say("undo that", "crew", who="kim")
    assert (undone.refused or "").startswith("Your last report wasn't logged: nothing is taken back.")
    assert (await yard.say("under control at 06:00", "dana", who="dana", group=False)).status == "asked"
    undone = await yard.say("undo that", "dana", who="dana", group=False)
    assert (undone.refused or "").startswith("Your last report wasn't logged")
    assert (await yard.say("undo water on the fire", "crew", who="kim")).reply.startswith("Taken back: Water on the")


async def test_remind_me_is_told_where_it_was_asked(yard: Yard) -> None:
    await a_crew(yard)
    await yard.say("remind me in five minutes to check the roof", "sam", who="sam", group=False)
    yard.room.take()
    yard.clock.advance(300)
    await yard.pipeline.fire()
    await yard.outbox.drain()
    assert [out.room for out in yard.room.take() if out.name == "timer"] == ["yard:sam"]


async def test_a_guests_timer_is_the_guests(yard: Yard) -> None:
    await a_crew(yard)
    await a_guest(yard)
    await yard.say("remind me in five minutes to check the roof", "nine", who="ana")
    yard.clock.advance(300)
    await yard.pipeline.fire()
    await yard.outbox.drain()
    assert [out.room for out in yard.room.take() if out.name == "timer"] == ["yard:nine"]
