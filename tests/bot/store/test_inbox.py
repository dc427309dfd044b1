"""The inbox: a message is taken once, kept until it is handled, and remembered for what comes after it."""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace
from sqlalchemy import text

from bot.message import Message
from bot.store import inbox, outgoing
from bot.store.database import Store
from grammar.commands import Elapsed, TankTime
from tests.bot.conftest import NOON


def said(number: int, words: str = "how long", who: str = "kim", room: str = "yard") -> Message:
    return Message(room=room, id=str(number), who=who, at=NOON + timedelta(seconds=number), text=words)


async def test_the_same_message_twice_is_taken_once(store: Store) -> None:
    async with store.begin() as tx:
        first = await inbox.receive(tx, [said(1), said(2), said(1)], NOON)
    async with store.begin() as tx:
        second = await inbox.receive(tx, [said(2), said(3)], NOON)
    assert [one.message.id for one in first] == ["1", "2"]
    assert [one.message.id for one in second] == ["3"]


async def test_what_isnt_handled_waits_in_order_with_its_recording(store: Store) -> None:
    spoken = Message(room="yard", id="2", who="kim", at=NOON, voice=b"OggS")
    async with store.begin() as tx:
        taken = await inbox.receive(tx, [said(1), spoken, said(3)], NOON)
        await inbox.done(tx, taken[0].id, NOON)
    async with store.begin() as tx:
        waits = replace(spoken, voice=b"", recorded=True)
        assert [one.message for one in await inbox.waiting(tx, NOON)] == [waits, said(3)]
        assert [await inbox.recording(tx, taken[1].id) for _ in range(2)] == [(b"OggS", 0), (b"OggS", 1)]
        await inbox.done(tx, taken[1].id, NOON)
        assert [one.message for one in await inbox.waiting(tx, NOON)] == [said(3)]


async def test_last_commands_are_the_speakers_own_of_this_room_or_incident(store: Store) -> None:
    async with store.begin() as tx:
        taken = await inbox.receive(tx, [said(1), said(2, room="hall"), said(3, who="lee"), said(4)], NOON)
        await inbox.done(tx, taken[0].id, NOON, incident="A", commands=[TankTime(flow_gpm=150)], reply="3:20")
        await inbox.done(tx, taken[1].id, NOON, incident="B", commands=[Elapsed()], reply="ten minutes")
        await inbox.done(tx, taken[2].id, NOON, incident="A", commands=[Elapsed()], reply="eleven minutes")
        await inbox.done(tx, taken[3].id, NOON, incident="A", reply="Not understood.")
        last = await inbox.last_commands(tx, "kim", "yard", "A", NOON)
        assert last == inbox.Last("yard/1", NOON + timedelta(seconds=1), (TankTime(flow_gpm=150),))
        assert await inbox.last_commands(tx, "kim", "pump", "A", NOON) == last
        assert await inbox.last_commands(tx, "kim", "yard", None, NOON) == last
        assert await inbox.last_commands(tx, "kim", "pump", None, NOON) is None
        assert await inbox.last_commands(tx, "kim", "yard", "A", NOON + timedelta(minutes=1)) is None
        assert await inbox.last_told(tx, "kim", "yard") == inbox.LastTold(
            "yard/4", "Not understood.", NOON + timedelta(seconds=4), ()
        )


async def test_a_row_that_cant_be_read_is_set_aside_its_room_is_told_and_it_holds_up_no_other(store: Store) -> None:
    async with store.begin() as tx:
        taken = await inbox.receive(tx, [said(1), said(2)], NOON)
        await tx.execute(text("UPDATE inbox SET body = '{' WHERE id = :id"), {"id": taken[0].id})
        assert [one.message for one in await inbox.waiting(tx, NOON)] == [said(2)]
        count, ((room, message, _, error),) = await inbox.set_aside(tx)
        (told,), _ = await outgoing.start(tx, ["yard"], (), NOON)
    assert (count, room, message) == (1, "yard", "1")
    assert (told.draft.room, told.draft.reply_to, told.draft.text) == ("yard", "1", inbox.UNREADABLE)
    assert "DecodeError" in error
