"""Among people, what may be a report and can't be read is asked about; talk of the house stays unanswered."""

from __future__ import annotations

from itertools import product

import pytest

from grammar.reader import read
from tests.grammar.corpus.loader import contexts

GROUP = contexts()["group"]
REPORTS = (
    "primary complete",
    "primary squared away",
    "secondary came up empty",
    "fire's knocked",
    "under control",
    "water on the fire",
    "roof's open",
    "loss stopped",
    "rit in place",
    "two out in place",
    "utilities secured",
    "all clear",
    "engine 9 popped out",
    "engine 9 out",
    "ladder 3 going in",
    "everybody out",
    "low air",
    "mayday",
)
ODD = (
    "{} fellas",
    "{} over here guys",
    "yo {} big time",
    "{} by the shed I reckon",
    "{} as of this minute cap",
    "okey dokey {}",
    "{} fwiw",
    "prety sure {}",
    "{} wooo",
    "whelp {} then",
)


@pytest.mark.parametrize("report", REPORTS)
def test_what_may_be_a_report_is_never_passed_over(report: str) -> None:
    assert [way for way in ODD if read(way.format(report), GROUP).ignored] == []


@pytest.mark.parametrize(
    "chatter",
    ["lunch is under control", "my primary concern is lunch", "the game is out of control", "lol", "copy that"],
)
def test_talk_of_the_house_stays_unanswered(chatter: str) -> None:
    assert read(chatter, GROUP).ignored


def test_what_is_denied_hoped_or_asked_among_people_logs_nothing() -> None:
    ways = ("is {} fellas", "{} not yet fellas", "hopefully {} fellas", "waiting on {} fellas")
    for way, report in product(ways, REPORTS[:11]):
        assert not read(way.format(report), GROUP).commands or read(way.format(report), GROUP).intent == "status"
