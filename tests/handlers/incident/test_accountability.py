"""Who was asked for a PAR, who answered, who is short: said as reported, never more."""

from __future__ import annotations

from grammar.commands import Assign, Entry, Exit, Par, Rehab
from handlers.events import BenchmarkReported, UnitJoined
from handlers.incident.accountability import people_reminders
from tests.handlers.fireground import Fireground, clock_time


def three_companies() -> Fireground:
    """Engine 12 with 3, Engine 9 with 4, Truck 2 with 4, all on scene."""
    ground = Fireground()
    for unit, staffing in (("engine 12", 3), ("engine 9", 4), ("truck 2", 4)):
        ground.happens("14:05", UnitJoined(unit=unit, staffing=staffing), unit=unit)
        ground.happens("14:06", BenchmarkReported(benchmark="on_scene", unit=unit), unit=unit)
    return ground


def test_a_request_lists_who_is_asked() -> None:
    told = three_companies().at("14:20", Par(request=True))
    assert told.lead == "PAR requested 14:20: Engine 12 (3), Engine 9 (4) and Truck 2 (4)."
    assert told.notices[0].to == ("officer", "crew", "engine 12", "engine 9", "truck 2")


def test_answers_are_counted_against_the_known_number() -> None:
    ground = three_companies()
    ground.at("14:20", Par(request=True))
    full = ground.at("14:20:30", Par(unit="engine 9", count=4), unit="engine 9")
    assert full.lead == "Engine 9, PAR of 4, 14:20. Logged."
    assert full.answer_json == {"unit": "engine 9", "count": 4, "missing": 0}
    assert full.how == ("No answer yet: Engine 12 and Truck 2.",)
    short = ground.at("14:21", Par(unit="truck 2", count=3), unit="truck 2")
    assert short.lead == "Truck 2: 1 of 4 NOT REPORTED in the PAR, 14:21."
    assert short.notices[0].name == "par_short"


def test_the_last_answer_never_says_more_than_was_reported() -> None:
    ground = three_companies()
    ground.at("14:20", Par(request=True))
    for unit, count in (("engine 12", 3), ("engine 9", 4)):
        ground.at("14:20:30", Par(unit=unit, count=count), unit=unit)
    told = ground.at("14:21", Par(unit="truck 2", count=4), unit="truck 2")
    assert told.how == ("Every unit asked has answered with the number it was known to have.",)
    assert people_reminders(ground.scene, ground.rig, ground.now) == []


def test_two_minutes_after_the_request_the_missing_are_asked_again() -> None:
    ground = three_companies()
    ground.at("14:20", Par(request=True))
    ground.at("14:20:30", Par(unit="engine 9", count=4), unit="engine 9")
    ground.at("14:21", Par(unit="truck 2", count=2), unit="truck 2")
    (missing,) = people_reminders(ground.scene, ground.rig, ground.now)
    assert (missing.name, missing.at) == ("par_missing", clock_time("14:22"))
    assert missing.to == ("officer", "engine 12", "truck 2")
    assert missing.text == "PAR asked 2 min ago: no answer from Engine 12; short: Truck 2."


def test_an_unknown_number_is_logged_without_a_verdict() -> None:
    told = Fireground().at("14:20", Par(unit="engine 30", count=4), unit="engine 30")
    assert told.answer_json == {"unit": "engine 30", "count": 4, "missing": None}


def test_no_par_goes_to_the_officer_at_once() -> None:
    ground = three_companies()
    told = ground.at("14:20", Par(unit="engine 9", no_par=True), unit="engine 9")
    assert told.lead == "Engine 9: someone NOT REPORTED in the PAR, 14:20."
    assert told.notices[0].to == ("officer",)


def test_a_crew_inside_without_rit_or_two_out_is_prompted_once() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    names = [r.name for r in people_reminders(ground.scene, ground.rig, ground.now)]
    assert "rit_missing" in names
    ground.happens("14:11", BenchmarkReported(benchmark="two_out_in_place"))
    assert "rit_missing" not in [r.name for r in people_reminders(ground.scene, ground.rig, ground.now)]


def test_a_forty_five_minute_cylinder_used_up_is_due_for_rehab() -> None:
    ground = Fireground()
    ground.at("14:10", Entry(unit="engine 9", gauge_psi=4500))
    ground.at("14:25", Exit(unit="engine 9"))
    due = [r for r in people_reminders(ground.scene, ground.rig, ground.now) if r.name == "rehab_due"]
    assert [r.at for r in due] == [clock_time("14:25")]
    told = ground.at("14:30", Rehab(unit="engine 9"))
    assert told.lead == "Engine 9 in rehab, 14:30. Logged."
    assert [r for r in people_reminders(ground.scene, ground.rig, ground.now) if r.name == "rehab_due"] == []
    early = ground.at("14:35", Rehab(unit="engine 9", back=True))
    assert "5 min of rest" in early.cautions[0]


def test_an_assignment_is_told_to_the_unit() -> None:
    told = Fireground().at("14:12", Assign(unit="engine 9", place="division 2", task="search"))
    assert told.lead == "Engine 9: division 2, search, 14:12. Logged."
    assert told.notices[0].to == ("engine 9",)


def test_every_unit_is_said_only_where_each_number_is_known() -> None:
    ground = Fireground()
    ground.happens("14:06", BenchmarkReported(benchmark="on_scene", unit="truck 2"), unit="truck 2")
    ground.at("14:20", Par(request=True))
    told = ground.at("14:21", Par(unit="truck 2", count=2), unit="truck 2")
    assert told.how == ("Not known how many should be there, or no number was said: Truck 2.",)


def test_the_own_company_has_the_number_of_its_rig_file() -> None:
    ground = Fireground()
    ground.happens("14:06", BenchmarkReported(benchmark="on_scene", unit="engine 12"))
    ground.at("14:20", Par(request=True))
    assert ground.at("14:21", Par(unit="engine 12", count=2)).lead.startswith("Engine 12: 1 of 3 NOT REPORTED")
