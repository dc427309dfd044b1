"""Rig files as files: one, a folder of them, none, and what is said of wrong ones."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bot import rigs
from bot.api import Crosslay
from bot.errors import FileProblem
from bot.message.context import build
from bot.settings import Settings
from handlers.scene import Scene

DEMONSTRATION = Path(rigs.__file__).with_name(rigs.DEMONSTRATION).read_text("utf-8")


def company(number: int, more: str = "") -> str:
    return DEMONSTRATION.replace('name = "Engine 12"', f'name = "Engine {number}"').replace(
        "[rooms]", f"[rooms]\n{more}"
    )


def test_without_a_file_it_is_the_demonstration_rig() -> None:
    known = rigs.load()
    assert (known.own.name, known.own_unit, known.own.demonstration) == ("Engine 12", "engine 12", True)


def test_a_folder_holds_the_rigs_of_several_companies(tmp_path: Path) -> None:
    for number in (9, 7):
        (tmp_path / f"engine_{number}.toml").write_text(company(number, f'crew = "-100{number}"'), "utf-8")
    known = rigs.load(tmp_path)
    assert known.own_unit == "engine 7"
    assert set(known.units) == {"engine 7", "engine 9"}
    assert known.of("Engine 9").rooms == {"crew": "-1009"}
    assert known.of("") is known.own


def test_an_unknown_company_has_none_of_our_lines_and_the_books_hose() -> None:
    known = rigs.load()
    stands_in = known.of("ladder 4")
    assert (stands_in.borrowed, stands_in.line) == (True, {})
    assert all(hose.nozzle is None and hose.carried_ft == 0 for hose in stands_in.hose.values())
    assert stands_in.intervals == known.own.intervals


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (None, "there is no such rig file"),
        (DEMONSTRATION.replace("capacity_gal = 500", "capacity_gal = -5"), "tank.capacity_gal"),
        (DEMONSTRATION.replace('"tailboard line" =', '"under control" ='), "slang: 'under control' already means"),
    ],
)
def test_a_wrong_file_is_one_sentence_that_names_it(tmp_path: Path, text: str | None, says: str) -> None:
    if text is not None:
        (tmp_path / "rig.toml").write_text(text, "utf-8")
    with pytest.raises(FileProblem) as caught:
        rigs.load(tmp_path / "rig.toml")
    assert caught.value.message.startswith(str(tmp_path / "rig.toml"))
    assert says in caught.value.message


def test_an_empty_folder_is_no_rig(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="there is no rig file"):
        rigs.load(tmp_path)


def test_the_reader_is_told_what_the_rig_carries() -> None:
    context = build(rigs.load().own, "engine 12", Scene())
    crosslay = next(line for line in context.rig_lines if line.key == "crosslay_1")
    assert "crosslay 1" in crosslay.names
    assert (crosslay.hose_in, crosslay.length_ft, crosslay.device) == (1.75, 200, None)
    assert next(line for line in context.rig_lines if line.key == "deck_gun").device == "deck_gun"
    assert 1.75 in context.hose_in
    assert 1.125 in context.tips_in
    assert (context.own_unit, context.incident_open, context.source) == ("engine 12", False, "tank")


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_a_file_with_a_byte_order_mark_reads(tmp_path: Path, coding: str) -> None:
    text = DEMONSTRATION if coding in ("utf-8", "utf-8-sig", "utf-16") else "\ufeff" + DEMONSTRATION
    (tmp_path / "rig.toml").write_bytes(text.encode(coding))
    assert rigs.load(tmp_path / "rig.toml").own == rigs.load().own


def test_a_doubtful_value_is_told_once_beside_the_answers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "rig.toml"
    file.write_text(DEMONSTRATION.replace("capacity_gal = 500", "capacity_gal = 50_000_000"), "utf-8")
    for _ in range(2):
        assert rigs.load(file).own.tank.capacity_gal == 50_000_000
    line = DEMONSTRATION.splitlines().index("capacity_gal = 500") + 1
    doubt = f"line {line}, tank.capacity_gal: 50,000,000 is far from the book's 500: check it."
    assert capsys.readouterr().err == f"Check the rig file: {file}: {doubt}\n"


SMALL = 'name = "Engine 3"\ndepartment = "Alder Bay Fire Department"\n'
ASKED = (
    "how long does the tank last at 300 gpm",
    "can i draft 15 feet",
    "cellar nozzle on 150 feet of 2.5",
    "200 feet of 1.75 flowing 125",
    "coefficient of 1.75",
    "45 minute cylinder at 3000",
    "600 feet of 5 inch at 1000 gpm",
    "oxygen D cylinder 1500 psi at 15 liters",
    "hydrant static 70 residual 60 flowing 500",
    "needed flow 40 by 60",
    "tender shuttle two miles each way",
)


@pytest.mark.parametrize("words", ASKED)
def test_a_file_without_a_value_never_passes_for_its_source(tmp_path: Path, words: str) -> None:
    (tmp_path / "rig.toml").write_text(SMALL, "utf-8")
    asker = Crosslay.of(Settings(rig=str(tmp_path / "rig.toml")))
    assert "(rig file)" not in (handled := asker.answer(words)).reply
    assert "rig file)" not in handled.reply


@pytest.mark.parametrize(
    ("words", "table", "said"),
    [
        ("how long does the tank last at 300 gpm", "[tank]\ncapacity_gal = 750", "tank 750 gal (full, {})"),
        ("can i draft 15 feet", "[drafting]\nsuction_ft = 20", "20 ft of 6 in suction ({})"),
        ("cellar nozzle on 150 feet of 2.5", "[nozzle.cellar]\nflow_gpm = 250", "250 gpm at 100 psi ({})"),
        ("charge a cellar nozzle on 150 feet of 2.5", "[nozzle.cellar]\nflow_gpm = 250", "250 gpm at 100 psi ({})"),
    ],
)
def test_a_value_is_called_by_where_it_stands(tmp_path: Path, words: str, table: str, said: str) -> None:
    (tmp_path / "own.toml").write_text(f"{SMALL}{table}\n", "utf-8")
    (tmp_path / "book.toml").write_text(SMALL, "utf-8")
    own = Crosslay.of(Settings(rig=str(tmp_path / "own.toml"))).answer(words).reply
    book = Crosslay.of(Settings(rig=str(tmp_path / "book.toml"))).answer(words).reply
    assert said.format("rig file") in own
    assert said.format("book value").replace("750", "500") in book


@pytest.mark.parametrize(
    "words",
    [
        "how long does the tank last at 300 gpm",
        "half a tank, how long at 150 gpm",
        "200 feet of 1.75 flowing 125",
        "charge 200 feet of 1.75 flowing 125",
        "200 feet of 1.75 flowing 125, 100 feet of 2.5 flowing 250",
    ],
)
def test_a_time_of_the_books_tank_says_so(tmp_path: Path, words: str) -> None:
    """A file that doesn't say what the tank holds gets the book's 500 gal: told, or it passes for the rig's own."""
    (tmp_path / "own.toml").write_text(f"{SMALL}[tank]\ncapacity_gal = 750\n", "utf-8")
    (tmp_path / "book.toml").write_text(SMALL, "utf-8")
    own, book = (
        Crosslay.of(Settings(rig=str(tmp_path / name))).answer(words).reply for name in ("own.toml", "book.toml")
    )
    told = re.compile(r"\btank (?:of )?500 gal \((?:full, )?book value\)")
    assert told.search(book)
    assert not told.search(own)
