"""A Mayday is stamped, told to every room, kept on the clock, and never answered for command."""

from __future__ import annotations

import pytest

from grammar.commands import Emergency, Evacuate, Mayday, Report, Status, Strategy
from handlers.errors import Refusal
from handlers.events import IncidentOpened
from handlers.incident.mayday import mayday_clock
from tests.handlers.fireground import Fireground, clock_time


def test_the_answer_begins_with_the_radio_and_every_room_is_alerted() -> None:
    told = Fireground().at("14:32:05", Mayday(text="mayday mayday engine 9 lost on the second floor", unit="engine 9"))
    assert told.reply.startswith("Use the radio: this room doesn't transmit.")
    (alert,) = told.notices
    assert (alert.to, alert.kind) == (("all",), "alert")
    assert "MAYDAY reported 14:32:05" in alert.text


@pytest.mark.parametrize(
    ("known", "aloud"),
    [
        ({"unit": "engine 9", "location": "second floor"}, "Engine 9, second floor"),
        ({"unit": "engine 9"}, "engine 9 low on air"),
    ],
)
def test_the_alert_says_who_and_where_aloud_or_else_what_was_said_beside_it(known: dict[str, str], aloud: str) -> None:
    (alert,) = Fireground().at("14:32", Mayday(text="mayday mayday engine 9 low on air", **known)).notices
    assert alert.spoken == f"Mayday, Mayday. {aloud}. Use the radio: this room doesn't transmit."


def test_missing_parts_of_lunar_are_asked_one_by_one() -> None:
    ground = Fireground()
    first = ground.at("14:32", Mayday(text="mayday"))
    assert first.follow_up is not None
    assert first.follow_up.text == "Mayday: where are they?"
    second = ground.at("14:33", Mayday(text="second floor bravo side", location="second floor, bravo side"))
    assert second.follow_up is not None
    assert second.follow_up.text == "Mayday: which unit?"
    assert ground.scene.mayday.location == "second floor, bravo side"


def test_the_clock_runs_every_minute_until_it_is_cleared() -> None:
    ground = Fireground()
    ground.at("14:32", Mayday(text="mayday"))
    clock = mayday_clock(ground.scene, ground.rig, clock_time("14:33:30"))
    assert [r.at for r in clock[:2]] == [clock_time("14:34"), clock_time("14:35")]
    assert clock[0].kind == "alert"
    assert clock[0].spoken == "Mayday, 2 minutes. Not known: where, unit, who, assignment, air, needs."
    ground.at("14:40", Mayday(cleared=True))
    assert mayday_clock(ground.scene, ground.rig, ground.now) == []


def test_the_crew_doesnt_clear_it_the_driver_does() -> None:
    ground = Fireground()
    ground.at("14:32", Mayday(text="mayday"))
    with pytest.raises(Refusal, match="stays open: only the officer, the driver or who has command"):
        ground.at("14:40", Mayday(cleared=True), role="crew")
    assert ground.scene.mayday_open
    cleared = ground.at("14:41", Mayday(cleared=True), role="driver")
    assert "Mayday cleared by driver, Engine 12, 14:41" in cleared.lead
    assert not ground.scene.mayday_open


def test_clearing_nothing_is_refused() -> None:
    with pytest.raises(Refusal, match="No Mayday is open"):
        Fireground().at("14:40", Mayday(cleared=True))


@pytest.mark.parametrize(
    "command",
    [
        Evacuate(),
        Strategy(strategy="defensive"),
        Emergency(kind="collapse"),
        Emergency(kind="missing_member", unit="engine 9"),
        Emergency(kind="emergency_traffic"),
    ],
)
def test_what_everyone_must_hear_goes_to_all_at_once_and_proposes_a_par(command: object) -> None:
    told = Fireground().at("14:40", command)  # type: ignore[arg-type]
    (alert,) = told.notices
    assert (alert.to, alert.kind) == (("all",), "alert")
    assert told.follow_up is not None
    assert "PAR proposed" in told.follow_up.text
    assert told.question is None


def test_offensive_from_the_start_is_no_alarm() -> None:
    told = Fireground().at("14:10", Strategy(strategy="offensive"))
    assert told.notices[0].kind == "notice"
    assert told.follow_up is None


def test_fire_out_stamps_no_benchmark() -> None:
    ground = Fireground()
    told = ground.at("14:50", Report(kind="fire_out", text="fire's out"))
    assert "No benchmark stamped" in told.cautions[0]
    assert ground.scene.stamps == ()


def test_an_answer_to_its_question_is_a_detail_and_no_second_mayday() -> None:
    ground = Fireground()
    ground.at("14:32", Mayday(text="mayday"))
    told = ground.at("14:33", Mayday(text="", unit="engine 9"))
    assert told.notices[0].text == "MAYDAY, more is known: Unit: Engine 9."


def test_a_unit_that_calls_it_is_named() -> None:
    told = Fireground().at("14:32", Mayday(text="mayday"), role="unit", unit="engine 9")
    assert "by Engine 9: “mayday”" in told.notices[0].text
    assert told.answer_json["unit"] == "engine 9"


def test_how_the_mayday_stands_is_told_from_the_log() -> None:
    ground = Fireground()
    ground.happens("14:30", IncidentOpened())
    assert ground.at("14:31", Status(about="mayday")).lead == "No Mayday is logged in this incident."
    ground.at("14:32", Mayday(text="mayday", unit="engine 9"))
    told = ground.at("14:34", Status(about="mayday"))
    assert (told.lead, *told.how) == (
        "MAYDAY since 14:32, 2:00.",
        "Unit: Engine 9.",
        "Not known: where, who, assignment, air, needs.",
    )
    assert ground.at("14:34", Status()).lead == "MAYDAY since 14:32, 2:00."
