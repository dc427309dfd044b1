"""What concerns a patient on a real record: who is shown it in which room, one patient a file, and erased."""

from __future__ import annotations

import json
from datetime import UTC
from pathlib import Path

import pytest

from bot import cli
from bot.clock import SimulatedClock
from bot.report.patient import NoPatientError, PatientFormError, patient_of, render_patient
from bot.store import log
from bot.store.database import Store
from bot.store.forgetting import forget
from handlers.history import fold
from handlers.medical.elements import SCHEMA
from handlers.scene import Scene
from tests.bot.commands.test_incidents import where
from tests.bot.message.test_pipeline import Yard
from tests.handlers.fireground import DAY, demo_rig

SECRET = ("150", "90", "96", "naloxone", "62")


@pytest.fixture
def yard(store: Store, clock: SimulatedClock) -> Yard:
    return Yard(store, clock)


async def a_call(yard: Yard) -> None:
    """Dana is the officer in a room of their own, Kim reports from one, the crew's room is a group."""
    await yard.say("I'm the officer", "dana", who="dana", group=False, name="Dana")
    await yard.say("dispatch: overdose, Harbor Street, engine 12", "dana", who="dana", group=False)
    await yard.say("on scene", "dana", who="dana", group=False)
    await yard.say("62 year old man, bp 150 over 90, pulse 96", "kim", who="kim", group=False)
    await yard.say("naloxone 4 mg in the nose", "kim", who="kim", group=False)


async def the_scene(yard: Yard) -> tuple[str, Scene]:
    async with yard.store.begin() as tx:
        incident = (await log.latest_incidents(tx))[0].id
        return incident, fold(await log.since(tx, incident))


async def test_who_reported_and_the_officer_are_shown_it_in_a_room_of_their_own(yard: Yard) -> None:
    await a_call(yard)
    for room, who in (("dana", "dana"), ("kim", "kim")):
        told = await yard.say("hand over", room, who=who, group=False)
        assert "150/90" in told.reply


@pytest.mark.parametrize("who", ["kim", "dana", "sam"])
async def test_in_the_crews_room_there_are_times_and_counts(yard: Yard, who: str) -> None:
    await a_call(yard)
    for words in ("hand over", "vitals", "what was the last pressure", "status", "send me the patient record"):
        told = await yard.say(words, "crew", who=who)
        assert not any(word in told.reply for word in SECRET), told.reply
    told = await yard.say("pulse 104, sat 91", "crew", who=who)
    assert "104" not in told.reply
    assert "2 values" in told.reply


async def test_others_in_the_crew_are_not_shown_it(yard: Yard) -> None:
    await a_call(yard)
    await yard.say("I'm the driver", "lee", who="lee", group=False, name="Lee")
    told = await yard.say("hand over", "lee", who="lee", group=False)
    assert not any(word in told.reply for word in SECRET)
    assert "vitals 1" in told.reply


async def test_nothing_of_a_patient_is_told_to_other_rooms(yard: Yard) -> None:
    await a_call(yard)
    yard.room.take()
    await yard.say("fentanyl 50 mcg IV", "kim", who="kim", group=False)
    assert {out.room for out in yard.room.take()} == {"yard:kim"}


async def test_it_is_forgotten_with_the_incident(yard: Yard) -> None:
    await a_call(yard)
    assert await where(yard.store, "naloxone")
    incident, _ = await the_scene(yard)
    async with yard.store.begin() as tx:
        await forget(tx, incident)
    assert await where(yard.store, "naloxone") == set()


async def test_one_patient_a_file(yard: Yard) -> None:
    await a_call(yard)
    await yard.say("patient 2, pulse 70", "kim", who="kim", group=False)
    _, scene = await the_scene(yard)
    first, second = patient_of(scene, "1"), patient_of(scene, "patient 2")
    made = json.loads(render_patient(scene, first, "json", demo_rig(), DAY, UTC))
    assert made["schema"] == SCHEMA
    assert {one["element"]: one["value"] for one in made["eVitals"][0]}["eVitals.06"] == 150
    other = render_patient(scene, second, "csv", demo_rig(), DAY, UTC).decode("utf-8-sig")
    assert "Heart Rate,70" in other
    assert "150" not in other
    assert render_patient(scene, first, "pdf", demo_rig(), DAY, UTC).startswith(b"%PDF")
    with pytest.raises(NoPatientError, match="there are: 1, 2"):
        patient_of(scene, "7")
    with pytest.raises(PatientFormError, match=r"\.pdf, \.csv or \.json"):
        render_patient(scene, first, "png", demo_rig(), DAY, UTC)


async def test_the_officer_is_sent_a_patients_record(yard: Yard) -> None:
    await a_call(yard)
    told = await yard.say("send me the patient record as json", "dana", who="dana", group=False)
    assert told.picture is not None
    assert (told.picture.what, told.picture.form) == ("patient", "json")


def test_by_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CROSSLAY_DATABASE", f"sqlite+aiosqlite:///{tmp_path}/record.db")
    monkeypatch.setenv("CROSSLAY_TIMEZONE", "UTC")
    script = tmp_path / "call.drill"
    script.write_text("00:00 officer: dispatch: fall, 4 Pier Road, engine 12\n00:30 crew: pulse 96\n")
    assert cli.run(["drill", str(script)]) == 0
    capsys.readouterr()
    assert cli.run(["report", "nothing", "--to", "x.json", "--patient", "1"]) == 1
    assert "There is no incident" in capsys.readouterr().err
