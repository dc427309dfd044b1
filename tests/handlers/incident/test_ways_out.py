"""Coming out is still inside; out and to rehab; who is due for rehab; a PAR that was only reported was never asked."""

from __future__ import annotations

import pytest

from grammar.commands import AirReading, Choice, ComingOut, Emergency, Entry, Evacuate, Exit, Mayday, Par, Rehab, Status
from handlers.incident.accountability import people_reminders, rehab_due_at
from handlers.incident.air import air_reminders
from handlers.incident.board import board
from handlers.incident.record import record
from tests.handlers.fireground import clock_time
from tests.handlers.playing import Incident


def board_of(fire: Incident, title: str) -> tuple[str, ...]:
    sections = board(fire.scene, fire.rig, fire.now, None).sections
    return next((section.lines for section in sections if section.title == title), ())


@pytest.mark.parametrize(("ordered", "shown"), [(False, "COMING OUT since 14:08"), (True, "told to come out 14:08")])
def test_a_crew_on_its_way_out_is_inside_with_its_clocks_on(ordered: bool, shown: str) -> None:
    fire = Incident()
    fire.at("14:00", Entry(unit="engine 9", count=2, gauge_psi=4500))
    before = air_reminders(fire.scene, fire.rig, clock_time("14:08"))
    told = fire.at("14:08", ComingOut("engine 9", ordered=ordered))
    assert told.how == ("Still inside until it is out: its clocks go on.",)
    assert fire.scene.crews["engine 9"].inside
    assert air_reminders(fire.scene, fire.rig, fire.now) == before
    assert shown in board_of(fire, "Inside")[0]
    assert shown.casefold() in fire.at("14:09", Status("crews")).lead.casefold()
    fire.at("14:10", Exit("engine 9"))
    assert air_reminders(fire.scene, fire.rig, fire.now) == []


def test_coming_out_of_a_crew_that_was_never_logged_in_says_so() -> None:
    fire = Incident()
    fire.at("14:00", Entry(unit="truck 4"))
    assert fire.at("14:08", ComingOut("engine 9")).cautions == ("No entry of Engine 9 is on record.",)


@pytest.mark.parametrize(
    ("minutes", "due"),
    [((1,), False), ((5,), False), ((12,), True), ((15,), True), ((4, 4), False), ((6, 6), True), ((4, 4, 4), True)],
)
def test_due_for_rehab_by_work_done(minutes: tuple[int, ...], due: bool) -> None:
    """One 45-minute cylinder: 12 min at 100 L/min from full to the alarm; shorter entries add up."""
    fire = Incident()
    for turn, inside in enumerate(minutes):
        start = turn * 15
        fire.at(f"14:{start:02d}", Entry(unit="engine 9", gauge_psi=4500))
        fire.at(f"14:{start + inside:02d}", Exit(unit="engine 9"))
    assert (rehab_due_at(fire.scene.crews["engine 9"], fire.rig, fire.now) is not None) == due
    assert any(r.name == "rehab_due" for r in people_reminders(fire.scene, fire.rig, fire.now)) == due


@pytest.mark.parametrize(("gauge", "due"), [(1400, True), (3000, False), (2000, False)])
def test_by_its_gauge_where_one_was_read(gauge: float, due: bool) -> None:
    fire = Incident()
    fire.at("14:00", Entry(unit="engine 9", gauge_psi=4500))
    fire.at("14:14", Exit(unit="engine 9", gauge_psi=gauge))
    assert (rehab_due_at(fire.scene.crews["engine 9"], fire.rig, fire.now) is not None) == due


def test_forty_minutes_of_work_are_due_whatever_the_gauges_say() -> None:
    fire = Incident()
    for start in (0, 20, 40):
        fire.at(f"14:{start:02d}", Entry(unit="engine 9", gauge_psi=4500))
        fire.at(f"14:{start + 14:02d}", Exit(unit="engine 9", gauge_psi=3600))
    assert rehab_due_at(fire.scene.crews["engine 9"], fire.rig, fire.now) is not None
    fire.at("14:56", Rehab("engine 9"))
    assert rehab_due_at(fire.scene.crews["engine 9"], fire.rig, fire.now) is None


def test_par_asked_only_when_it_was() -> None:
    fire = Incident()
    fire.at("14:00", Par("engine 9", 4))
    (line,) = board_of(fire, "PAR")
    assert line == "Not asked. Reported since 14:00: Engine 9 4"
    fire.at("14:05", Par(request=True))
    assert board_of(fire, "PAR")[0].startswith("Asked 14:05.")


def test_everyone_hears_why_they_are_to_get_out() -> None:
    told = Incident().at("14:09", Evacuate("second floor", text="floor feels spongy"))
    (alert,) = told.notices
    assert (alert.to, alert.kind) == (("all",), "alert")
    assert "EVACUATE (second floor)" in alert.text
    assert "“floor feels spongy”" in alert.text


@pytest.mark.parametrize("kind", ["downed_member", "missing_member"])
def test_a_member_down_alerts_everyone_and_is_asked_about_as_a_mayday(kind: str) -> None:
    parts = Mayday(location="basement", unit="engine 9", text="firefighter down in the basement")
    told = Incident().at("14:09", Emergency(kind, "engine 9", "firefighter down", parts=parts))  # type: ignore[arg-type]
    assert told.notices[0].to == ("all",)
    assert told.follow_up is not None
    assert told.follow_up.text.startswith("Is that a Mayday?")
    assert told.follow_up.choices[0] == Choice("Mayday", (parts,))


def test_a_mayday_adds_what_is_said_later_and_stands_under_the_unit_in_trouble() -> None:
    fire = Incident()
    fire.at("14:00", Entry(unit="engine 9", count=2, gauge_psi=4500))
    fire.at("14:05", Mayday(text="mayday mayday", location="second floor"), role="crew")
    fire.at("14:06", Mayday(text="engine 9, charlie side", unit="engine 9", location="charlie side"), role="driver")
    fire.at("14:07", Mayday(text="firefighter Brandt", name="firefighter Brandt"))
    fire.at("14:08", AirReading(1200, "engine 9"), role="unit", unit="engine 9")
    mayday = fire.scene.mayday
    assert mayday is not None
    assert (mayday.location, mayday.unit, mayday.name) == (
        "second floor, charlie side",
        "engine 9",
        "firefighter Brandt",
    )
    assert mayday.air == "1,200 psi"
    rows = [row for row in record(fire.log.events, fire.rig, fire.now).rows if row.kind.startswith("Mayday")]
    assert {row.unit for row in rows} == {"engine 9"}
