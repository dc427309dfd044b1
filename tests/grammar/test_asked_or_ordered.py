"""What was asked, ordered, held off or is about to be is never done or stamped."""

from __future__ import annotations

import pytest

from grammar.commands import (
    Arrest,
    Benchmark,
    Exit,
    LineOff,
    LineOn,
    ReminderChange,
    Report,
    Strategy,
    WaterSource,
)
from grammar.reader import read
from tests.grammar.corpus.loader import contexts

LOGS = (Arrest, Benchmark, Exit, LineOff, LineOn, Strategy)


@pytest.mark.parametrize(
    "said",
    [
        *(f"has {line} been charged" for line in ("crosslay 1", "crosslay 2", "the deck gun", "the rear line")),
        *(f"hold off {verb} crosslay 1" for verb in ("shutting", "charging", "on charging", "on shutting")),
        *(f"hold off on {what}" for what in ("going defensive", "calling it under control", "knocking it down")),
        *(f"{so} {state}" for so in ("it's about", "the fire's about") for state in ("under control", "knocked down")),
        *(f"about {state} with the {search}" for state in ("done", "finished") for search in ("primary", "secondary")),
        *(f"{verb} a {what}" for verb in ("set up", "secure me", "establish") for what in ("RIT", "water supply")),
        *(f"{who} {unit} out" for who in ("I want", "we need") for unit in ("truck 4", "engine 9")),
        "their fire's under control",
        "run it down for me",
        "hit it",
        "knock it down",
        "knock that fire down",
        "has epi been given",
        "has CPR been started",
    ],
)
def test_nothing_is_logged_or_done(said: str) -> None:
    for context in ("officer", "fire"):
        logged = [command for command in read(said, contexts()[context]).commands if isinstance(command, LOGS)]
        assert logged == [], (context, logged)


@pytest.mark.parametrize("verb", ["feeding", "running", "working", "pumping"])
@pytest.mark.parametrize("where", ["hydrant", "plug"])
def test_what_feeds_off_the_hydrant_is_on_it(verb: str, where: str) -> None:
    reading = read(f"{verb} off the {where}", contexts()["fire"])
    told = [command for command in reading.commands if isinstance(command, WaterSource)]
    assert [(command.source, command.lost) for command in told] == [("hydrant", False)]


@pytest.mark.parametrize("said", ["fire's contained", "the fire is contained", "forward progress stopped"])
def test_contained_is_kept_as_said_and_is_not_under_control(said: str) -> None:
    (told,) = read(said, contexts()["officer"]).commands
    assert isinstance(told, Report)
    assert told.kind == "note"


def test_calling_the_fire_under_control_stops_no_resuscitation() -> None:
    (told,) = read("calling it under control", contexts()["officer"]).commands
    assert isinstance(told, Benchmark)
    assert told.benchmark == "under_control"


@pytest.mark.parametrize("said", ["put that reminder off", "put this one off", "push the reminder off"])
def test_a_reminder_put_off_is_not_stopped(said: str) -> None:
    told = [
        command.action for command in read(said, contexts()["officer"]).commands if isinstance(command, ReminderChange)
    ]
    assert "stop" not in told
