"""Numbers: whatever is said in words is read back as the same number, in every form."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.commands import PumpPressure
from grammar.numbers import Form, numbers_at
from grammar.reader import read
from grammar.spoken import say
from grammar.text import tokens
from tests.grammar.corpus.loader import contexts

PLAIN = contexts()["plain"]


def readings(words: str) -> list[tuple[float, Form]]:
    """The numbers that the whole of some words can be."""
    said = [t.text for t in tokens(words)]
    return [(n.value, n.form) for n in numbers_at(said, 0) if n.end == len(said)]


def values(words: str) -> set[float]:
    return {value for value, _ in readings(words)}


@given(st.integers(0, 99_999))
def test_a_whole_number_said_in_full(number: int) -> None:
    assert number in values(say(number))


@given(st.integers(101, 1999).filter(lambda n: n % 100 and n // 100 % 10))
def test_a_number_said_the_short_way_of_the_panel(number: int) -> None:
    assert number in values(say(number, "hundreds"))


@given(st.integers(10, 9999))
def test_a_number_said_digit_by_digit(number: int) -> None:
    assert number in values(say(number, "digits"))


@given(st.integers(0, 9), st.integers(1, 15))
def test_inches_with_sixteenths(whole: int, sixteenths: int) -> None:
    size = whole + sixteenths / 16
    assert size in values(say(size))


@given(st.integers(0, 500), st.integers(1, 99))
def test_a_decimal_said_with_point(whole: int, hundredths: int) -> None:
    number = round(whole + hundredths / 100, 2)
    assert any(value == pytest.approx(number) for value in values(say(number, "decimal")))


@given(st.integers(1, 99_999))
def test_minus_is_never_lost(number: int) -> None:
    assert values(f"minus {say(number)}") == {-v for v in values(say(number))}


@given(st.integers(0, 99_999), st.integers(0, 999))
def test_digits_typed_with_a_thousands_comma_and_decimals(whole: int, thousandths: int) -> None:
    wanted = pytest.approx(whole + thousandths / 1000)
    assert any(value == wanted for value in values(f"{whole:,}.{thousandths:03}"))


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("1 3/4", 1.75), ("1¾", 1.75), ("1-3/4", 1.75), ("one and three quarter", 1.75),
        ("one and three quarters", 1.75),
        ("two and a half", 2.5), ("2 1/2", 2.5), ("2½", 2.5), ("fifteen sixteenths", 0.9375), ("15/16", 0.9375),
        ("one fifty", 150), ("two oh five", 205), ("two hundred and fifty", 250), ("twelve fifty", 1250),
        ("a hundred", 100),
        ("one point seven five", 1.75), ("three quarters", 0.75),
    ],
)  # fmt: skip
def test_ways_of_the_trade(words: str, number: float) -> None:
    assert number in values(words)


@given(
    length=st.sampled_from(range(50, 1050, 50)),
    size=st.sampled_from((1.5, 1.75, 2.5)),
    floor=st.integers(2, 9),
    words=st.booleans(),
)
def test_a_lay_in_figures_and_in_words_is_the_same(length: int, size: float, floor: int, words: bool) -> None:
    inches = {1.5: "inch and a half", 1.75: "inch and three quarter", 2.5: "two and a half"}[size]
    ordinal = ["second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth"][floor - 2]
    said = f"{say(length)} feet of {inches}, {ordinal} floor" if words else f"{length}' of {size}\", floor {floor}"
    command = read(said, PLAIN).commands[0]
    assert isinstance(command, PumpPressure)
    line = command.lays[0].lines[0]
    assert (line.hose[0].length_ft, line.hose[0].hose_in, line.floor) == (length, size, floor)


@pytest.mark.parametrize(
    "said", ["floor five hundred feet of inch and three quarter", "fl five hundred feet five inch"]
)
def test_a_floor_that_is_the_start_of_a_longer_number_is_asked(said: str) -> None:
    reading = read(said, contexts()["plain"])
    assert not reading.commands
    assert reading.question


@pytest.mark.parametrize("couple", ["couple", "a couple", "couple of", "a couple of"])
@pytest.mark.parametrize(
    "rest", ["hundred feet of {}, inch tip", "hundred feet of {}, second floor", "hundred foot of {}"]
)
def test_a_couple_of_hundred_is_one_number(couple: str, rest: str) -> None:
    for size in ("inch and three quarter", "two and a half"):
        command = read(f"{couple} {rest.format(size)}", PLAIN).commands[0]
        assert isinstance(command, PumpPressure)
        line = command.lays[0].lines[0]
        assert (line.count, line.hose[0].length_ft) == (1, 200)
