"""The pictures: what they show is what is calculated, and the files are what they say they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.drawing import UnknownPictureError, draw, write_chart
from bot.errors import FileProblem
from grammar.commands import PumpPressure
from handlers.errors import Refusal
from handlers.outcome import Picture
from handlers.pumping.pressure import work_out
from handlers.pumping.profile import chart, profile, standpipe_chart
from tests.handlers.pumping.asking import ENGINE_12, METRIC, answer, fog, hose, line, pressure, pressures

WYE = pressure(
    line(hose(1.75, 150)), line(hose(1.75, 100), floor=3, nozzle=fog(200)), feed=(hose(2.5, 200),), split="wye"
)
STANDPIPE = pressure(line(hose(2.5, 300, 2), hose(2.5, 100), device="standpipe", floor=6))


def text_of(data: bytes) -> str:
    return data.decode("latin-1")


@pytest.mark.parametrize("command", [WYE, STANDPIPE, pressures(line(name="deck_gun"), line(name="crosslay_1"))])
def test_a_profile_runs_from_the_pump_pressure_to_the_nozzle(command: PumpPressure) -> None:
    worked = work_out(command.lays, ENGINE_12)
    for one in worked.lines:
        marks = profile(one, worked, ENGINE_12)
        assert marks[0].psi == pytest.approx(worked.pump_psi)  # each starts at the pump; lower ones have a gate
        assert marks[-1].psi == pytest.approx(one.run.nozzle_psi)
        assert [mark.feet for mark in marks] == sorted(mark.feet for mark in marks)
        gated = worked.pump_psi - one.pressure_psi > 0.5
        assert any(mark.name == "gate" for mark in marks) is gated


def test_the_lower_leg_is_gated_behind_the_wye() -> None:
    worked = work_out(WYE.lays, ENGINE_12)
    names = [mark.name for mark in profile(worked.lines[0], worked, ENGINE_12)]
    assert names == ["pump", "2.5 in, 350 gpm", "wye", "gate", "1.75 in, 150 gpm"]


def test_the_chart_holds_what_the_panel_answers() -> None:
    for row in chart(ENGINE_12):
        for floor, psi in row.psi.items():
            key = row.name.replace(" ", "_")
            assert psi == answer(pressure(line(name=key, floor=floor)))["pump_pressure_psi"]
    assert [row.name for row in chart(ENGINE_12)] == [
        "crosslay 1",
        "crosslay 2",
        "bumper line",
        "rear line",
        "deck gun",
    ]
    (pack,) = standpipe_chart(ENGINE_12)
    assert pack.psi[8] == answer(pressure(line(device="high_rise_pack", floor=8)))["pump_pressure_psi"]


def test_pictures_are_png_and_pdf() -> None:
    assert draw(Picture("profile", command=WYE), ENGINE_12).startswith(b"\x89PNG")
    assert draw(Picture("chart"), METRIC).startswith(b"\x89PNG")
    pdf = draw(Picture("chart", "pdf"), ENGINE_12)
    assert pdf.startswith(b"%PDF")
    assert text_of(pdf).count("/Type /Page\n") + text_of(pdf).count("/Type /Page ") == 1


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert draw(Picture("chart", "pdf"), ENGINE_12) == draw(Picture("chart", "pdf"), ENGINE_12)


def test_a_chart_goes_where_its_name_says(tmp_path: Path) -> None:
    told = write_chart(ENGINE_12, tmp_path / "chart.pdf")
    assert told == f"The pump chart of Engine 12 is in {tmp_path / 'chart.pdf'}."
    assert (tmp_path / "chart.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(UnknownPictureError, match="must end in"):
        write_chart(ENGINE_12, tmp_path / "chart.doc")
    with pytest.raises(FileProblem):
        write_chart(ENGINE_12, tmp_path / "nowhere" / "chart.png")


def test_what_can_not_be_pumped_is_not_drawn() -> None:
    with pytest.raises(Refusal):
        draw(Picture("profile", command=pressure(line(hose(1.75, 4000)))), ENGINE_12)
    with pytest.raises(UnknownPictureError):
        draw(Picture("report"), ENGINE_12)
