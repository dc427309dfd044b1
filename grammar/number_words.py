"""Says numbers in words."""

from __future__ import annotations

from grammar.numbers import ONES, TEENS, TENS, Form

_ONES = ["zero", *ONES]
_TEENS = list(TEENS)
_TENS = list(TENS)
_EIGHTHS = {1: "one eighth", 3: "three eighths", 5: "five eighths", 7: "seven eighths"}


def _below_hundred(value: int) -> str:
    if value < 10:
        return _ONES[value]
    if value < 20:
        return _TEENS[value - 10]
    return _TENS[value // 10 - 2] + (f" {_ONES[value % 10]}" if value % 10 else "")


def _thousands(value: int, form: Form) -> str:
    """99,999 at most; "hundreds": the short form of the pump panel ("two fifty", "two oh five", "twelve fifty")."""
    if value < 100:
        return _below_hundred(value)
    hundreds, rest = divmod(value, 100)
    if rest == 0 and (value < 1000 or (value < 10_000 and hundreds % 10)):
        return f"{_below_hundred(hundreds)} hundred"
    if form == "hundreds" and (value < 2000 and hundreds % 10):
        return f"{_below_hundred(hundreds)} {'oh ' if rest < 10 else ''}{_below_hundred(rest)}"
    thousands, below = divmod(value, 1000)
    if thousands == 0:
        return f"{_ONES[hundreds]} hundred {_below_hundred(rest)}"
    return f"{_below_hundred(thousands)} thousand" + (f" {_thousands(below, 'int')}" if below else "")


def say(value: float, form: Form = "int") -> str:
    """A number in words: a whole one up to 99,999, else in eighths, sixteenths or decimals.

    `form` "hundreds" gives the short way ("one fifty"), "digits" one digit at a time, "decimal" with "point".
    """
    if value < 0:
        return f"minus {say(-value, form)}"
    whole = int(value)
    if value == whole:
        if form == "digits":
            return " ".join(_ONES[int(d)] for d in str(whole))
        return _thousands(whole, form)
    if form == "decimal" or (value * 16) % 1:
        digits = f"{value:.4f}".split(".")[1].rstrip("0")
        return f"{_thousands(whole, 'int')} point {' '.join(_ONES[int(d)] for d in digits)}"
    part = _part(value - whole)
    return part if whole == 0 else f"{_below_hundred(whole)} and {'a half' if part == 'half' else part}"


def _part(part: float) -> str:
    if part * 4 % 1 == 0:
        return {1: "one quarter", 2: "half", 3: "three quarter"}[int(part * 4)]
    if part * 8 % 1 == 0:
        return _EIGHTHS[int(part * 8)]
    return f"{_below_hundred(int(part * 16))} sixteenths" if part * 16 > 1 else "one sixteenth"
