"""The daily check's record: on the screen, as a file, and sent in a room."""

from __future__ import annotations

import json
from datetime import UTC
from pathlib import Path

import pytest

from bot import cli, rigs
from bot.clock import SimulatedClock
from bot.message import Message, Outgoing
from bot.message.pipeline import Pipeline
from bot.message.situation import House
from bot.outbox import Outbox
from bot.outbox.attachments import Attachments
from bot.rooms.scripted import ScriptedRoom
from bot.store.database import Store
from bot.store.logbook import Logbook


async def check(store: Store, clock: SimulatedClock, *lines: str, first: int = 0) -> Outgoing:
    known, room = rigs.load(), ScriptedRoom("yard")
    pipeline = Pipeline(store, House(known, Logbook(), UTC), clock)
    outbox = Outbox(store, clock, UTC, [room], Attachments(store, known, clock, UTC))
    for number, line in enumerate(lines, first):
        await pipeline.say(Message("yard:1", str(number), "kim", clock.now(), line, role="driver", addressed=True))
        await outbox.drain()
        clock.advance(60)
    return room.told[-1]


SAID = ("start the daily check", "yes", "no", "yes", "yes", "yes", "85")


@pytest.fixture(autouse=True)
def _here(url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CROSSLAY_DATABASE", url)
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "UTC")
    monkeypatch.chdir(tmp_path)


async def test_the_latest_check_is_sent_in_the_room(store: Store, clock: SimulatedClock) -> None:
    out = await check(store, clock, *SAID, "send the readiness report")
    (paper,) = out.attachments
    assert (paper.name, paper.kind) == ("daily check.pdf", "file")
    assert paper.data.startswith(b"%PDF")


async def test_without_a_check_the_room_is_told_so(store: Store, clock: SimulatedClock) -> None:
    out = await check(store, clock, "send the readiness report")
    assert out.attachments == ()
    assert "start the daily check" in out.text


@pytest.fixture
async def checked(url: str, clock: SimulatedClock) -> None:
    store = await Store.open(url)
    await check(store, clock, "start the daily check", "yes")
    clock.advance(3600)
    await check(store, clock, *SAID, first=10)
    await store.close()


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = cli.run(["report", "--readiness", *arguments])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.mark.usefixtures("checked")
def test_the_latest_check_is_shown_with_who_and_when(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = shown(capsys)
    head, summary, _, *table = out.splitlines()
    assert status == 0
    assert head == ("Alder Bay Fire Department: Daily check, Engine 12, 2026-03-07 13:02, started by driver, not ended")
    assert summary == "6 of 10 items answered. NOT OK: pump check and cylinders."
    assert [line.split() for line in table[:2]][1] == ["tank", "pump", "OK", "driver", "13:03"]
    cylinders = next(line for line in table if line.startswith("cylinders"))
    assert "NOT OK" in cylinders
    assert "85 percent (at least 90)" in cylinders
    assert sum("not answered" in line for line in table) == 4


@pytest.mark.usefixtures("checked")
def test_as_a_file_its_ending_names_the_form(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    for form, begins in (("pdf", b"%PDF"), ("csv", b"\xef\xbb\xbfItem,"), ("json", b"{")):
        assert shown(capsys, "--to", f"check.{form}")[0] == 0
        assert (tmp_path / f"check.{form}").read_bytes().startswith(begins)
    made = json.loads((tmp_path / "check.json").read_text("utf-8"))
    assert [row["verdict"] for row in made["rows"]][:2] == ["OK", "NOT OK"]
    assert made["rows"][5]["value"] == 85
    status, _, err = shown(capsys, "--to", "check.png")
    assert (status, err) == (1, "The daily check's file name must end in .pdf, .csv or .json.\n")


def test_without_a_check_the_command_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    assert shown(capsys)[::2] == (
        1,
        "No daily check is in the record: say “start the daily check” in a room first.\n",
    )
