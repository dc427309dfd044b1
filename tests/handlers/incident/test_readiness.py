"""The daily check is asked item by item; what fails goes to the officer."""

from __future__ import annotations

import pytest

from grammar.commands import Readiness
from handlers.errors import Refusal
from handlers.incident.readiness import next_item
from tests.handlers.fireground import Fireground

START, OK = Readiness(action="start"), Readiness(action="answer", ok=True)


def test_the_check_asks_one_item_after_the_other() -> None:
    ground = Fireground()
    started = ground.at("07:00", START)
    assert started.follow_up is not None
    assert started.follow_up.text == "Tank full?"
    answered = ground.at("07:01", OK)
    assert answered.lead == "Tank: OK."
    assert answered.follow_up is not None
    assert answered.follow_up.text == "Pump engaged and primer tested?"


def test_a_number_is_judged_by_the_rig_file_and_what_fails_goes_to_the_officer() -> None:
    ground = Fireground()
    ground.at("07:00", START)
    low = ground.at("07:01", Readiness(action="answer", item="cylinders", value=85))
    assert low.lead == "Cylinders 85 percent: NOT OK (at least 90 percent)."
    assert low.notices[0].to == ("officer",)
    enough = ground.at("07:02", Readiness(action="answer", item="cylinders", value=90))
    assert enough.answer_json["ok"] is True
    assert enough.answer_json["failed"] == ()


def test_the_last_answer_ends_the_check_with_what_failed() -> None:
    ground = Fireground()
    ground.at("07:00", START)
    while (item := next_item(ground.scene, ground.rig)) is not None:
        ok = item.key != "radios"
        value = item.at_least if item.unit else None
        told = ground.at("07:05", Readiness(action="answer", item=item.key, ok=ok, value=value))
    assert told.how == ("Check done, 10 of 10 answered. Not OK: radios.",)
    assert ground.scene.readiness_finished_at is not None


def test_an_answer_needs_a_running_check_or_a_named_item() -> None:
    with pytest.raises(Refusal, match="start the daily check"):
        Fireground().at("07:00", OK)
    with pytest.raises(Refusal, match="isn't on this rig's daily check"):
        Fireground().at("07:00", Readiness(action="answer", item="ladder", ok=True))


def test_an_item_with_a_number_isnt_answered_by_a_yes() -> None:
    ground = Fireground()
    ground.at("07:00", START)
    with pytest.raises(Refusal, match="Say the number: Oxygen cylinder, psi"):
        ground.at("07:01", Readiness(action="answer", item="oxygen", ok=True))
    assert ground.at("07:02", Readiness(action="answer", item="oxygen", ok=False)).answer_json["ok"] is False
