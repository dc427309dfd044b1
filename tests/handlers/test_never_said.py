"""Whatever is said in whatever order: it never judges people safe, orders nothing, and a Mayday points to the radio."""

from __future__ import annotations

import re
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.commands import (
    AirReading,
    Arrest,
    Assign,
    Benchmark,
    Command,
    Dispatch,
    Elapsed,
    Emergency,
    Entry,
    Evacuate,
    Exit,
    HandOver,
    Help,
    IncidentKind,
    LineOff,
    LineRef,
    Mayday,
    Par,
    PumpStatus,
    Rehab,
    ReminderChange,
    Restore,
    Role,
    SaidTime,
    Status,
    Strategy,
    SupplyExpected,
    TankTime,
    Undo,
    WaterSource,
)
from handlers.incident.describing import BENCHMARK_WORDS
from handlers.outcome import Outcome
from tests.handlers.fireground import DAY
from tests.handlers.playing import Incident, charge

FORBIDDEN = re.compile(
    r"\bsafe\b|all accounted for|PAR (is )?complete|you have \d+ minutes? of air|supply (is )?adequate"
    r"|two-out satisfied|\bgo in\b|(^|[.:] )give\b",
    re.IGNORECASE,
)
RADIO = "Use the radio: this room doesn't transmit."
UNITS = st.sampled_from([None, "engine 9", "ladder 4"])
PSI = st.floats(100, 4500)

COMMANDS: st.SearchStrategy[Command] = st.one_of(
    st.builds(
        Benchmark,
        st.sampled_from(sorted(BENCHMARK_WORDS)),
        UNITS,
        st.sampled_from([None, "second floor"]),
        st.one_of(st.none(), st.builds(SaidTime, ago_s=st.floats(0, 900))),
        st.one_of(st.none(), st.integers(1, 6)),
        sure=st.booleans(),
    ),
    st.builds(Dispatch, st.just("structure fire, 12 Harbor Road"), kind=st.sampled_from([None, "fire", "medical"])),
    st.builds(IncidentKind, st.sampled_from(["fire", "medical"])),
    st.builds(charge, st.sampled_from(["crosslay_1", "crosslay_2", "rear_line", "deck_gun"])),
    st.builds(LineOff, st.builds(LineRef, order=st.integers(1, 3))),
    st.builds(WaterSource, st.sampled_from(["tank", "hydrant", "draft"]), st.booleans()),
    st.builds(WaterSource, tank_fraction=st.floats(0, 1)),
    st.builds(SupplyExpected, UNITS, st.floats(0, 10)),
    st.builds(Entry, UNITS, st.integers(1, 4), PSI),
    st.builds(AirReading, PSI, UNITS, low_air_alarm=st.booleans()),
    st.builds(Exit, UNITS, st.integers(1, 4)),
    st.builds(Par, UNITS, st.integers(0, 5), st.booleans()),
    st.builds(Assign, st.just("engine 9"), st.just("division 2"), st.just("search")),
    st.builds(Rehab, UNITS, st.booleans()),
    st.builds(Evacuate, over=st.booleans()),
    st.builds(Strategy, st.sampled_from(["offensive", "defensive"])),
    st.builds(Emergency, st.sampled_from(["collapse", "missing_member", "emergency_traffic"]), UNITS),
    st.builds(Mayday, unit=UNITS, cleared=st.booleans()),
    st.builds(Arrest, st.sampled_from(["cpr_started", "epinephrine", "shock", "rhythm_check", "pulses_back"])),
    st.builds(Status, st.sampled_from([None, "lines", "water", "crews", "par", "air", "units", "water_supply"])),
    st.builds(ReminderChange, st.sampled_from(["snooze", "stop", "resume"])),
    st.sampled_from([TankTime(), Elapsed(), PumpStatus(), Undo(), Restore(), HandOver(), Help()]),
)
ROLES: st.SearchStrategy[Role] = st.sampled_from(["driver", "officer", "crew"])


def texts(outcome: Outcome) -> list[str]:
    """Everything that anybody is shown or hears of an outcome."""
    asked = outcome.question or outcome.follow_up
    labels = [choice.label for choice in asked.choices] if asked else []
    return [
        outcome.reply,
        outcome.spoken,
        *labels,
        *(n.text for n in outcome.notices),
        *(n.spoken for n in outcome.notices),
    ]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 400), COMMANDS, ROLES), max_size=14))
def test_no_sequence_makes_it_say_what_it_must_not(steps: list[tuple[int, Command, Role]]) -> None:
    fire, now = Incident(), DAY
    for wait_s, command, role in steps:
        now += timedelta(seconds=wait_s)
        outcome = fire.at(now, command, role)
        said = [*texts(outcome), *(text for r in fire.due(now) for text in (r.text, r.spoken))]
        for text in said:
            assert not FORBIDDEN.search(text), text
            assert "None" not in text, text
        if isinstance(command, Mayday) and outcome.refused is None:
            assert outcome.reply.startswith(RADIO)
        bodies = [event.body for event in fire.log.events]
        if not any(isinstance(c, Evacuate) and not c.over for _, c, _ in steps):
            assert not any(type(body).__name__ == "EvacuationOrdered" for body in bodies), "it orders no evacuation"


def test_the_pattern_finds_what_it_must() -> None:
    for text in (
        "Everyone is safe.",
        "PAR complete",
        "you have 12 minutes of air",
        "Supply adequate",
        "Now: give 1 mg",
        "go in",
    ):
        assert FORBIDDEN.search(text), text
