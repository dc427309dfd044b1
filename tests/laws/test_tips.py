"""Law: a flow that a tip gives at no pressure that it is worked at is asked about, however both are said."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from bot.api import Crosslay
from bot.settings import Settings

FULL = os.environ.get("CROSSLAY_LAWS") == "full"
TIPS = {"7/8": 0.875, "15/16": 0.9375, "1 inch": 1.0, "1 1/8": 1.125, "inch and an eighth": 1.125,
        "inch and a quarter": 1.25, "1 3/8": 1.375, "inch and a half": 1.5, "2 inch": 2.0}  # fmt: skip
FLOWS = (60, 95, 125, 150, 185, 210, 250, 265, 300, 330, 500, 600, 800, 1000, 1500)
ALONE = (
    "{flow} gpm through a {tip} tip",
    "{tip} tip at {flow}",
    "{tip} tip at {flow} gpm",
    "{tip} tip flowing {flow} gpm",
)
LAID = ("200 feet of 2.5 with a {tip} tip flowing {flow}", "crosslay 1 with a {tip} tip at {flow} gpm")
HAND, MASTER = 50.0, 80.0
"""psi at the tip by hand and in a master stream (IFSTA); a tip above 1¼ in is a master stream's (common practice)."""


def said() -> Iterator[tuple[str, bool]]:
    """Each sentence, and whether its tip gives that flow at 0.6 to 1.5 times its pressure (Q = 29.7 · d² · √NP)."""
    for way in (*ALONE, *LAID):
        for name, tip in TIPS.items():
            usual = HAND if tip <= 1.25 else MASTER
            for flow in FLOWS:
                if way.endswith("at {flow}") and flow <= 110:
                    continue  # a tip's pressure
                psi = (flow / (29.7 * tip**2)) ** 2
                yield way.format(tip=name, flow=flow), 0.6 * usual <= psi <= 1.5 * usual


def test_a_flow_that_contradicts_its_tip_is_asked() -> None:
    panel, wrong = Crosslay.of(Settings(timezone="UTC")), []
    for n, (words, fits) in enumerate(said()):
        if not FULL and n % 11:
            continue
        handled = panel.answer(words)
        asked = handled.question is not None and "Which is it?" in handled.question.text
        right = handled.status == "answered" if fits else asked
        if not right and handled.refused is None:  # above what its hose takes
            wrong.append((words, fits, handled.reply))
    assert wrong == []


@pytest.mark.parametrize(("words", "gpm"), [("15/16 tip", 185), ("inch and an eighth tip", 266), ("22 mm tip", 158)])
def test_a_tip_alone_is_asked_what_it_flows(words: str, gpm: int) -> None:
    """29.7 · d² · √50, d = 22 / 25.4 for millimetres."""
    assert round(Crosslay.of(Settings(timezone="UTC")).answer(words).answer["flow_gpm"]) == gpm
