"""The rig file: what a department writes is what the rig holds, and a slip is named with its line and key."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handlers.errors import RigFileError
from handlers.rig import Rig
from handlers.rigfile.parse import parse_end, parse_rig

RIGS = Path(__file__).parents[2] / "bot" / "rigs"
BOOK = (RIGS / "book.toml").read_text(encoding="utf-8")
DEMO = (RIGS / "alder_bay_engine_12.toml").read_text(encoding="utf-8")
SMALL = 'name = "Engine 3"\ndepartment = "Alder Bay Fire Department"\n'


@pytest.fixture(scope="module")
def demo() -> Rig:
    return parse_rig(DEMO, BOOK)


def test_the_demonstration_rig_is_the_one_of_the_readme(demo: Rig) -> None:
    assert (demo.name, demo.units, demo.demonstration) == ("Engine 12", "us", True)
    assert (demo.tank.usable_gal, demo.tank.to_pump_gpm, demo.pump.rated_gpm) == (500, 500, 1500)
    lines = {line.name: (line.length_ft, line.nozzle) for line in demo.line.values()}
    assert lines["crosslay 1"] == lines["crosslay 2"] == (200, "combination")
    assert lines["bumper line"] == (100, "combination")
    assert lines["rear line"] == (250, "smooth_1_125")
    assert lines["deck gun"] == (0, "deck_gun_tip")
    assert lines["supply line"] == (1000, None)
    assert [demo.hose[key].coefficient for key in ("1_75", "2_5", "3", "5")] == [15.5, 2, 0.8, 0.08]
    assert demo.intervals.par_min == 20
    assert demo.air.cylinders[0].air_l == 45 * 40


def test_every_working_value_names_its_source(demo: Rig) -> None:
    tables = ["tank", "pump", "hydraulics", "standpipe", "limits", "hydrant", "rural", "drafting", "fire_flow"]
    tables += ["intervals", "air", "oxygen", "rehab"]
    values = [(name, getattr(demo, name)) for name in tables]
    values += [(f"{family}.{key}", part) for family in ("hose_kind", "hose", "nozzle", "line")
               for key, part in getattr(demo, family).items()]  # fmt: skip
    for path, part in values:
        for field in part.__struct_fields__:
            default = getattr(type(part), field, None)
            value = getattr(part, field)
            if field not in ("key", "name", "kind", "diameter_in") and value not in (None, (), 0.0, False, default):
                named = f"{path}.{field}" in demo.sources or part.__class__.__name__ in (
                    "Line",
                    "RigNozzle",
                    "Hose",
                    "HoseKind",
                )
                assert named, f"{path}.{field}"


@pytest.mark.parametrize(
    ("right", "wrong", "complaint"),
    [
        ("capacity_gal = 500", "capacity_gal = -1", "line 15, tank.capacity_gal: must be a number above 0."),
        ("carried_ft = 700", "coeficient = 10", "line 29, hose.1_75.coeficient: there is no such value here;"),
        ('hose = "1_75"', 'hose = "1_57"', 'line 71, line.crosslay_1.hose: there is no [hose.1_57]; did you mean'),
        ("length_ft = 200", 'length_ft = "long"', "line.crosslay_1.pieces[0].length_ft: must be a number, not str."),
        ("[tank]", "[tnk]", "line 14, tnk: there is no such table or key; did you mean tank?"),
        ('units = "us" ', "units = us", "line 7, this isn't valid TOML"),
        ("flow_gpm = 150", "", "nozzle.combination: a fog nozzle needs flow_gpm."),
        ('["rear", ', '["bumper", ', "line.rear_line.nicknames: 'bumper' already means bumper line."),
        ('"tailboard line" = "rear line"', '"bumper" = "rear line"', "slang.bumper: 'bumper' already means"),
        ('"5 storz", "2.5 male NH"', '"storz"', 'fittings.0.ends: can\'t read "storz": write it like'),
        ('name = "Engine 12"', "", "name: is missing: write it as text in quotes."),
        ('units = "us"', 'units = "imperial"', 'units: write "us" or "metric".'),
    ],
)  # fmt: skip
def test_a_slip_is_named_with_its_line_and_key(right: str, wrong: str, complaint: str) -> None:
    assert right in DEMO
    with pytest.raises(RigFileError) as caught:
        parse_rig(DEMO.replace(right, wrong, 1), BOOK)
    assert complaint in str(caught.value)


def test_a_small_file_takes_the_rest_from_the_book() -> None:
    rig = parse_rig(SMALL, BOOK)
    assert rig.hydraulics.appliance_psi == 10
    assert rig.source("hydraulics.appliance_psi").startswith("IFSTA")
    assert not rig.demonstration
    assert rig.line == {}


def test_an_own_value_replaces_the_books_and_is_marked_so() -> None:
    rig = parse_rig(
        SMALL + "[hose.1_75]\ncoefficient = 9.5\nflow_tested = true\nsource = 'flow test, 12 March'\n", BOOK
    )
    assert rig.hose["1_75"].coefficient == 9.5
    assert rig.hose["1_75"].kind == "attack"
    assert rig.source("hose.1_75.coefficient") == "flow test, 12 March"
    rig = parse_rig(SMALL + "[intervals]\npar_min = 30\n", BOOK)
    assert rig.intervals.par_min == 30
    assert rig.source("intervals.par_min") == "rig file"
    assert rig.source("intervals.elapsed_min").startswith("NFPA 1500")


def test_metric_keys_are_turned_to_the_rigs_units() -> None:
    text = SMALL + (
        'units = "metric"\n[tank]\ncapacity_l = 1892.705892\nto_pump_lpm = 2000\n'
        '[hose.45mm]\ndiameter_mm = 45\ncoefficient_si = 24.6\nkind = "attack"\n'
        '[line.first]\nname = "first attack line"\nhose = "45mm"\nlength_m = 60.96\n'
    )
    rig = parse_rig(text, BOOK)
    assert rig.pressure_unit == "bar"
    assert rig.tank.capacity_gal == pytest.approx(500)
    assert rig.line["first"].length_ft == pytest.approx(200)
    assert rig.hose["45mm"].coefficient == pytest.approx(
        24.6 / 1.5786, rel=1e-4
    )  # notes of the SI form: C_SI = 1.5786 C
    hose = rig.hose_of(45 / 25.4)
    assert hose is not None
    assert hose.key == "45mm"


def test_hose_that_is_carried_comes_before_the_books_of_that_size() -> None:
    text = SMALL + '[hose.45mm]\ndiameter_mm = 45\ncoefficient_si = 24.4\nkind = "attack"\ncarried_m = 60\n'
    hose = parse_rig(text, BOOK).hose_of(1.75)
    assert hose is not None
    assert hose.key == "45mm"


def test_a_value_said_twice_in_two_units_is_refused() -> None:
    with pytest.raises(RigFileError, match="say it once"):
        parse_rig(SMALL + "[tank]\ncapacity_l = 2000\ncapacity_gal = 500\n", BOOK)


@pytest.mark.parametrize(
    ("text", "size_in", "coupling", "gender"),
    [
        ("5 storz", 5, "storz", None),
        ("2.5 male NH", 2.5, "nh", "male"),
        ("2½ in NH female", 2.5, "nh", "female"),
        ("2 1/2 male NH", 2.5, "nh", "male"),
        ("65 mm storz", 65 / 25.4, "storz", None),
    ],
)
def test_ends_are_read_as_they_are_written(text: str, size_in: float, coupling: str, gender: str | None) -> None:
    end = parse_end(text)
    assert end is not None
    assert (end.size_in, end.coupling, end.gender) == (pytest.approx(size_in), coupling, gender)


VALUES = ["-1", "0", "1e400", "nan", "inf", "true", '""', '"x"', "[]", "[1]", "{}", "{ a = 1 }", "2026-03-01", "5"]


@given(st.integers(0, len(DEMO.splitlines()) - 1), st.sampled_from(VALUES), st.booleans())
def test_any_slip_is_told_and_never_a_fault_of_ours(number: int, value: str, drop: bool) -> None:
    """A value exchanged for any other, or a line left out: a rig, or one sentence."""
    lines = DEMO.splitlines()
    key, equals, _ = lines[number].partition(" = ")
    lines[number] = "" if drop or not equals else f"{key} = {value}"
    told = ""
    try:
        parse_rig("\n".join(lines), BOOK)
    except RigFileError as error:
        told = str(error)
    assert not told or told.endswith((".", "?"))
    assert "\n" not in told


def test_lines_are_found_by_any_of_their_names(demo: Rig) -> None:
    for name in ("Crosslay 1", "crosslay one", "first crosslay", "crosslay_1"):
        line = demo.line_named(name)
        assert line is not None
        assert line.key == "crosslay_1"
    assert demo.line_named("attic line") is None
