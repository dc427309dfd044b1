"""To what something is set is the number that was said."""

from __future__ import annotations

import pytest

from grammar.reader import read
from tests.grammar.corpus.loader import contexts


@pytest.mark.parametrize("verb", ["set", "change"])
@pytest.mark.parametrize(
    ("said", "minutes"), [("ten", 10), ("fifteen", 15), ("twenty", 20), ("20", 20), ("twenty five", 25), ("thirty", 30)]
)
def test_to_what_an_interval_is_set_is_no_two_hundred_more(verb: str, said: str, minutes: int) -> None:
    reading = read(f"{verb} the par interval to {said} minutes", contexts()["officer"])
    assert [getattr(command, "minutes", None) for command in reading.commands] == [minutes]
