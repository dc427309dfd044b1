"""Reads "join 4 8 2 1 3 7": the one-time code that brings another company's room into the incident."""

from __future__ import annotations

import re

from grammar.commands import Context, Join, Reading

_DIGITS = {
    "zero": "0", "oh": "0", "o": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6",
    "seven": "7", "eight": "8", "nine": "9", "niner": "9",
}  # fmt: skip
_DIGIT = rf"(?:\d|\b(?:{'|'.join(_DIGITS)})\b)"
_SAID = re.compile(
    r"\s*(?:join|joining)(?: the incident| in)?(?: with| using| by)?(?: the)?(?: code)?[\s:#]+"
    rf"(?P<code>{_DIGIT}(?:[\s,.-]*{_DIGIT}){{3,7}})\s*[.!]?\s*",
    re.IGNORECASE,
)


def code_said(text: str) -> str | None:
    """The digits of a said or typed code of 4 to 8 digits; None where the words aren't just that."""
    found = _SAID.fullmatch(text)
    if found is None:
        return None
    digits = re.findall(_DIGIT, found["code"], re.IGNORECASE)
    return "".join(_DIGITS.get(digit.lower(), digit) for digit in digits)


def read_join_code(text: str, context: Context) -> Reading | None:
    """ "join 4 8 2 1 3 7"."""
    code = code_said(text)
    return None if code is None else Reading(text, (Join(code=code),), 0.97, intent=Join.intent)
