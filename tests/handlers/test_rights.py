"""Who may do what: every role, company and standing against every action that isn't everybody's."""

from __future__ import annotations

from itertools import product

import pytest

from grammar.commands import (
    AirReading,
    Assign,
    Benchmark,
    Coefficient,
    Command,
    Correction,
    Dispatch,
    Elapsed,
    Emergency,
    Entry,
    Evacuate,
    Exit,
    IncidentKind,
    Join,
    LineOn,
    LineRef,
    Mayday,
    Par,
    PumpPressure,
    Readiness,
    Rehab,
    ReminderChange,
    Restore,
    Role,
    SaidHose,
    SaidLay,
    SaidLine,
    SendReport,
    SetRole,
    Status,
    Strategy,
    TankTime,
    Timer,
    Undo,
)
from handlers.desk import answer
from handlers.outcome import Outcome, Said
from handlers.rights import commander, leads
from tests.handlers.fireground import clock_time
from tests.handlers.playing import Incident

LAY = SaidLay(lines=(SaidLine(hose=(SaidHose(hose_in=1.75, length_ft=200),)),))
WHO_LEADS: dict[str, Command] = {
    "close the incident": Benchmark("command_terminated", sure=True),
    "close it by a correction": Correction((Benchmark("command_terminated", sure=True),)),
    "clear the Mayday": Mayday(cleared=True),
    "give the officer's role": SetRole("officer", person="sam", name="Sam"),
    "make a join code": Join(make=True, unit="engine 7", code="48213756"),
    "change the rig": Coefficient(hose_in=1.75, length_ft=200, flow_gpm=150, loss_psi=60, save=True),
}
NO_GUEST: dict[str, Command] = {
    "report for another company": Benchmark("on_scene", unit="engine 12"),
    "report another's PAR": Par(unit="ladder 4", count=4),
    "report another's crew in": Entry(unit="ladder 4", count=2),
    "report another's crew out": Exit(unit="engine 12"),
    "report another's gauge": AirReading(2000, unit="ladder 4"),
    "report another in rehab": Rehab(unit="ladder 4"),
    "assign another company": Assign(unit="ladder 4", place="roof"),
    "take a role of the company": SetRole("driver", unit="engine 12"),
    "report under control": Benchmark("under_control"),
    "ask everyone for a PAR": Par(request=True),
    "go offensive": Strategy("offensive"),
    "lift the evacuation": Evacuate(over=True),
    "change the dispatch": Dispatch(text="structure fire"),
    "change the kind": IncidentKind("medical"),
    "stop reminders": ReminderChange("stop", "elapsed"),
    "have the record": SendReport(),
    "do the rig's daily check": Readiness("start"),
    "tick off what is made ready": Restore(item="hose", done=True),
    "take back another's report": Undo(benchmark="water_on_fire"),
}
EVERYBODY: dict[str, Command] = {
    "ask a pressure": PumpPressure((LAY,)),
    "ask how it stands": Status(),
    "ask how long": Elapsed(),
    "ask the tank": TankTime(flow_gpm=150),
    "call a Mayday": Mayday(text="mayday"),
    "call an evacuation": Evacuate(),
    "call emergency traffic": Emergency(kind="emergency_traffic"),
    "report another's low-air alarm": AirReading(unit="ladder 4", low_air_alarm=True),
    "go defensive": Strategy("defensive"),
    "report the own arrival": Benchmark("en_route"),
    "report the own PAR": Par(count=3),
    "go in": Entry(count=2, gauge_psi=4500),
    "report a search": Benchmark("primary_search_complete"),
    "charge a line": LineOn(ref=LineRef(name="crosslay 1")),
    "set a timer": Timer(minutes=5),
    "come in": Join(unit="engine 9"),
    "be crew": SetRole("crew"),
}
ROLES: tuple[Role | None, ...] = (None, "driver", "officer", "crew", "unit", "guest")
COMPANIES = ("engine 12", "engine 9", "battalion 2")
"""The incident's own, a guest, and a guest that has command."""


def fireground() -> Incident:
    """Engine 12's fire with Engine 9 and Ladder 4 there, Battalion 2 in command, a Mayday open."""
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    fire.at("14:01", Benchmark("water_on_fire"))
    for unit in ("engine 9", "ladder 4"):
        fire.at("14:02", Benchmark("on_scene", unit=unit))
        fire.at("14:02", Entry(unit=unit, count=2, gauge_psi=4500))
    fire.at("14:03", Benchmark("command_established", unit="battalion 2"))
    fire.at("14:04", Strategy("offensive"))
    fire.at("14:05", Mayday(text="mayday", location="floor two"))
    return fire


FIRE = fireground()


def said(role: Role | None, unit: str, *, sets_up: bool = False) -> Said:
    return Said(
        at=clock_time("14:10"), who="ana", name="Ana", role=role, unit=unit, company="engine 12", room="yard",
        guest_room=unit != "engine 12", sets_up=sets_up,
    )  # fmt: skip


def try_it(command: Command, speaker: Said) -> Outcome:
    return answer([command], FIRE.log, FIRE.rig, speaker).outcomes[0]


def may(action: str, role: Role | None, unit: str, sets_up: bool) -> bool:
    """As the department decided it: written down here once more, by itself."""
    if unit == "battalion 2" or action in EVERYBODY:
        return True
    if unit == "engine 9":
        return False
    return action in NO_GUEST or role in ("officer", "driver") or sets_up


@pytest.mark.parametrize("action", [*WHO_LEADS, *NO_GUEST, *EVERYBODY])
def test_who_may(action: str) -> None:
    command = {**WHO_LEADS, **NO_GUEST, **EVERYBODY}[action]
    for role, unit, sets_up in product(ROLES, COMPANIES, (False, True)):
        outcome = try_it(command, said(role, unit, sets_up=sets_up and unit == "engine 12"))
        who = f"{role} of {unit}{' who sets up' if sets_up else ''}: {outcome.refused}"
        if may(action, role, unit, sets_up):
            assert outcome.refused is None, who
        else:
            assert outcome.refused is not None, who
            assert not outcome.events, who
            assert not outcome.notices, who
            assert outcome.refused.endswith((".", "”.")), who
            assert "Engine 12" in outcome.refused or "Engine 9" in outcome.refused, who
            assert len(outcome.refused) < 200, who


def test_the_table_is_whole() -> None:
    """Each side of each rule is met: the law above fails when either is given up."""
    cases = list(product([*WHO_LEADS, *NO_GUEST, *EVERYBODY], ROLES, COMPANIES, (False, True)))
    answers = [may(*case) for case in cases]
    assert len(cases) == 42 * 6 * 3 * 2
    assert 200 < answers.count(False) < len(cases) - 200


def test_out_of_any_incident_nothing_is_kept_from_anybody() -> None:
    """`crosslay ask` logs nothing, so it says what it read."""
    for command in (Benchmark("command_terminated"), Coefficient(1.75, 200, 150, 60, save=True)):
        outcome = answer([command], Incident().log, FIRE.rig, Said(at=clock_time("14:10"), live=False)).outcomes[0]
        assert outcome.refused is None


def test_command_passes_by_word_of_who_leads() -> None:
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    fire.at("14:01", Benchmark("command_established", unit="engine 12"))
    fire.at("14:02", Benchmark("command_established", unit="battalion 2"))
    assert commander(fire.scene) == "battalion 2"
    assert leads(fire.scene, said("guest", "battalion 2"))
    fire.at("14:09", Benchmark("command_established", unit="engine 12"), "unit", unit="battalion 2")
    assert commander(fire.scene) == "engine 12"
    assert not leads(fire.scene, said("guest", "battalion 2"))


def test_a_guests_own_word_that_it_has_command_is_asked_of_the_officer() -> None:
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    asked = fire.at("14:01", Benchmark("command_established", unit="engine 9"), "officer", unit="engine 9")
    assert commander(fire.scene) is None
    notice = asked.notices[0]
    assert notice.to == ("officer",)
    assert notice.question is not None
    yes, no = notice.question.choices
    assert not no.commands
    fire.at("14:02", yes.commands[0], "crew", unit="engine 9")
    assert commander(fire.scene) is None, "the guest's own crew can't confirm it"
    fire.at("14:03", yes.commands[0], "officer")
    assert commander(fire.scene) == "engine 9"


def test_a_guests_word_of_anothers_command_is_asked_about_that_other() -> None:
    """Battalion 3 isn't in the incident yet: the officer is asked about Battalion 3, and not about who said it."""
    fire = Incident()
    fire.at("14:00", Benchmark("on_scene"))
    claim = Benchmark("command_established", unit="battalion 3")
    outcome = answer([claim], fire.log, fire.rig, said("officer", "engine 9")).outcomes[0]
    asked = outcome.notices[0].question
    assert asked is not None
    assert asked.text == "Engine 9 says Battalion 3 has command. Is that so?"
    assert [getattr(command, "unit", None) for command in asked.choices[0].commands] == ["battalion 3"]
