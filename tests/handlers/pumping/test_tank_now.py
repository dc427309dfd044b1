"""A pressure asked in the middle of a fire tells the tank as it is, not only a full one."""

from __future__ import annotations

from grammar.commands import PumpPressure, SaidHose, SaidLay, SaidLine
from handlers.events import IncidentOpened, LineOpened, PumpReady, WorkingLine
from tests.handlers.fireground import Fireground

ASKED = PumpPressure(lays=(SaidLay(lines=(SaidLine(hose=(SaidHose(1.75, 200.0),)),)),))
CROSSLAY_1 = PumpPressure(lays=(SaidLay(lines=(SaidLine(name="crosslay_1"),)),))


def flowing() -> Fireground:
    ground = Fireground()
    ground.happens("14:00", IncidentOpened())
    ground.happens("14:00", PumpReady(unit="engine 12", tank_gal=500, usable_gal=500))
    line = WorkingLine(1, "crosslay 1", flow_gpm=150, pressure_psi=170, fill_gal=25, name="crosslay_1", hose_in=1.75)
    ground.happens("14:00", LineOpened(line=line))
    return ground


def test_a_further_line_is_reckoned_beside_what_flows() -> None:
    told = flowing().at("14:01", ASKED)
    assert told.lead == "170 psi, 150 gpm, 3:20 of a full tank"
    # 500 − 25 − 150 = 325 gal; 25 more fill the hose; 300/300 gpm = 1:00.
    assert told.how[0] == "The tank as it is, 325 gal: 1:00 with this beside 150 gpm now."


def test_a_line_that_is_on_is_not_counted_twice() -> None:
    assert flowing().at("14:01", CROSSLAY_1).how[0] == "The tank as it is: 325 gal."


def test_a_full_tank_needs_no_such_line() -> None:
    told = Fireground().at("14:01", ASKED)
    assert told.lead == "170 psi, 150 gpm, 3:20 of tank"
    assert told.how[0].startswith("100 nozzle")


def test_the_ear_hears_the_tank_as_it_is_never_a_full_one_in_its_place() -> None:
    asked = flowing()
    assert asked.at("14:01", ASKED).spoken == "1 7 0. 150 gallons. The tank as it is 1 minute."
    assert asked.at("14:01", CROSSLAY_1).spoken == "1 7 0. 150 gallons. Tank 2 minutes 10."
    for lay in (ASKED, CROSSLAY_1):  # 475 gal at 150 gpm are gone after 3:10
        told = asked.at("14:05", lay)
        assert told.spoken == "1 7 0. 150 gallons. Tank calculated empty."
        assert told.how[0] == "The tank is calculated empty: check its gauge."
    assert Fireground().at("14:01", ASKED).spoken == "1 7 0. 150 gallons. Tank 3 minutes 20."
