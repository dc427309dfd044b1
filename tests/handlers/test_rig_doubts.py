"""Values of a rig file that can hardly be meant: told with line and key; what lies near the book's is left alone."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handlers.errors import RigFileError
from handlers.rigfile.doubts import doubts
from handlers.rigfile.parse import parse_rig
from tests.handlers.test_rig import BOOK, DEMO, RIGS, SMALL

WIDE = ("tank.capacity_gal", "rural.")
"""Rigs really differ so much in these: a tender's tank, what tenders carry."""


def numbers(values: dict[str, Any], path: str = "") -> Iterator[tuple[str, float]]:
    """Every plain number of the book, by its path."""
    for key, value in values.items():
        if isinstance(value, dict):
            yield from numbers(value, f"{path}{key}.") if key != "source" else ()
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield f"{path}{key}", value


BOOK_NUMBERS = [(path, value) for path, value in numbers(tomllib.loads(BOOK)) if value]


def with_value(path: str, value: object) -> str:
    """A small rig file with one value of its own, on line 4."""
    table, _, key = path.rpartition(".")
    return f"{SMALL}[{table}]\n{key} = {value}\n"


def told(text: str) -> list[str]:
    return [doubt.message for doubt in doubts(parse_rig(text, BOOK), text, BOOK)]


def read(text: str) -> tuple[list[str], str]:
    """What is doubtful in a text, or why it is refused."""
    try:
        return told(text), ""
    except RigFileError as refused:
        return [], refused.message


@pytest.mark.parametrize("factor", [0.001, 0.01, 0.9, 1.0, 1.08, 100, 1000, 100_000])
def test_every_value_of_the_book_times_a_factor(factor: float) -> None:
    """Law: a slip of two places or more is told with its line and key or refused; a small difference isn't."""
    far = not 0.1 < factor < 10
    checked = 0
    for path, value in BOOK_NUMBERS:
        if path.startswith(WIDE) and factor not in (0.001, 1000, 100_000) and far:
            continue
        number = value * factor if not isinstance(value, int) or value * factor % 1 else round(value * factor)
        text = with_value(path, number)
        said, refused = read(text)
        if refused:
            assert path.rpartition(".")[0] in refused, path
            continue
        checked += 1
        assert [one.startswith(f"line 4, {path}: ") for one in said] == [True] * far, (path, value, said)
    assert checked > 60


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("hose.1_75.coefficient", 0.155, "line 4, hose.1_75.coefficient: 0.155 is far from the book's 15.5: check it."),
        ("hydraulics.elevation_psi_per_ft", 4.34,
         "line 4, hydraulics.elevation_psi_per_ft: 4.34 is far from the book's 0.434: check it."),
        ("tank.capacity_gal", 50_000_000,
         "line 4, tank.capacity_gal: 50,000,000 is far from the book's 500: check it."),
        (
            "air.cylinders",
            "[{ pressure_psi = 4500, rated_min = 45, air_l = 1800, alarm_psi = 4600 }]",
            "line 4, air.cylinders: the low-air alarm of a cylinder can't be at or above its full pressure.",
        ),
        ("nozzle.own.flow_gpm", '1.5\nkind = "fog"\npressure_psi = 100',
         "line 4, nozzle.own.flow_gpm: 1.5 can hardly be: usual is 3 to 3,000."),
        ("tank.capacity_l", 19, "line 4, tank.capacity_l: 19 is far from the book's 1,892.706: check it."),
        ("line.front.length_ft", '20_000\nname = "front"\nhose = "1_75"',
         "line 4, line.front.length_ft: 20,000 can hardly be: usual is 10 to 5,000."),
        ("line.front.length_m", '2\nname = "front"\nhose = "1_75"',
         "line 4, line.front.length_m: 2 can hardly be: usual is 3.048 to 1,524."),
        ("line.front.pieces", '[{ hose = "1_75", length_ft = 20_000 }]\nname = "front"',
         "line 4, line.front.pieces: 20,000 can hardly be: usual is 10 to 5,000."),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_line_and_key(path: str, value: object, message: str) -> None:
    assert told(with_value(path, value)) == [message]


@pytest.mark.parametrize(
    ("diameter_in", "coefficient", "doubted"),
    [(1.88, 11, False), (1.88, 110, True), (1.88, 1.1, True), (2.25, 4, False), (2.25, 0.04, True), (7.0, 0.03, False)],
)
def test_a_hose_that_the_book_lacks_is_judged_by_its_diameter(
    diameter_in: float, coefficient: float, doubted: bool
) -> None:
    text = f'{SMALL}[hose.own]\ndiameter_in = {diameter_in}\ncoefficient = {coefficient}\nkind = "attack"\n'
    assert bool(told(text)) == doubted


def test_our_own_rigs_hold_nothing_doubtful() -> None:
    metric = (RIGS / "example_metric.toml").read_text(encoding="utf-8")
    assert [told(DEMO), told(metric), told(SMALL)] == [[], [], []]


@pytest.mark.parametrize("value", ["1e308", "-1e308", "1e-300", "inf", "nan", "1" + "0" * 400, "1e400"])
@pytest.mark.parametrize("path", ["nozzle.own.tip_in", "tank.capacity_gal", "hydraulics.tips_in", "hose.2.coefficient"])
def test_a_number_that_nothing_can_be_worked_out_with_is_refused(path: str, value: str) -> None:
    with pytest.raises(RigFileError, match=path.rpartition(".")[0]):
        parse_rig(with_value(path, f"[{value}]" if path.endswith("tips_in") else value), BOOK)


@pytest.mark.parametrize("deep", ["[" * 3000 + "]" * 3000, "{ a = " * 3000 + "1" + " }" * 3000, "[" * 50 + "]" * 50])
def test_lists_that_lie_deep_in_each_other_are_refused(deep: str) -> None:
    with pytest.raises(RigFileError):
        parse_rig(with_value("tank.capacity_gal", deep), BOOK)


VALUES = st.recursive(
    st.one_of(st.integers(), st.floats(), st.booleans(), st.text(max_size=8)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from("abc"), inner, max_size=2)),
    max_leaves=6,
)


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(sign):08x}" for sign in value if not 0xD800 <= ord(sign) <= 0xDFFF) + '"'
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(part)}" for key, part in value.items()) + " }"
    return repr(value)


@given(
    st.sampled_from([path for path, _ in BOOK_NUMBERS] + ["air.cylinders", "pump.points", "name", "rooms.a"]), VALUES
)
def test_any_value_in_any_place_is_read_or_refused_in_one_sentence(path: str, value: object) -> None:
    text = with_value(path, toml(value)) if "." in path else f"{SMALL}{path} = {toml(value)}\n"
    said, refused = read(text)
    assert not any("\n" in sentence for sentence in (*said, refused))
