"""Signs of life: `check --live`, a warning of the clock, log lines that say where and never what."""

from __future__ import annotations

import asyncio
import io
import json
import logging
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot import rigs
from bot.clock import LocalClock, ServiceClock, SimulatedClock
from bot.commands.check_live import report
from bot.message import Message
from bot.message.pipeline import Pipeline
from bot.message.situation import House
from bot.program.housekeeping import Housekeeping, behind
from bot.program.logs import Lines
from bot.settings import Settings
from bot.store import inbox, outgoing, places, vitals
from bot.store.database import Store
from bot.store.logbook import Logbook
from bot.store.outgoing import Unsent
from bot.store.places import Place
from bot.store.tables import outbox
from tests.bot.conftest import NOON


def live(tmp_path: Path) -> tuple[int, dict[str, str]]:
    out = io.StringIO()
    status = report(Settings(database=str(tmp_path / "record.sqlite"), timezone="UTC"), out)
    return status, {line[9:].partition(":")[0]: line for line in out.getvalue().splitlines()}


async def test_live_says_that_none_has_run(tmp_path: Path, store: Store) -> None:
    await store.close()

    status, told = await asyncio.to_thread(live, tmp_path)
    assert status == 1
    assert told["bot"] == "LOOK     bot: none has run on this record"


async def test_live_says_what_waits_and_how_it_is_doing(tmp_path: Path, store: Store) -> None:

    now = datetime.now(UTC)
    message = Message("yard:1", "7", "kim", now, "crosslay 1")
    async with store.begin() as tx:
        await vitals.put(tx, {"running": "4711", "recogniser": "0.31", "clock_offset_s": "0.0"}, now)
        await vitals.put(tx, {"running": "4712"}, now)
        await inbox.receive(tx, [message], now)
        await outgoing.put(tx, [Unsent(room="yard:1", kind="reply", text="x", created_at=now - timedelta(minutes=5))])
    status, told = await asyncio.to_thread(live, tmp_path)
    assert status == 1
    assert told["bot"].startswith("ok       bot: last sign of life 0:0")
    assert told["bot"].endswith("(process 4712)")
    assert told["inbox"].startswith("ok       inbox: 1 to be handled, the oldest 0:0")
    assert told["outbox"].startswith("LOOK     outbox: 1 to be sent, the oldest 5:0")
    assert told["recogniser"] == "ok       recogniser: 0.31 s for each second of sound"
    assert told["clock"] == "ok       clock: agrees with the service"
    async with store.begin() as tx:
        await outgoing.sent(tx, 1, "1", now)
        await outgoing.put(tx, [Unsent(room="yard:1", kind="reply", text="y", created_at=now)])
        await outgoing.failed(tx, 2, "Forbidden: bot was kicked", now)
        (received,) = await inbox.waiting(tx, now)
        await inbox.done(tx, received.id, now, fault="ZeroDivisionError()")
        await places.add_place(tx, Place("yard:1", "engine 12"))
        await vitals.put(tx, {"clock_offset_s": "-40.0"}, now)
    status, told = await asyncio.to_thread(live, tmp_path)
    assert told["last delivery"].startswith("ok       last delivery: 0:0")
    assert "message 7 of yard:1" in told["set aside"]
    assert "ZeroDivisionError" in told["set aside"]
    assert told["not shown"].startswith("ok       not shown: 1, the newest a reply in yard:1, ")
    assert told["not shown"].endswith("(Forbidden: bot was kicked)")
    assert told["clock"] == "LOOK     clock: 0:40 fast: set it"


async def test_a_clock_that_is_off_is_told_to_the_officer_once(store: Store) -> None:
    async with store.begin() as tx:
        for role in ("officer", "crew"):
            await places.add_place(tx, Place(f"yard:{role}", "engine 12", role=role))
    clock = ServiceClock(SimulatedClock(NOON))
    keeping = Housekeeping(store, House(rigs.load(), Logbook(), UTC), clock, None)
    await keeping.look()
    assert clock.answered(NOON + timedelta(seconds=42), NOON)
    for _ in range(3):
        await keeping.look()
    async with store.begin() as tx:
        told = [(row.room, row.text) for row in await tx.execute(outbox.select())]
    assert [room for room, _ in told] == ["yard:officer"]
    assert told[0][1].startswith("The clock of the machine that runs Crosslay is 0:42 slow.")


async def test_a_local_clock_that_is_set_meanwhile_is_told_and_not_followed(store: Store) -> None:
    async with store.begin() as tx:
        await places.add_place(tx, Place("local", "engine 12"))
    machine, steady = SimulatedClock(NOON), [0.0]
    clock = LocalClock(machine, lambda: steady[0])
    keeping = Housekeeping(store, House(rigs.load(), Logbook(), UTC), clock, None)
    await keeping.look()
    machine.advance(3600 + 30)
    steady[0] += 30
    for _ in range(3):
        await keeping.look()
    assert clock.now() == NOON + timedelta(seconds=30)
    async with store.begin() as tx:
        told = [(row.room, row.text) for row in await tx.execute(outbox.select())]
    assert [room for room, _ in told] == ["local"]
    assert told[0][1].startswith("The machine's clock was set 1:00:00 forward while Crosslay runs.")


async def test_a_local_clock_before_the_newest_message_is_told_at_the_start(store: Store, tmp_path: Path) -> None:
    """A small computer without a battery for its clock starts in the past."""
    async with store.begin() as tx:
        await places.add_place(tx, Place("local", "engine 12"))
        await inbox.receive(tx, [Message("local", "1", "kim", NOON, "crosslay 1")], NOON)
    clock = LocalClock(SimulatedClock(NOON - timedelta(minutes=40)))
    keeping = Housekeeping(store, House(rigs.load(), Logbook(), UTC), clock, None)
    await keeping.look()
    await keeping.look()
    async with store.begin() as tx:
        told = [row.text for row in await tx.execute(outbox.select())]
    assert told == [
        "The machine's clock says 11:20, and the newest message in the record is of 12:00: it is slow now, or was fast"
        " then. Have it set."
    ]
    assert behind(NOON, NOON, UTC) is None
    assert behind(None, NOON, UTC) is None


async def test_log_lines_say_room_and_message_and_never_what_was_said(
    store: Store, clock: SimulatedClock, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.INFO)
    pipeline = Pipeline(store, House(rigs.load(), Logbook(), UTC), clock)
    for number, words in enumerate(("note the purple zebra", "mayday purple zebra")):
        await pipeline.say(Message("yard:1", str(number), "kim", NOON, words, addressed=True))

    def broken(text: str, context: object) -> None:
        raise ValueError(f"could not convert {text!r}")

    monkeypatch.setattr("bot.message.transaction.read", broken)
    await pipeline.say(Message("yard:1", "9", "kim", NOON, "purple zebra", addressed=True))
    logging.getLogger("telegram.Bot").critical("Received data was %r", {"text": "purple zebra"})
    lines = [json.loads(Lines().format(record)) for record in caplog.records]
    assert "zebra" not in json.dumps(lines)
    handled = [line for line in lines if line["event"] == "handled"]
    assert [(line["room"], line["message_id"]) for line in handled] == [("yard:1", "0"), ("yard:1", "1")]
    failed = [line for line in lines if line["event"] == "A message failed"]
    assert [(line["message_id"], line["error"], line["tries"]) for line in failed] == [
        ("9", "ValueError", tries) for tries in (1, 2, 3)
    ]
    assert any("broken" in where for where in failed[0]["where"])
